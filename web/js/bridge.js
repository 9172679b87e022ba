/** The page's side of the service worker: registers it, lets a new version in when the player says so and no round is open. */

const PATIENCE_MS = 2000;
/** How often this tab was loaded since a new version was let in, which had not taken over in time. */
const LETTING_IN = 'letting in';
/** So often a first installation that failed is tried again, and a page loaded for a version let in. */
const MOST_TRIES = 3;
let installs = 0;

/** @param {import('./session.js').Session} session */
export async function startBridge(session) {
  if (!('serviceWorker' in navigator)) {
    session.state.noWorker = true; // The app still works, but not from a cold start without network; the saving screen says so.
    return;
  }
  // The first load keeps what a round needs, and leaves the network alone after that; from the second start on all is kept.
  if (!navigator.serviceWorker.controller) whenTakenOver(keepWhatWasLoaded);
  else if (!sessionStorage.getItem(LETTING_IN)) cacheTheRest(); // an old version at work would not give way
  if (await afterTakingOver()) return;
  await register(session);
  // A first installation that was cut off leaves nothing behind: it is tried again when the network is likely to be there.
  const again = () => navigator.serviceWorker.controller ?? register(session);
  addEventListener('online', again);
  document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && again());
}

/**
 * Loads the page once more when the version that was let in takes over after this page began to load, for its files may be
 * of the old one. @returns {Promise<boolean>} whether it is on its way
 */
async function afterTakingOver() {
  const tries = Number(sessionStorage.getItem(LETTING_IN));
  if (!tries) return false;
  sessionStorage.removeItem(LETTING_IN);
  whenTakenOver(() => location.reload());
  const waiting = (await navigator.serviceWorker.getRegistration())?.waiting;
  if (!waiting) location.reload();
  else if (tries < MOST_TRIES) setTimeout(reloadAgain, PATIENCE_MS, tries + 1);
  return !waiting;
}

/** @param {() => void} then once, when another worker is at work for this page */
function whenTakenOver(then) {
  navigator.serviceWorker.addEventListener('controllerchange', then, { once: true });
}

/** @param {any} wish @returns {boolean} whether a worker is there to hear it */
function tell(wish) {
  const worker = navigator.serviceWorker?.controller;
  worker?.postMessage(wish);
  return Boolean(worker);
}

let everything = false;
let asked = false;

/**
 * Whoever looks at evidence wants the rest of the app without a network too. @param {boolean} [again] though it was asked for
 * already: the network may have been away
 */
export function cacheTheRest(again = false) {
  everything = true;
  if (!asked || again) asked = tell('keep the rest');
}

/** What the page loaded past the worker that is now there is kept too, and what is still on its way. */
function keepWhatWasLoaded() {
  if (everything) cacheTheRest();
  new PerformanceObserver(keepLoaded).observe({ type: 'resource', buffered: true });
}

/** Names the files that did not come through the worker. @param {PerformanceObserverEntryList} list */
function keepLoaded(list) {
  const entries = /** @type {PerformanceResourceTiming[]} */ (list.getEntries());
  const urls = entries.filter(({ workerStart }) => workerStart === 0).map(({ name }) => new URL(name));
  const paths = urls.filter(({ origin }) => origin === location.origin).map(({ pathname }) => pathname);
  if (paths.length) tell({ keep: paths });
}

/** @param {import('./session.js').Session} session */
async function register(session) {
  try {
    const registration = await navigator.serviceWorker.register('/sw.js', { updateViaCache: 'none' });
    watch(session, registration);
    // It may have taken over while this page was on its way here.
    if (!navigator.serviceWorker.controller) registration.active?.postMessage('claim');
    session.state.noWorker = false;
  } catch {
    session.state.noWorker = true;
    registerAgain(session);
  }
}

/** @param {import('./session.js').Session} session */
function registerAgain(session) {
  if (installs++ < MOST_TRIES) setTimeout(() => register(session), PATIENCE_MS);
}

/** @param {import('./session.js').Session} session @param {ServiceWorkerRegistration} registration */
function watch(session, registration) {
  const look = () => {
    session.update = registration.waiting && navigator.serviceWorker.controller ? registration.waiting : null;
    session.frame?.drawStatus();
  };
  const failed = () => {
    const none = !registration.installing && !registration.waiting && !registration.active;
    if (none) registerAgain(session);
  };
  registration.addEventListener('updatefound', () => {
    const worker = registration.installing;
    worker?.addEventListener('statechange', () => (worker.state === 'redundant' ? failed() : look()));
  });
  look();
}

/**
 * Lets the waiting version in and starts it. False while a round is open: the version waits.
 * @param {import('./session.js').Session} session @returns {Promise<boolean>}
 */
export async function takeUpdate(session) {
  const rounds = session.playerId ? await session.store.records(session.playerId, 'round') : [];
  if (!session.update || rounds.some((round) => !round.body.closed)) return false;
  whenTakenOver(() => location.reload());
  tell('give way');
  session.update.postMessage('take over');
  setTimeout(reloadAgain, PATIENCE_MS); // it may wait beside an old one at work, which a fresh page ends
  return true;
}

function reloadAgain(tries = 1) {
  sessionStorage.setItem(LETTING_IN, String(tries));
  location.reload();
}
