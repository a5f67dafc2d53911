// One step at a time: the same list with one step shown, and two buttons that a wet thumb finds. It
// hides other steps and what comes after them, never the cautions, which stay above; a step's own
// cautions come with it.
(() => {
  "use strict";
  const work = document.querySelector(".task section.work");
  const list = work && work.querySelector(".steps > ol");
  const items = list ? [...list.children] : [];
  if (items.length < 2) return;
  const main = document.querySelector("main");
  const words = document.body.dataset;
  const voice = window.speechSynthesis;
  let now = -1;
  let lock = null;

  const button = (label, name, act) => {
    const made = document.createElement("button");
    made.type = "button";
    made.className = name;
    made.textContent = label;
    made.addEventListener("click", act);
    return made;
  };
  const made = (tag, name, ...children) => {
    const element = document.createElement(tag);
    element.className = name;
    element.append(...children);
    return element;
  };

  // The screen stays on while the view is open; a phone that cannot do it dims as always.
  const stayAwake = async () => {
    try {
      lock = await navigator.wakeLock.request("screen");
      if (now < 0) lock.release();
    } catch {
      lock = null;
    }
  };
  document.addEventListener("visibilitychange", () => {
    if (now >= 0 && document.visibilityState === "visible") stayAwake();
  });

  const hush = () => {
    if (voice) voice.cancel();
    read.textContent = words.oneRead;
  };
  const speak = () => {
    if (voice.speaking) return hush();
    for (const part of items[now].querySelectorAll("p")) {
      const copy = part.cloneNode(true);
      copy.querySelectorAll("svg, button").forEach((mark) => mark.remove());
      const spoken = new SpeechSynthesisUtterance(copy.textContent.replace("✓", ""));
      spoken.lang = (part.querySelector("[lang]") || part.closest("[lang]")).lang;
      if (part.parentNode.lastElementChild === part) spoken.onend = hush;
      voice.speak(spoken);
    }
    read.textContent = words.oneHush;
  };

  const show = (index) => {
    hush();
    now = index;
    items.forEach((item, at) => item.classList.toggle("now", at === index));
    // Hidden steps do not count, so the one shown is told its number.
    list.style.counterReset = `step ${index}`;
    told.textContent = words.oneProgress.replace("{number}", index + 1).replace("{count}", items.length);
    back.disabled = index === 0;
    next.textContent = index === items.length - 1 ? words.oneLast : words.oneNext;
    work.scrollIntoView();
  };
  const enter = () => {
    work.classList.add("one");
    main.classList.add("stepping");
    list.setAttribute("aria-live", "polite");
    start.hidden = true;
    top.hidden = bar.hidden = false;
    show(Math.max(0, items.findIndex((item) => !item.classList.contains("done"))));
    next.focus({ preventScroll: true });
    stayAwake();
  };
  const leave = (to) => {
    hush();
    now = -1;
    if (lock) lock.release();
    work.classList.remove("one");
    main.classList.remove("stepping");
    list.removeAttribute("aria-live");
    list.style.counterReset = "";
    start.hidden = false;
    top.hidden = bar.hidden = true;
    to.focus();
    to.scrollIntoView({ block: "nearest" });
  };
  const go = (by) => {
    // Going on says that the step is done; going back leaves its tick.
    if (by > 0 && !items[now].classList.contains("done")) items[now].querySelector(".tick")?.click();
    if (now + by >= items.length) {
      const after = work.nextElementSibling?.querySelector("h2") || work.querySelector("h2");
      after.tabIndex = -1;
      leave(after);
    } else if (now + by >= 0) show(now + by);
  };

  const start = button(words.oneStart, "start", enter);
  const told = made("p", "progress");
  told.setAttribute("role", "status");
  const read = button(words.oneRead, "", speak);
  const top = made("div", "walk", told, button(words.oneAll, "", () => leave(start)));
  if (voice) top.append(read);
  const cautions = document.querySelector("#cautions");
  if (cautions) {
    const link = made("a", "", cautions.textContent);
    link.href = "#cautions";
    top.append(link);
  }
  const back = button(words.oneBack, "back", () => go(-1));
  const next = button(words.oneNext, "next", () => go(1));
  const bar = made("div", "bar", back, next);
  top.hidden = bar.hidden = true;
  work.querySelector("h2").after(start, top);
  work.append(bar);
  document.addEventListener("keydown", (event) => {
    if (now < 0 || event.altKey || event.ctrlKey || event.metaKey) return;
    if (event.key === "Escape") leave(start);
    else if (!work.contains(document.activeElement)) return;
    else if (event.key === "ArrowRight") go(1);
    else if (event.key === "ArrowLeft") go(-1);
    else return;
    event.preventDefault();
  });
})();
