/**
 * One request for all who ask the same at once. Each of them hears how far it is, and may stop waiting on its own; the request
 * is stopped when nobody waits for it any more.
 *
 * @typedef {import('./asking.js').Waiting} Waiting
 * @typedef {{answer: Promise<any>, waiters: Set<Waiting>, stop: AbortController}} Flight
 */
import { ExchangeFailure } from '../log/answers.js';

const flights = /** @type {Map<string, Flight>} */ (new Map());
const NOBODY_STOPS = new AbortController().signal;

/**
 * The answer of a path, of the request on its way if there is one. An ExchangeFailure of kind `stopped` for whoever stops.
 * @param {string} path @param {Waiting|undefined} waiting @param {(all: Waiting) => Promise<any>} send puts the request, for all of them
 * @returns {Promise<any>}
 */
export function inFlight(path, waiting, send) {
  const one = { done: waiting?.done ?? (() => undefined), stopped: waiting?.stopped ?? NOBODY_STOPS };
  if (one.stopped.aborted) return Promise.reject(stopped());
  const flight = flights.get(path) ?? begun(path, send);
  flight.waiters.add(one);
  return new Promise((resolve, reject) => {
    const leave = () => {
      flight.waiters.delete(one);
      if (!flight.waiters.size) land(path, flight).abort();
      reject(stopped());
    };
    one.stopped.addEventListener('abort', leave, { once: true });
    const end = () => one.stopped.removeEventListener('abort', leave);
    flight.answer.finally(end).then(resolve, reject);
  });
}

/** @param {string} path @param {(all: Waiting) => Promise<any>} send @returns {Flight} */
function begun(path, send) {
  const stop = new AbortController();
  const waiters = /** @type {Set<Waiting>} */ (new Set());
  const done = (/** @type {number} */ share) => {
    for (const one of waiters) one.done(share);
  };
  const flight = { answer: send({ done, stopped: stop.signal }), waiters, stop };
  flights.set(path, flight);
  flight.answer.catch(() => undefined).then(() => land(path, flight));
  return flight;
}

/** A request that is over, or stopped, serves nobody who asks later. @param {string} path @param {Flight} flight @returns {AbortController} */
function land(path, flight) {
  if (flights.get(path) === flight) flights.delete(path);
  return flight.stop;
}

/** @returns {ExchangeFailure} */
function stopped() {
  return new ExchangeFailure('stopped', 'stopped before the answer came');
}
