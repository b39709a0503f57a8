// The service worker: keeps one whole version of the application, so that it opens with no signal.
// Work that was done offline is the outbox's affair, not this file's. It stays self-contained (no imports),
// because a service worker that is a module does not register in every browser.

/** Written by build/finish.js into files.js: what makes up this version, and a digest of it all. */
interface Shell {
  version: string;
  files: string[];
}

declare const self: ServiceWorkerGlobalScope & { PROOFBELL_SHELL: Shell };

// A changed files.js counts as a changed service worker: this is how a browser learns of a new version.
importScripts("/files.js");

const prefix = "proofbell-";
const { version, files } = self.PROOFBELL_SHELL;
const current = prefix + version;

self.addEventListener("install", (event) => {
  event.waitUntil(
    (async () => {
      const cache = await caches.open(current);
      // "no-cache" asks the server whether its copy changed, so an update fetches only what did.
      await cache.addAll(files.map((path) => new Request(path, { cache: "no-cache" })));
    })(),
  );
});

// A page keeps the version it was opened with. It sends "use-new-version" when the technician says so, and "take-over"
// when it was still loading while this worker claimed the pages.
self.addEventListener("message", (event) => {
  if (event.data === "use-new-version") void self.skipWaiting();
  if (event.data === "take-over") event.waitUntil(self.clients.claim());
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      // The version before stays: a page that is still open may ask for a part of it that it has not needed yet.
      const older = (await caches.keys()).filter((name) => name.startsWith(prefix) && name !== current);
      for (const name of older.slice(0, -1)) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  // The API and its event stream go to the network untouched.
  if (event.request.method !== "GET" || url.origin !== self.location.origin || url.pathname.startsWith("/api/")) return;
  event.respondWith(
    (async () => {
      const cache = await caches.open(current);
      const page = event.request.mode === "navigate" ? "/" : url.pathname;
      const kept = (await cache.match(page)) ?? (page.startsWith("/assets/") ? await caches.match(page) : undefined);
      return kept ?? fetch(event.request);
    })(),
  );
});

export {}; // a module of its own, so that `self` is typed here alone; the build leaves no trace of it
