// Keeps the language that the reader chose. A sticker leads to the guide's first language; whoever
// reads another goes on to the same page in that one. Without this script it is a link.
(() => {
  "use strict";
  const others = [...document.querySelectorAll(".tongues a")];
  const start = document.querySelector("a.home");
  if (!others.length || !start) return;
  const home = new URL(document.body.dataset.up || ".", start.href);
  const key = "language:" + home.pathname;
  const mine = document.documentElement.lang;
  const keep = (lang) => {
    try {
      localStorage.setItem(key, lang);
    } catch {
      // A browser that keeps nothing begins with the first language each time.
    }
  };
  for (const link of others) link.addEventListener("click", () => keep(link.hreflang));
  let chosen = null;
  try {
    chosen = localStorage.getItem(key);
  } catch {
    chosen = null;
  }
  const path = decodeURIComponent(location.pathname.slice(home.pathname.length));
  const wanted = others.find((link) => link.hreflang === chosen);
  // Only from where a sticker or the guide's address leads: any other page was asked for itself.
  if (wanted && /^([0-9A-Z]{3}\/)?(index\.html)?$/.test(path)) location.replace(wanted.href + location.hash);
  else if (chosen !== mine && home.href !== new URL(".", start.href).href) keep(mine);
})();
