// Keep one whole release of the app on this device and answer for it without a network.
//
// Files lie under their SHA-256. A release is taken only when every file came and had
// the hash that is written here, else the one before it runs on; a fetch that was cut
// off goes on where it stopped. A newer release waits until the app is closed. Nothing
// is ever asked of another origin, and no file from the network is used once kept.
"use strict";

const RELEASE = "__RELEASE__";
const FILES = __FILES__;
const DRAWN_BY = __DRAWN_BY__;
const POLICY = __POLICY__;
const CACHE = "exam-files";
const AT_ONCE = 4;
// What the policy speaks to: the page and the workers that run Python.
const GOVERNED = new Set(["index.html", "worker.js", "snapshot.js"].map((path) => FILES[path]));
const TYPES = {
  html: "text/html; charset=utf-8",
  js: "text/javascript; charset=utf-8",
  mjs: "text/javascript; charset=utf-8",
  json: "application/json",
  txt: "text/plain; charset=utf-8",
  wasm: "application/wasm",
  png: "image/png",
  ttf: "font/ttf",
  otf: "font/otf",
  woff2: "font/woff2",
};

// The web client comes as a module and as a script. The module needs collected memory in
// WebAssembly and a browser that breaks lines and reads pictures for it; the app starts
// sooner with it, in less memory.
const COLLECTED = [0, 97, 115, 109, 1, 0, 0, 0, 1, 5, 1, 95, 1, 120, 0];
const RUNS_MODULE =
  WebAssembly.validate(new Uint8Array(COLLECTED)) &&
  "v8BreakIterator" in Intl &&
  "Segmenter" in Intl;
const DRAWS_BY = RUNS_MODULE ? "skwasm" : "canvaskit";
const NOT_NEEDED = new Set(DRAWN_BY[RUNS_MODULE ? "canvaskit" : "skwasm"]);

const keyOf = (hash) => `/kept/${encodeURIComponent(hash)}`;

// Of the host's headers nothing is kept: a wrong type would stop the app.
function asKept(path, answer) {
  const kind = TYPES[path.split(".").pop()] ?? "application/octet-stream";
  const headers = { "Content-Type": kind, "X-Content-Type-Options": "nosniff" };
  return new Response(answer.body, { headers });
}

async function fetchMissing() {
  const cache = await caches.open(CACHE);
  const kept = new Set((await cache.keys()).map((r) => new URL(r.url).pathname));
  const all = Object.entries(FILES).filter(([path]) => !NOT_NEEDED.has(path));
  const missing = all.filter(([, hash]) => !kept.has(keyOf(hash)));
  const channel = new BroadcastChannel("exam-release");
  let done = all.length - missing.length;
  const taken = [];
  const fetchNext = async () => {
    for (let next = missing.shift(); next; next = missing.shift()) {
      const [path, hash] = next;
      const request = new Request(`/${path}`, { cache: "no-store", integrity: hash });
      const answer = await fetch(request);
      if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
      taken.push(keyOf(hash));
      await cache.put(keyOf(hash), asKept(path, answer));
      done += 1;
      channel.postMessage({ done, all: all.length });
    }
  };
  const fetchAll = () => fetchNext().catch((error) => {
    missing.length = 0;
    throw error;
  });
  const ends = await Promise.allSettled(Array.from({ length: AT_ONCE }, fetchAll));
  channel.close();
  const failures = ends.filter((end) => end.reason).map((end) => end.reason);
  // The room that is left belongs to the exams; other failures go on where they stopped.
  if (failures.some((error) => error.name === "QuotaExceededError")) {
    await Promise.all(taken.map((key) => cache.delete(key)));
  }
  if (failures.length) throw failures[0];
}

async function dropOthers() {
  const cache = await caches.open(CACHE);
  const ours = new Set(Object.values(FILES).map(keyOf));
  for (const request of await cache.keys()) {
    if (!ours.has(new URL(request.url).pathname)) await cache.delete(request);
  }
}

function hashFor(request, path) {
  if (path in FILES) return FILES[path];
  if (request.mode === "navigate") return FILES["index.html"];
  // A sign that the first font lacks: one bundled font answers for all of them, else
  // the page would ask hundreds of times.
  if (path.startsWith("assets/fonts/noto")) return FILES["fonts/DejaVuSans.ttf"];
  return undefined;
}

// The browser may have dropped a file when room was short, or draws another way than it
// said it can.
async function fetchAgain(cache, path, hash) {
  const known = path in FILES ? path : "index.html";
  if (FILES[known] !== hash) return undefined;
  try {
    const request = new Request(`/${known}`, { cache: "no-store", integrity: hash });
    const answer = await fetch(request);
    if (!answer.ok) return undefined;
    await cache.put(keyOf(hash), asKept(known, answer));
    return await cache.match(keyOf(hash));
  } catch {
    return undefined;
  }
}

// Which release answers here, by what it draws, and whether a newer one is whole and waits
// for the app to be closed. A page cannot know these by itself.
function told() {
  const newer = Boolean(self.registration.waiting);
  const headers = { "Content-Type": TYPES.json, "Cache-Control": "no-store" };
  return new Response(JSON.stringify({ release: RELEASE, newer, drawsBy: DRAWS_BY }), { headers });
}

async function answer(request, path) {
  if (path === "release") return told();
  const hash = hashFor(request, path);
  if (!hash) return new Response("", { status: 404 });
  const cache = await caches.open(CACHE);
  const kept = (await cache.match(keyOf(hash))) ?? (await fetchAgain(cache, path, hash));
  if (!kept) {
    return new Response("A file of the app is missing on this device.", { status: 503 });
  }
  // As it was kept: only then does the browser keep what it has compiled of it too.
  if (!GOVERNED.has(hash)) return kept;
  const headers = new Headers(kept.headers);
  headers.set("Content-Security-Policy", POLICY);
  headers.set("Referrer-Policy", "no-referrer");
  return new Response(kept.body, { status: 200, headers });
}

self.addEventListener("install", (event) => event.waitUntil(fetchMissing()));

self.addEventListener("activate", (event) =>
  event.waitUntil(dropOthers().then(() => self.clients.claim())),
);

self.addEventListener("message", (event) => {
  if (event.data === "claim") event.waitUntil(self.clients.claim());
});

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (address.origin !== self.location.origin) {
    event.respondWith(new Response("", { status: 504 }));
  } else if (event.request.method !== "GET") {
    event.respondWith(new Response("", { status: 405 }));
  } else {
    event.respondWith(answer(event.request, decodeURIComponent(address.pathname).slice(1)));
  }
});
