/** Evidence is kept for where there is no network: begun after an exchange, once the page has nothing else to do. */

const IDLE_MS = 1000; // where the browser does not say when it is idle

/** The playing of a hole: a tap there is answered before anything else. */
export const PLAYING = /^#\/round\/[^/]+\/\d+$/;

/**
 * One look after an exchange. A phone that does not keep the app itself for a start without a network needs no evidence there.
 * @param {import('./session.js').Session} session
 */
export function keepAhead(session) {
  if (!navigator.serviceWorker?.controller || PLAYING.test(location.hash)) return;
  const begin = async () => (await import('./views/keeping.js')).keepEvidence(session);
  const quietly = () => void begin().catch(() => undefined); // tried again after the next exchange
  if ('requestIdleCallback' in globalThis) requestIdleCallback(quietly);
  else setTimeout(quietly, IDLE_MS);
}
