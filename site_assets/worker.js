// Keeps one guide for use without signal. The build writes `const PACK = {file, hash};` above: the
// pack holds every page and file of the guide and is named by its content, so that a change in any
// of them makes this script another one, which is what browsers look for.
//
// The pack is kept as the one file that it came as and is taken apart in memory: storing it is one
// write, whole or not at all, and takes a tenth of the room that single pages would.
"use strict";
const HOME = new URL("./", self.location).href;
const ROOT = new URL(HOME).pathname;
const MINE = `lockerleaf ${HOME} `;
const CACHE = MINE + PACK.hash;
const PICTURES = MINE + "pictures";

// How long a page may take from the network before the kept one is shown, in milliseconds. The
// network comes first, so that whoever has any signal reads the newest safety messages; a signal
// that carries nothing costs this wait once, and for the next minute much less.
const PATIENCE = 3000;
const SHORT_PATIENCE = 600;
const SPELL = 60000;
let slowUntil = 0;

const TYPES = {
  html: "text/html",
  js: "text/javascript",
  svg: "image/svg+xml",
  css: "text/css",
  json: "application/json",
  ics: "text/calendar",
};

const hex = (buffer) => [...new Uint8Array(buffer)].map((byte) => byte.toString(16).padStart(2, "0")).join("");

// The pack as bytes, fetched unless it is here; what is not whole is refused.
const obtain = async () => {
  const cache = await caches.open(CACHE);
  const here = await cache.match(PACK.file);
  if (here) return here.arrayBuffer();
  const answer = await fetch(HOME + PACK.file);
  if (!answer.ok) throw new Error(`the pack answers ${answer.status}`);
  const bytes = await answer.arrayBuffer();
  if (hex(await crypto.subtle.digest("SHA-256", bytes)) !== PACK.hash) throw new Error("the pack is not whole");
  await cache.put(PACK.file, new Response(bytes));
  return bytes;
};

// Taken apart: {parts, lines, files, pictures}. A file or part is told as runs of lines: where one
// begins, how many lines it has, where the next begins. Of a run that has no lines, the first number
// tells a part, which stands there.
let opened;
const pack = () => {
  opened ??= (async () => {
    const stream = new Blob([await obtain()]).stream().pipeThrough(new DecompressionStream("gzip"));
    const text = await new Response(stream).text();
    const first = text.indexOf("\n");
    const last = text.lastIndexOf("\n");
    const lines = text.slice(first + 1, last).split("\n");
    return { ...JSON.parse(text.slice(last + 1)), parts: JSON.parse(text.slice(0, first)), lines };
  })();
  opened.catch(() => (opened = undefined));
  return opened;
};

const linesOf = ({ files, parts, lines }, path) => {
  const found = [];
  const add = (runs) => {
    for (let at = 0; at < runs.length; at += 2)
      if (runs[at + 1]) found.push(...lines.slice(runs[at], runs[at] + runs[at + 1]));
      else add(parts[runs[at]]);
  };
  add(files[path]);
  return found;
};

const kept = async (path) => {
  const all = await pack();
  if (!Object.hasOwn(all.files, path)) return null;
  const text = linesOf(all, path).join("\n");
  const type = TYPES[path.split(".").pop()] || "text/plain";
  return new Response(text, { headers: { "Content-Type": `${type}; charset=utf-8` } });
};

self.addEventListener("install", (event) => {
  event.waitUntil(pack().then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const take = async () => {
    for (const name of await caches.keys())
      if (name.startsWith(MINE) && name !== CACHE && name !== PICTURES) await caches.delete(name);
    await self.clients.claim();
    const readers = await self.clients.matchAll({ includeUncontrolled: true });
    for (const reader of readers) if (reader.url.startsWith(HOME)) await tell(reader, true);
  };
  event.waitUntil(take());
});

// The digests of what is to be read with care, by page: each page has its own on a line of its own.
const guards = async () => {
  const all = await pack();
  const found = {};
  for (const path of Object.keys(all.files)) {
    const guard = path.endsWith(".html") && linesOf(all, path).find((line) => line.startsWith("data-guard="));
    if (guard && guard.length > 13) found[path] = guard.slice(12, -1);
  }
  return found;
};

// Tell a page that the guide is kept, and those digests.
const tell = async (reader, fresh) => reader.postMessage({ fresh, guards: await guards() });

// A page asks on every visit; then pictures that are not here yet are fetched too, a few at a time.
self.addEventListener("message", (event) => {
  const answer = async () => {
    await tell(event.source, false);
    const { pictures } = await pack();
    const cache = await caches.open(PICTURES);
    for (const request of await cache.keys())
      if (!pictures.includes(request.url.slice(HOME.length))) await cache.delete(request);
    const missing = [];
    for (const path of pictures) if (!(await cache.match(HOME + path))) missing.push(HOME + path);
    const next = async () => {
      for (let url; (url = missing.pop()); ) await cache.add(url);
    };
    await Promise.all([next(), next(), next(), next()]);
  };
  // Without signal, what is missing stays missing until the next visit.
  event.waitUntil(answer().catch(() => {}));
});

const fits = (answer) => answer && (answer.ok || answer.type === "opaqueredirect");

const open = async (request, path) => {
  const patience = Date.now() < slowUntil ? SHORT_PATIENCE : PATIENCE;
  const late = Symbol("late");
  // The browser's own store is asked for nothing that it has not checked with the server.
  const network = fetch(request.url, { cache: "no-cache", redirect: "manual" }).catch(() => null);
  const first = await Promise.race([network, new Promise((done) => setTimeout(done, patience, late))]);
  slowUntil = first === late ? Date.now() + SPELL : 0;
  if (first !== late && fits(first)) return first;
  const { files } = await pack().catch(() => ({ files: {} }));
  const stored = await kept(path).catch(() => null);
  if (stored) return stored;
  // A code typed without the last stroke: pages link from where they stand, so it must be there.
  if (Object.hasOwn(files, `${path}/index.html`)) return Response.redirect(`${HOME}${path}/`);
  const answer = await network;
  if (answer) return answer;
  return path !== "index.html" && files["index.html"] ? Response.redirect(HOME) : Response.error();
};

const bring = async (request, path) =>
  (await kept(path).catch(() => null)) || (await caches.match(request, { cacheName: PICTURES })) || fetch(request);

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin || !url.pathname.startsWith(ROOT)) return;
  let path = decodeURIComponent(url.pathname.slice(ROOT.length));
  if (path === "" || path.endsWith("/")) path += "index.html";
  if (request.mode === "navigate") event.respondWith(open(request, path));
  // These are named by their content; what is kept is what was asked for.
  else if (/^(assets|pictures)\//.test(path)) event.respondWith(bring(request, path));
});
