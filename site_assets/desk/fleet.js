// Keeps the fleet as it is now, and finds a unit in it.
(() => {
  "use strict";
  const fleet = document.getElementById("fleet");
  const seek = document.getElementById("seek");
  const said = document.getElementById("said");
  const wait = 1500;
  let asked = 0;
  let pause = wait;

  const sift = () => {
    const words = seek.value.toLowerCase().split(/\s+/).filter(Boolean);
    for (const unit of fleet.querySelectorAll(".unit")) {
      unit.hidden = !words.every((word) => unit.dataset.words.includes(word));
    }
  };
  const show = (html) => {
    const open = [...fleet.querySelectorAll("details")].map((one) => one.open);
    const focused = document.activeElement;
    const at = fleet.contains(focused) ? focused.getAttribute("href") : null;
    // More than one link may lead to a unit: the same of them is focused again.
    const same = () => [...fleet.querySelectorAll(`a[href="${CSS.escape(at)}"]`)];
    const which = at ? same().indexOf(focused) : 0;
    fleet.innerHTML = html;
    fleet.querySelectorAll("details").forEach((one, index) => { one.open = Boolean(open[index]); });
    if (at) (same()[which] ?? same()[0])?.focus({ preventScroll: true });
    sift();
  };
  const look = async () => {
    const mine = ++asked;
    if (!document.hidden) {
      try {
        const stamp = fleet.querySelector(".part").dataset.stamp;
        const state = await fetch("/state");
        if (!state.ok) throw new Error();
        if ((await state.json()).stamp !== stamp) {
          const begun = performance.now();
          const part = await fetch("/fleet");
          if (part.ok) show(await part.text());
          // A large fleet takes a while to be told; the desk shall have time for other things.
          pause = Math.max(wait, 4 * (performance.now() - begun));
        }
        said.textContent = "";
      } catch {
        said.textContent = "The desk does not answer any more. Run lockerleaf preview again.";
      }
    }
    if (mine === asked) setTimeout(look, pause);
  };
  seek.addEventListener("input", sift);
  document.addEventListener("visibilitychange", look);
  sift();
  setTimeout(look, wait);
})();
