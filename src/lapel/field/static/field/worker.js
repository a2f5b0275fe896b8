/**
 * The service worker: keeps one version of the page whole, and gives it without a network.
 *
 * The view that serves it puts `LAPEL` before this text: the version, which is a hash over the page and all its files,
 * and their addresses. A new version is fetched whole beside the old one and waits until it is asked to take over; the
 * interface under /api/ is never kept and never answered from here.
 */

/** @typedef {{version: string, page: string, files: string[]}} Edition */

const worker = /** @type {ServiceWorkerGlobalScope & {LAPEL: Edition}} */ (/** @type {unknown} */ (self));
const { version, page, files } = worker.LAPEL;
const PREFIX = 'lapel-field-';
const CACHE = PREFIX + version;

worker.addEventListener('install', (event) => event.waitUntil(fetchAll()));
worker.addEventListener('activate', (event) => event.waitUntil(takeOver()));
worker.addEventListener('message', (event) => {
  if (event.data === 'take over') event.waitUntil(worker.skipWaiting());
});
worker.addEventListener('fetch', (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== 'GET' || origin !== worker.location.origin || !pathname.startsWith('/field/')) return;
  if (request.mode === 'navigate') event.respondWith(kept(page, request));
  else if (files.includes(pathname)) event.respondWith(kept(pathname, request));
});

/** Fetches every file anew, past the browser's own cache; one that fails keeps the whole version out. */
async function fetchAll() {
  const cache = await caches.open(CACHE);
  await cache.addAll([page, ...files].map((address) => new Request(address, { cache: 'reload', credentials: 'omit' })));
}

async function takeOver() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(PREFIX) && name !== CACHE).map((name) => caches.delete(name)));
  await worker.clients.claim();
}

/** @param {string} address @param {Request} request @returns {Promise<Response>} */
async function kept(address, request) {
  const cache = await caches.open(CACHE);
  return (await cache.match(address)) ?? fetch(request);
}
