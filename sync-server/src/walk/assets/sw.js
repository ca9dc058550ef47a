// Keeps the page so that it opens without signal. What the page asks of the office goes past this.

const KEPT = "walk-@VERSION@";
const FILES = ["./", ..."@FILES@".split(" ").map((name) => `./${name}`)];
const PLACES = new Set(FILES.map((name) => new URL(name, location.href).pathname));

self.addEventListener("install", (event) => {
  const fetched = FILES.map((name) => new Request(name, { cache: "reload" }));
  event.waitUntil(caches.open(KEPT).then((cache) => cache.addAll(fetched)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const tidy = async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("walk-") && name !== KEPT) await caches.delete(name);
    }
    await self.clients.claim();
  };
  event.waitUntil(tidy());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const place = new URL(request.url);
  if (request.method !== "GET" || place.origin !== location.origin || !PLACES.has(place.pathname)) return;
  const answer = async () => {
    const cache = await caches.open(KEPT);
    return (await cache.match(place.pathname)) ?? fetch(request);
  };
  event.respondWith(answer());
});
