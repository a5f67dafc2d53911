// Keeps one guide for use without signal. The build writes `const PACK = {parts, revision};` above:
// two files, each with its name and digest, and the guide's revision. The first holds the pages that
// other vehicles have, too, the second all else. They are named by their content, so that a change
// in any page makes this script another one, which is what browsers look for.
//
// They are kept as they came and are taken apart in memory: storing them takes a tenth of the room
// that single pages would. One that did not change is not fetched again.
"use strict";
const HOME = new URL("./", self.location).href;
const ROOT = new URL(HOME).pathname;
const MINE = `lockerleaf ${HOME} `;
const CACHE = MINE + PACK.parts.map((part) => part.hash).join("+") + PACK.revision;
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

// A part as bytes, fetched unless it is here, also of an earlier version. What is not whole is
// refused; what is, is kept at once, so that a signal that breaks off costs no more than the rest.
const obtain = async ({ file, hash }) => {
  const whole = async (bytes) => hex(await crypto.subtle.digest("SHA-256", bytes)) === hash;
  const mine = (await caches.keys()).filter((name) => name.startsWith(MINE) && name !== PICTURES);
  const cache = await caches.open(CACHE);
  for (const name of new Set([CACHE, ...mine])) {
    const bytes = await (await (await caches.open(name)).match(file))?.arrayBuffer();
    if (!bytes || !(await whole(bytes))) continue;
    if (name !== CACHE) await cache.put(file, new Response(bytes));
    return bytes;
  }
  const answer = await fetch(HOME + file);
  if (!answer.ok) throw new Error(`the pack answers ${answer.status}`);
  const bytes = await answer.arrayBuffer();
  if (!(await whole(bytes))) throw new Error("the pack is not whole");
  await cache.put(file, new Response(bytes));
  return bytes;
};

// A part taken apart: its head, and what tells a text. A text is told as runs of lines: where one
// begins, how many lines it has, where the next begins.
const unpack = async (bytes) => {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  const text = await new Response(stream).text();
  const last = text.lastIndexOf("\n");
  const lines = text.slice(0, last).split("\n");
  const told = (runs) => {
    const found = [];
    for (let at = 0; at < runs.length; at += 2) found.push(...lines.slice(runs[at], runs[at] + runs[at + 1]));
    return found.join("\n");
  };
  return { ...JSON.parse(text.slice(last + 1)), told };
};

// {common, own}, both taken apart.
let opened;
const pack = () => {
  opened ??= (async () => {
    const [common, own] = await Promise.all(PACK.parts.map(async (part) => unpack(await obtain(part))));
    return { common, own };
  })();
  opened.catch(() => (opened = undefined));
  return opened;
};

// What a page brings into its frame, and the part that tells it.
const slotsOf = ({ common, own }, path) => {
  const page = own.pages[path];
  return Array.isArray(page) ? [page[1], own] : [common.pages[path], common];
};

const textOf = (all, path) => {
  const { own } = all;
  if (Object.hasOwn(own.files, path)) return own.told(own.files[path]);
  if (!Object.hasOwn(own.pages, path)) return null;
  const [slots, part] = slotsOf(all, path);
  const slot = (name) => {
    const value = name === "revision" ? PACK.revision : slots[name];
    return typeof value === "string" ? value : part.told(value);
  };
  const frame = own.frames[[own.pages[path]].flat()[0]];
  return frame.map((piece, at) => (at % 2 ? slot(piece) : own.told(piece))).join("");
};

const kept = async (path) => {
  const text = textOf(await pack(), path);
  if (text === null) return null;
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

// The digests of what is to be read with care, by page.
const guards = async () => {
  const all = await pack();
  const found = {};
  for (const path of Object.keys(all.own.pages)) {
    const { guard } = slotsOf(all, path)[0];
    if (guard) found[path] = guard;
  }
  return found;
};

// Tell a page that the guide is kept, and those digests.
const tell = async (reader, fresh) => reader.postMessage({ fresh, guards: await guards() });

// A page asks on every visit; then pictures that are not here yet are fetched too, a few at a time.
self.addEventListener("message", (event) => {
  const answer = async () => {
    await tell(event.source, false);
    const { pictures } = (await pack()).own;
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
  const pages = await pack().then(({ own }) => own.pages, () => ({}));
  const stored = await kept(path).catch(() => null);
  if (stored) return stored;
  // A code typed without the last stroke: pages link from where they stand, so it must be there.
  if (Object.hasOwn(pages, `${path}/index.html`)) return Response.redirect(`${HOME}${path}/`);
  const answer = await network;
  if (answer) return answer;
  return path !== "index.html" && "index.html" in pages ? Response.redirect(HOME) : Response.error();
};

const bring = async (request, path) => {
  const here = [() => kept(path), () => caches.match(request, { cacheName: PICTURES })];
  for (const look of here) {
    const found = await look().catch(() => null);
    if (found) return found;
  }
  return fetch(request);
};

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
