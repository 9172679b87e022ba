/*
 * What the service worker does: keeps one version of the app, serves it without a network, and lets a new version in only when
 * the page says so. It never touches /api/: what comes from there is the page's business.
 *
 * What a round needs is kept first, for the first load may come over a weak network; the rest when the page asks for it, or file
 * by file as a screen needs it; what a screen had before the worker was there, the page names. A file of another version never
 * gets in.
 */
const PREFIX = 'pencilbag-';
const CACHE = `${PREFIX}${ASSETS.version}`;
const DIGESTS = { ...ASSETS.first, ...ASSETS.afterwards };

/** The cache of this version, opened once. @type {Promise<Cache>|null} */
let opened = null;

/** Ends what is being kept: a new version that was let in waits for as long as this worker is at work. */
const leaving = new AbortController();

/**
 * One file, checked against its digest: half an update or a hotspot's page never gets in.
 * @param {string} path @param {AbortSignal} [signal]
 */
async function fetchChecked(path, signal) {
  const response = await fetch(path, { cache: 'no-cache', redirect: 'error', signal });
  if (!response.ok) throw new Error(`${path}: ${response.status}`);
  const body = await response.arrayBuffer();
  const digest = [...new Uint8Array(await crypto.subtle.digest('SHA-256', body))]
    .map((byte) => byte.toString(16).padStart(2, '0'))
    .join('');
  if (digest !== DIGESTS[path]) throw new Error(`${path}: not the file of this version`);
  return new Response(body, { headers: response.headers });
}

/** A weak network gets a second and a third chance. @param {string} path @param {number} tries */
async function fetchPatiently(path, tries = 3) {
  try {
    return await fetchChecked(path, leaving.signal);
  } catch (error) {
    if (tries <= 1 || leaving.signal.aborted) throw error;
    await new Promise((go) => setTimeout(go, 500));
    return fetchPatiently(path, tries - 1);
  }
}

/** Keeps these files unless they are kept already. @param {string[]} paths */
async function keep(paths) {
  const cache = await caches.open(CACHE);
  const held = new Set((await cache.keys()).map((request) => new URL(request.url).pathname));
  await Promise.all(
    paths.filter((path) => !held.has(path)).map(async (path) => cache.put(path, await fetchPatiently(path))),
  );
}

/** Keeps these files, with a second and a third look for those that could not be had. @param {string[]} paths */
async function keepAtLast(paths) {
  for (const pause of [1000, 4000, 0]) {
    try {
      await keep(paths);
      return;
    } catch {
      if (leaving.signal.aborted || !pause) return; // asked again at the next start
      await new Promise((go) => setTimeout(go, pause));
    }
  }
}

/** The first installation keeps what a round needs; an update keeps everything, for everything may have been there. */
async function install() {
  const update = (await caches.keys()).some((name) => name.startsWith(PREFIX) && name !== CACHE);
  await keep(Object.keys(update ? DIGESTS : ASSETS.first));
}

async function forgetOthers() {
  const names = await caches.keys();
  await Promise.all(
    names.filter((name) => name.startsWith(PREFIX) && name !== CACHE).map((name) => caches.delete(name)),
  );
  await self.clients.claim();
}

/** @param {Request} request @param {string} path */
async function serve(request, path) {
  opened ??= caches.open(CACHE);
  const cache = await opened;
  const held = await cache.match(path, { ignoreVary: true });
  if (held) return held;
  try {
    const fresh = await fetchChecked(path);
    await cache.put(path, fresh.clone()).catch(() => undefined); // no room: it is served all the same
    return fresh;
  } catch (error) {
    if (path in ASSETS.first) return fetch(request); // what was kept is gone: an app of another version is better than none
    throw error;
  }
}

self.addEventListener('install', (event) => event.waitUntil(install()));
self.addEventListener('activate', (event) => event.waitUntil(forgetOthers()));
self.addEventListener('message', (event) => {
  if (event.data === 'give way') leaving.abort();
  if (event.data === 'take over') self.skipWaiting();
  if (event.data === 'claim') event.waitUntil(self.clients.claim());
  if (event.data === 'keep the rest') event.waitUntil(keepAtLast(Object.keys(DIGESTS)));
  if (event.data?.keep)
    event.waitUntil(keepAtLast(event.data.keep.filter((/** @type {string} */ path) => path in DIGESTS)));
});
self.addEventListener('fetch', (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== 'GET' || address.origin !== self.location.origin || address.pathname.startsWith('/api'))
    return;
  const path = address.pathname === '/index.html' ? '/' : address.pathname;
  if (path in DIGESTS) event.respondWith(serve(event.request, path));
});
