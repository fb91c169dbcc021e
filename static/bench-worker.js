// The bench without a connection: opens again the pages of jobs that were open on this tablet, with their files.
// Pages hold people's data: whoever meets the sign-in page here finds nothing kept.

const CACHE = "bench-pages";
const MOST_PAGES = 20;
const PATIENCE_MS = 4000;
const JOB = /^\/bench\/jobs\/[0-9a-f-]{36}$/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("message", (event) => {
  const { keep, files } = event.data;
  event.waitUntil(keepAll(keep, files));
});

async function keepAll(page, files) {
  const cache = await caches.open(CACHE);
  for (const path of files) {
    if (!(await cache.match(path))) await cache.add(path).catch(() => {});
  }
  const response = await fetch(page).catch(() => null);
  if (response) await settle(page, response);
}

/** Keeps a page that came; forgets all of them where the answer was: sign in first. */
async function settle(path, response) {
  if (response.type === "opaqueredirect" || response.redirected || response.status === 401 || response.status === 403) {
    await caches.delete(CACHE);
    return;
  }
  if (!response.ok) return;
  const cache = await caches.open(CACHE);
  // the newest last; the oldest beyond the limit go
  await cache.delete(path);
  await cache.put(path, response.clone());
  const pages = (await cache.keys()).filter((request) => JOB.test(new URL(request.url).pathname));
  for (const request of pages.slice(0, -MOST_PAGES)) await cache.delete(request);
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate" && JOB.test(url.pathname)) event.respondWith(page(event, url.pathname));
  else if (url.pathname.startsWith("/static/")) event.respondWith(file(request));
});

async function page(event, path) {
  const fresh = fetch(event.request).then(async (response) => {
    await settle(path, response);
    return response;
  });
  event.waitUntil(fresh.catch(() => {}));
  const held = await caches.match(path);
  if (!held) return fresh;
  const late = new Promise((resolve) => setTimeout(() => resolve(held), PATIENCE_MS));
  return Promise.race([fresh.catch(() => held), late]);
}

async function file(request) {
  try {
    const response = await fetch(request);
    if (response.ok) {
      const copy = response.clone();
      const cache = await caches.open(CACHE);
      await cache.put(request, copy);
    }
    return response;
  } catch (cause) {
    const held = await caches.match(request);
    if (held) return held;
    throw cause;
  }
}
