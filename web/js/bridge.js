/**
 * The page's side of the service worker: registers it, and lets a new version in only when the player says so and no
 * round is open.
 */

/** @param {import('./session.js').Session} session */
export async function startBridge(session) {
  if (!('serviceWorker' in navigator)) {
    session.state.noWorker = true; // The app still works, but not from a cold start without network; the saving screen says so.
    return;
  }
  // The first load keeps what a round needs, and leaves the network alone after that; from the second start on all is kept.
  if (navigator.serviceWorker.controller) cacheTheRest();
  navigator.serviceWorker.addEventListener('controllerchange', takenOver);
  await register(session);
  // A first installation that was cut off leaves nothing behind: it is tried again when the network is likely to be there.
  const again = () => navigator.serviceWorker.controller ?? register(session);
  addEventListener('online', again);
  document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && again());
}

/** @param {any} wish */
function tell(wish) {
  navigator.serviceWorker?.controller?.postMessage(wish);
}

let everything = false;

/** Whoever looks at evidence wants the rest of the app without a network too. */
export function cacheTheRest() {
  if (everything) return;
  everything = true;
  tell('keep the rest');
}

/** A worker took this page over: what the page loaded before is kept too. */
function takenOver() {
  const loaded = performance.getEntriesByType('resource').map(({ name }) => new URL(name));
  const paths = loaded.filter(({ origin }) => origin === location.origin).map(({ pathname }) => pathname);
  tell(everything ? 'keep the rest' : { keep: paths });
}

/** @param {import('./session.js').Session} session */
async function register(session) {
  try {
    watch(session, await navigator.serviceWorker.register('/sw.js', { updateViaCache: 'none' }));
    session.state.noWorker = false;
  } catch {
    session.state.noWorker = true;
  }
}

/** @param {import('./session.js').Session} session @param {ServiceWorkerRegistration} registration */
function watch(session, registration) {
  const look = () => {
    session.update = registration.waiting && navigator.serviceWorker.controller ? registration.waiting : null;
    session.frame?.drawStatus();
  };
  registration.addEventListener('updatefound', () => registration.installing?.addEventListener('statechange', look));
  look();
}

/**
 * Lets the waiting version in and starts it. False while a round is open: the version waits.
 * @param {import('./session.js').Session} session @returns {Promise<boolean>}
 */
export async function takeUpdate(session) {
  const rounds = session.playerId ? await session.store.records(session.playerId, 'round') : [];
  if (!session.update || rounds.some((round) => !round.body.closed)) return false;
  navigator.serviceWorker.addEventListener('controllerchange', () => location.reload(), { once: true });
  session.update.postMessage('take over');
  return true;
}
