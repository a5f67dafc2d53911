// Remembers the pages that were read last, and lists them on the home page.
(() => {
  "use strict";
  const MOST = 5;
  const start = document.querySelector("a.home");
  const heading = document.querySelector("h1");
  if (!start || !heading) return;
  const home = new URL(".", start.href);
  const key = "recent:" + home.pathname;
  let pages;
  try {
    pages = JSON.parse(localStorage.getItem(key)) || [];
  } catch {
    pages = [];
  }
  const sort = document.body.className;
  if (["task", "symptom", "routine", "place", "kit", "number"].includes(sort)) {
    const title = heading.textContent.trim();
    const path = location.pathname.slice(home.pathname.length);
    pages = [[path, title], ...pages.filter((page) => page[1] !== title)].slice(0, MOST);
    try {
      localStorage.setItem(key, JSON.stringify(pages));
    } catch {
      // A browser that keeps nothing has no list.
    }
    return;
  }
  const before = document.querySelector("main > .two");
  if (sort !== "home" || !pages.length || !before) return;
  const section = document.createElement("section");
  section.className = "recent index";
  const title = document.createElement("h2");
  title.textContent = document.body.dataset.recent;
  const list = document.createElement("ul");
  for (const [path, name] of pages) {
    const link = document.createElement("a");
    link.href = new URL(path, home).href;
    link.textContent = name;
    const item = document.createElement("li");
    item.append(link);
    list.append(item);
  }
  section.append(title, list);
  before.after(section);
})();
