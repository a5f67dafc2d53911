// Has the guide kept on the phone, says so, and tells of a page that changed since the reader had
// it: what someone knows by heart is the most dangerous thing to change quietly.
(() => {
  "use strict";
  const main = document.querySelector("main");
  const start = document.querySelector("a.home");
  if (!main || !start) return;
  const words = document.body.dataset;
  // Pages of a further language stand in a folder of their own below the guide's home.
  const home = new URL(document.body.dataset.up || ".", start.href);
  const here = location.pathname.slice(home.pathname.length);
  const path = decodeURIComponent(here) + (here === "" || here.endsWith("/") ? "index.html" : "");
  const own = words.guard || "";

  // What this reader has been given of each page: {path: [digest, day]}.
  const key = "guards:" + home.pathname;
  const today = new Date().toISOString().slice(0, 10);
  let had;
  try {
    had = JSON.parse(localStorage.getItem(key)) || {};
  } catch {
    had = {};
  }
  const keep = () => {
    try {
      localStorage.setItem(key, JSON.stringify(had));
    } catch {
      // A browser that keeps nothing has nothing to compare.
    }
  };

  const notice = (text, label, act) => {
    const box = document.createElement("div");
    box.className = "changed";
    box.setAttribute("role", "alert");
    const told = document.createElement("p");
    told.textContent = text;
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.addEventListener("click", () => act(box));
    box.append(told, button);
    main.querySelectorAll(":scope > .changed").forEach((other) => other.remove());
    main.prepend(box);
  };
  const outdated = () => notice(words.outdated, words.outdatedShow, () => location.reload());

  // Marks the cautions and steps that this reader has not had, and says whether there are any. Their
  // digests, of three letters, follow the dash of the page's own, in the order of the page.
  const pieces = (guard) => guard.split("-").slice(1).join("-").match(/.{3}/g) || [];
  const mark = (old) => {
    const parts = main.querySelectorAll(".mind, .do");
    const now = pieces(own);
    const known = pieces(old);
    if (now.length !== parts.length || !known.length) return false;
    let marked = false;
    parts.forEach((part, index) => {
      const at = known.indexOf(now[index]);
      if (at >= 0) return known.splice(at, 1);
      const tag = document.createElement("strong");
      tag.className = "new";
      tag.textContent = words.changedNew;
      part.classList.add("fresh");
      (part.querySelector(".word") || part).append(" ", tag);
      marked = true;
    });
    return marked;
  };

  if (own && had[path] && had[path][0] !== own) {
    const day = new Date(had[path][1]).toLocaleDateString(words.dates, {
      day: "numeric",
      month: "long",
      year: "numeric",
      timeZone: "UTC",
    });
    const told = words.changedSince.replace("{day}", day) + (mark(had[path][0]) ? " " + words.changedMarked : "");
    notice(told, words.changedOk, (box) => {
      had[path] = [own, today];
      keep();
      box.remove();
      const heading = main.querySelector("h1");
      heading.tabIndex = -1;
      heading.focus();
    });
  } else if (own && !had[path]) {
    had[path] = [own, today];
    keep();
  }

  const workers = navigator.serviceWorker;
  if (!workers || !words.worker) return;
  workers.addEventListener("message", ({ source, data: { fresh, guards } }) => {
    // The guide has just come: now its pictures may.
    if (fresh) source.postMessage("kept?");
    for (const page of Object.keys(had)) if (!(page in guards)) delete had[page];
    for (const page of Object.keys(guards)) had[page] ??= [guards[page], today];
    keep();
    const kept = document.querySelector(".kept");
    if (kept) kept.textContent = words.kept;
    // Only a version that has just come is newer than this page.
    if (fresh && own && guards[path] !== own) outdated();
  });
  const look = async () => {
    const worker = new URL(words.worker, home);
    const registration = await workers.register(worker, { updateViaCache: "none" });
    if (registration.active) registration.active.postMessage("kept?");
    await registration.update();
  };
  // Without signal, or where workers are refused, the guide is read as it is.
  const tryToLook = () => look().catch(() => {});
  if (document.readyState === "complete") tryToLook();
  else addEventListener("load", tryToLook);
  addEventListener("online", tryToLook);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") tryToLook();
  });
})();
