// Has this site kept on the device, and tells the reader of newer content. Only over http: a folder is kept anyway.
// Stands alone: it is what mends a page that was given parts of another version.
(() => {
  "use strict";
  const own = document.currentScript.src;
  const mark = document.querySelector("meta[name=build]");
  if (!/^https?:/.test(location.protocol) || !mark) return;
  const build = mark.content;
  const root = new URL("..", own);
  const workers = navigator.serviceWorker;
  const MINUTE = 60 * 1000;
  const HOUR = 60 * MINUTE;

  // From a folder, browsers refuse this file with an error.
  const manifest = document.createElement("link");
  manifest.rel = "manifest";
  manifest.href = new URL("app.webmanifest", root).href;
  document.head.appendChild(manifest);
  if (!workers) return;

  /** What a worker answers, null if it says nothing; unless asked for more, its version: {build, dated}. */
  function ask(worker, what = "which", patience = 2000) {
    return new Promise((resolve) => {
      const channel = new MessageChannel();
      channel.port1.onmessage = (event) => resolve(event.data);
      setTimeout(() => resolve(null), patience);
      worker.postMessage(what, [channel.port2]);
    });
  }

  function loadOnce(version) {
    const key = `loaded for ${version}`;
    try {
      if (Date.now() - sessionStorage.getItem(key) < 10000) return;
      sessionStorage.setItem(key, Date.now());
    } catch {
      // Without a memory, only the versions can tell that it is done.
    }
    location.reload();
  }

  /** A page stays only with the worker of its own version; else it could be given parts of another. */
  async function stayWhole() {
    const worker = workers.controller;
    if (!worker) return;
    const version = await ask(worker);
    if (version && version.build !== build) loadOnce(version.build);
  }

  function tell(selector, ...parts) {
    document.querySelectorAll(selector).forEach((place) => place.replaceChildren(...parts));
  }

  function paragraph(words) {
    const element = document.createElement("p");
    element.textContent = words;
    return element;
  }

  async function offer(worker) {
    const version = await ask(worker);
    if (!version || version.build === build) return;
    const press = document.createElement("button");
    press.type = "button";
    press.textContent = "Load newer content";
    press.addEventListener("click", () => {
      press.textContent = "Loading …";
      worker.postMessage("take over");
      setTimeout(() => location.reload(), 5000);
    });
    const dated = version.dated ? ` It is dated ${version.dated}.` : "";
    tell("[data-newer]", paragraph(`Newer content exists.${dated} All open pages change together.`), press);
  }

  const failed = "Newer content exists, but not all of it has arrived. This page stays as it was.";

  /** Follows a new worker until all its files are in, or one of them is not. */
  function follow(registration, worker) {
    const older = registration.active;
    let whole = worker.state === "installed";
    worker.addEventListener("statechange", () => {
      whole = whole || worker.state === "installed";
      if (worker.state === "installed" && older) offer(worker);
      if (worker.state === "activated") tellKept(worker);
      if (worker.state === "redundant" && !whole) {
        if (older) tell("[data-newer]", paragraph(failed));
        else tell("[data-saved]", "Not saved on this device: not all files have arrived.");
      }
    });
  }

  async function tellKept(worker) {
    let version = await ask(worker);
    while (!version && worker.state !== "redundant") version = await ask(worker); // a busy device is late with it
    if (!version || version.build !== build) return;
    // A browser short of room throws away what it kept, and says nothing of it.
    const missing = await ask(worker, "keep all", MINUTE);
    if (missing === 0) tell("[data-saved]", "Saved on this device: works without a network.");
    else if (missing === null) tell("[data-saved]", "Whether all of it is saved on this device is not known.");
    else tell("[data-saved]", `Not saved on this device: ${missing} of its files are missing.`);
  }

  async function start() {
    // Asked for even if it is in the browser's own store: only so is a newer version seen.
    const registration = await workers.register(new URL("worker.js", root), { updateViaCache: "none" });
    registration.addEventListener("updatefound", () => follow(registration, registration.installing));
    if (registration.installing) follow(registration, registration.installing);
    if (registration.waiting) offer(registration.waiting);
    if (registration.active) tellKept(registration.active);
    const look = () => registration.update().catch(() => {});
    if (registration.active) look();
    setInterval(look, HOUR);
    document.addEventListener("visibilitychange", () => document.hidden || look());
  }

  workers.addEventListener("controllerchange", stayWhole);
  window.addEventListener("pageshow", stayWhole);
  const begin = () => start().catch(() => tell("[data-saved]", "Not saved on this device."));
  if (document.readyState === "complete") begin();
  else window.addEventListener("load", begin);
})();
