// Ticks: each step's numeral becomes a button, and what is ticked is kept for this unit until it
// is cleared. Everything can be read without this script.
(() => {
  "use strict";
  const main = document.querySelector("main");
  const steps = document.querySelectorAll(".steps > ol > li");
  if (!main || !steps.length) return;
  // Ticks belong to the steps as they were read: when one of them changes, they are gone.
  const mine = "ticks:" + location.pathname + ":";
  const key = mine + (document.body.dataset.guard || steps.length);
  const load = () => {
    try {
      return new Set(JSON.parse(localStorage.getItem(key) || "[]"));
    } catch {
      return new Set();
    }
  };
  const keep = (ticked) => {
    try {
      for (const old of Object.keys(localStorage)) if (old.startsWith(mine) && old !== key) localStorage.removeItem(old);
      if (ticked.size) localStorage.setItem(key, JSON.stringify([...ticked]));
      else localStorage.removeItem(key);
    } catch {
      // A browser that keeps nothing still ticks until the page is left.
    }
  };
  const ticked = load();
  const words = document.body.dataset;
  const show = (item, button, index) => {
    const done = ticked.has(index);
    item.classList.toggle("done", done);
    button.setAttribute("aria-pressed", String(done));
  };
  const all = [];
  steps.forEach((item, index) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "tick";
    button.setAttribute("aria-label", `${words.tick || "Done"}: ${index + 1}`);
    button.addEventListener("click", () => {
      if (!ticked.delete(index)) ticked.add(index);
      keep(ticked);
      show(item, button, index);
    });
    (item.querySelector(".do") || item).prepend(button);
    all.push([item, button, index]);
    show(item, button, index);
  });
  const clear = document.createElement("button");
  clear.type = "button";
  clear.className = "clear";
  clear.textContent = words.clear || "Clear all ticks";
  clear.addEventListener("click", () => {
    ticked.clear();
    keep(ticked);
    all.forEach((entry) => show(...entry));
  });
  steps[steps.length - 1].closest("section").append(clear);
})();
