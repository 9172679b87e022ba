/*
 * What the service worker does: keeps one whole version of the app, serves it without a network, and lets a new version in
 * only when the page says so. It never touches /api/: what comes from there is the page's business.
 */
const CACHE = `pencilbag-${ASSETS.version}`;

/** The cache of this version, opened once. @type {Promise<Cache>|null} */
let opened = null;

/** One file, checked against its digest: half an update or a hotspot's page never gets in. @param {string} path */
async function fetchChecked(path) {
  const response = await fetch(path, { cache: 'no-cache', redirect: 'error' });
  if (!response.ok) throw new Error(`${path}: ${response.status}`);
  const body = await response.arrayBuffer();
  const digest = [...new Uint8Array(await crypto.subtle.digest('SHA-256', body))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  if (digest !== ASSETS.files[path]) throw new Error(`${path}: not the file of this version`);
  return new Response(body, { headers: response.headers });
}

/** A weak network gets a second and a third chance. @param {string} path @param {number} tries */
async function fetchPatiently(path, tries = 3) {
  try {
    return await fetchChecked(path);
  } catch (error) {
    if (tries <= 1) throw error;
    await new Promise((go) => setTimeout(go, 500));
    return fetchPatiently(path, tries - 1);
  }
}

async function keepAll() {
  const cache = await caches.open(CACHE);
  await Promise.all(Object.keys(ASSETS.files).map(async (path) => cache.put(path, await fetchPatiently(path))));
}

async function forgetOthers() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith('pencilbag-') && name !== CACHE).map((name) => caches.delete(name)));
  await self.clients.claim();
}

/** @param {Request} request @param {string} path */
async function serve(request, path) {
  opened ??= caches.open(CACHE);
  return (await (await opened).match(path, { ignoreVary: true })) ?? fetch(request);
}

self.addEventListener('install', (event) => event.waitUntil(keepAll()));
self.addEventListener('activate', (event) => event.waitUntil(forgetOthers()));
self.addEventListener('message', (event) => {
  if (event.data === 'take over') self.skipWaiting();
});
self.addEventListener('fetch', (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== 'GET' || address.origin !== self.location.origin || address.pathname.startsWith('/api')) return;
  const path = address.pathname === '/index.html' ? '/' : address.pathname;
  if (path in ASSETS.files) event.respondWith(serve(event.request, path));
});
