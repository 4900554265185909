"use strict";
// Keeps one whole version of the site on this device, and answers from that version alone.
// A newer version is fetched beside it. It is kept only if every file of it has arrived as it was published,
// and it waits until a reader asks for it, or until no page of the older one is open any more.

const BUILD = "@@build@@";
const DATED = "@@content-date@@";
// Each file of this version and its SHA-256.
const FILES = {};

const HASHES = new Map(Object.entries(FILES));
// A site that was not finished: a browser that keeps an older version keeps it.
if (!HASHES.has("index.html") || !/^[0-9a-f]{12}$/.test(BUILD)) throw new Error("This site is not finished.");

const ROOT = new URL(self.registration.scope);
const FAMILY = `pages ${ROOT.pathname} `;
const STORE = FAMILY + BUILD;
const AT_ONCE = 4;

self.addEventListener("install", (event) => event.waitUntil(keepAll().then(replaceAnEqual)));
self.addEventListener("activate", (event) => event.waitUntil(takeOver()));

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  const [port] = event.ports;
  if (event.data === "which" && port) port.postMessage({ build: BUILD, dated: DATED });
  if (event.data === "keep all" && port) event.waitUntil(keepMissing().then((missing) => port.postMessage(missing)));
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== ROOT.origin) return;
  if (!url.pathname.startsWith(ROOT.pathname)) return;
  const path = plain(url.pathname.slice(ROOT.pathname.length));
  const file = fileFor(path);
  if (file) {
    event.respondWith(kept(file));
  } else if (event.request.mode === "navigate" && HASHES.has(`${path}/index.html`)) {
    // Links on that page are relative to its folder.
    event.respondWith(Response.redirect(`${url.origin}${url.pathname}/${url.search}`));
  } else if (event.request.mode === "navigate" && /(^|\/)([^./]*|[^/]*\.html)$/.test(path)) {
    // From the network it could only be a page of another version.
    event.respondWith(notHere());
  }
});

function plain(path) {
  try {
    return decodeURIComponent(path);
  } catch {
    return path;
  }
}

function address(file) {
  return new URL(file.split("/").map(encodeURIComponent).join("/"), ROOT).href;
}

function fileFor(path) {
  const whole = path === "" || path.endsWith("/") ? `${path}index.html` : path;
  return [whole, `${whole}.html`].find((file) => HASHES.has(file));
}

/** Fetches every file of this version, or fails and leaves nothing behind. */
async function keepAll() {
  // The store may belong to an older worker of the very same content: then it is not to be lost.
  const isNew = !(await caches.has(STORE));
  try {
    await keepEach([...HASHES.keys()]);
    if ((await missing()).length) throw new Error("The store was emptied meanwhile.");
  } catch (fault) {
    if (isNew) await caches.delete(STORE);
    throw fault;
  }
}

/** Fetches files, some at once; with the first that does not come, no further one is asked for. */
async function keepEach(files) {
  const waiting = [...files];
  const some = async () => {
    for (let file = waiting.pop(); file !== undefined; file = waiting.pop()) await keep(file);
  };
  const stop = (fault) => {
    waiting.length = 0;
    throw fault;
  };
  // One that still runs when another has failed would open the store again after it was thrown away.
  const ended = await Promise.allSettled(Array.from({ length: AT_ONCE }, () => some().catch(stop)));
  const fault = ended.find((one) => one.status === "rejected");
  if (fault) throw fault.reason;
}

/** The files of this version that are not in the store. */
async function missing() {
  const store = await caches.open(STORE);
  const there = new Set((await store.keys()).map((request) => request.url));
  return [...HASHES.keys()].filter((file) => !there.has(address(file)));
}

/** Fetches what the browser, or somebody else, has thrown away; says how many files are missing still. */
async function keepMissing() {
  await keepEach(await missing()).catch(() => {});
  return (await missing()).length;
}

/** Content that was taken back: what the pages show is this very version, so nothing changes under them. */
async function replaceAnEqual() {
  const active = self.registration.active;
  if (!active) return;
  const channel = new MessageChannel();
  const build = await new Promise((resolve) => {
    channel.port1.onmessage = (event) => resolve(event.data?.build);
    setTimeout(() => resolve(null), 2000);
    active.postMessage("which", [channel.port2]);
  });
  if (build === BUILD) self.skipWaiting();
}

async function keep(file) {
  const store = await caches.open(STORE);
  const response = (await unchanged(file)) || (await fetched(file));
  if (!response) throw new Error(`Not as it was published: ${file}`);
  await store.put(address(file), response);
}

/** What an older version has kept needs not be fetched again. */
async function unchanged(file) {
  const found = await caches.match(address(file), { ignoreVary: true });
  return found ? proven(file, found) : null;
}

async function fetched(file) {
  const response = await fetch(address(file), { cache: "no-store", credentials: "same-origin" });
  return response.ok ? proven(file, response) : null;
}

/** The response, if its bytes are those of this version. */
async function proven(file, response) {
  const bytes = await response.arrayBuffer();
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const hash = Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
  if (hash !== HASHES.get(file)) return null;
  return new Response(bytes, { headers: { "Content-Type": response.headers.get("Content-Type") || "" } });
}

async function takeOver() {
  const names = await caches.keys();
  const { installing, waiting } = self.registration;
  const others = names.filter((name) => name.startsWith(FAMILY) && name !== STORE);
  // A still newer version may be on its way into one of them.
  if (!installing && !waiting) await Promise.all(others.map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function kept(file) {
  const store = await caches.open(STORE);
  const found = await store.match(address(file), { ignoreVary: true });
  if (found) return found;
  // The browser has thrown the store away. If the file has changed since, this version cannot go on.
  const again = await fetched(file);
  if (!again) await self.registration.unregister();
  return again || Response.error();
}

/** Shown at any depth, so its links have to start from the root. */
async function notHere() {
  const html = await (await kept("404.html")).text();
  const rooted = html.replace(/<base href="[^"]*">/, () => `<base href="${ROOT.pathname}">`);
  return new Response(rooted, { status: 404, headers: { "Content-Type": "text/html; charset=utf-8" } });
}
