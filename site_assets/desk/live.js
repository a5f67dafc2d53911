// Loads a guide's page again when what it is made from changes, and leads back to the desk. Served
// by the desk beside the guide; no guide that is published has it.
(() => {
  "use strict";
  const { unit, stamp } = document.currentScript.dataset;
  const wait = 1500;
  let asked = 0;

  const look = async () => {
    const mine = ++asked;
    if (!document.hidden) {
      try {
        const answer = await fetch(`/state?unit=${encodeURIComponent(unit)}`);
        if (answer.ok && (await answer.json()).stamp !== stamp) location.reload();
      } catch {
        // The desk is closed: what is shown stays.
      }
    }
    if (mine === asked) setTimeout(look, wait);
  };
  document.addEventListener("visibilitychange", look);
  setTimeout(look, wait);

  if (document.documentElement.querySelector("meta[name=desk-form]")) return;
  const back = document.createElement("a");
  back.href = "/";
  back.textContent = `Preview of ${unit}. Back to the desk`;
  // The guide's policy allows no style but its own; a script may set one on an element.
  Object.assign(back.style, {
    display: "flex", alignItems: "center", minHeight: "44px", padding: "0 .8rem",
    background: "#17211f", color: "#fff", font: "600 .85rem/1.2 system-ui, sans-serif",
  });
  const around = document.createElement("nav");
  around.setAttribute("aria-label", "Desk");
  around.append(back);
  document.body.prepend(around);
})();
