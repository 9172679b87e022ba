/**
 * Asks the server for evidence; the last answers stay readable without a network (see log/cache.js).
 *
 * @typedef {{value: any, at: string, old: boolean, failure: import('../log/answers.js').ExchangeFailure|null}} Answer
 * `at`: when the server gave it, ISO 8601; `old`: cached then, because the server was not reached now (`failure` says why);
 * `value` null: no answer at all
 */
import { cacheTurn, cachedAnswers, cachedLock, forgetAnswer, forgetPlayer, cacheAnswers } from '../log/cache.js';
import { ExchangeFailure, ask } from '../log/answers.js';
import { inFlight } from './in-flight.js';

/** @typedef {import('../session.js').Session} Session */

const PATIENCE_MS = 15_000;
const SOLVING_MS = 90_000; // for a plan, or between two parts of an answer that takes seconds, and many times that on a busy server
const LONG = /[?&]ahead=true|\/(course-bag|round-ahead|rounds-checked)\?/; // answers that come in parts
const PLANS = /\/tee-plan\?/; // costly: two screens that ask for the same one at once share a request
const LOCKED = 423;
const WITHDRAWN = [403, 404]; // the player is gone, or no longer shares with whoever asks
export const UNREACHABLE = ['offline', 'foreign', 'busy'];

/**
 * Whoever waits for a long answer. @typedef {{done: (share: number) => void, stopped: AbortSignal}} Waiting `done`: gets the
 * share of the work that is done; `stopped`: aborted when the answer is not wanted any more
 */

/** A competition round of the player is open: `message` is the server's reason. */
export class EvidenceLocked extends Error {}

/**
 * One answer a path, in their order. The first path is the player's own: where it may not be read (any longer), what was cached
 * of the player is forgotten. EvidenceLocked when the server says so, or did so last and cannot be reached now.
 * @param {Session} session @param {string} player id, for its lock @param {string[]} paths @param {Waiting} [waiting]
 * @returns {Promise<Answer[]>}
 */
export async function askEach(session, player, paths, waiting) {
  const turn = await cacheTurn(session.store).catch(() => 0);
  const asked = await Promise.all(paths.map((path) => askOne(path, waiting)));
  const locked = asked.find((one) => one.failure?.status === LOCKED)?.failure;
  const fresh = asked.flatMap(({ value, at }, place) => (value === null ? [] : [{ path: paths[place], at, value }]));
  const lock = player ? { player, words: locked?.message ?? null } : null;
  if (locked || fresh.length) await cacheAnswers(session.store, turn, 'evidence', fresh, lock).catch(() => undefined); // without room the answers are shown all the same
  if (locked) throw new EvidenceLocked(locked.message);
  if (WITHDRAWN.includes(asked[0].failure?.status ?? 0)) {
    await (player ? forgetPlayer(session.store, player) : forgetAnswer(session.store, paths[0])).catch(() => undefined);
    return asked;
  }
  if (!asked.some((one) => UNREACHABLE.includes(one.failure?.kind ?? ''))) return asked;
  return fallBack(session, player, paths, asked);
}

/** @param {string} path @param {Waiting} [waiting] @returns {Promise<Answer>} */
async function askOne(path, waiting) {
  const at = new Date().toISOString();
  const long = LONG.test(path);
  const patience = long || PLANS.test(path) ? SOLVING_MS : PATIENCE_MS;
  const send = async (/** @type {Waiting|undefined} */ all) => ({
    value: await ask(fetch.bind(globalThis), path, {}, patience, long ? all : undefined),
    at,
  });
  try {
    const given = await (PLANS.test(path) ? inFlight(path, long ? waiting : undefined, send) : send(waiting));
    return { ...given, old: false, failure: null };
  } catch (error) {
    const failure = error instanceof ExchangeFailure ? error : new ExchangeFailure('offline', String(error));
    return { value: null, at, old: false, failure };
  }
}

/** What was cached replaces what cannot be had now. @param {Session} session @param {string} player @param {string[]} paths @param {Answer[]} asked */
async function fallBack(session, player, paths, asked) {
  const lock = await cachedLock(session.store, player);
  if (lock) throw new EvidenceLocked(lock);
  const cached = await cachedAnswers(session.store, paths);
  return asked.map((one, place) => {
    const silent = UNREACHABLE.includes(one.failure?.kind ?? '');
    const known = silent ? cached[place] : null;
    return known ? { value: known.value, at: known.at, old: true, failure: one.failure } : one;
  });
}

/**
 * What is kept of these paths, each an old answer or none. @param {Session} session @param {string[]} paths
 * @param {Answer['failure']} failure why the server does not answer @returns {Promise<Answer[]>}
 */
export async function keptAnswers(session, paths, failure) {
  const cached = await cachedAnswers(session.store, paths);
  return cached.map((one) => ({ value: one?.value ?? null, at: one?.at ?? '', old: one !== null, failure }));
}

/**
 * The cached answers alone, when all of them are there: shown while the server takes its time.
 * @param {Session} session @param {string} player @param {string[]} paths @returns {Promise<Answer[]|null>}
 */
export async function cachedOnly(session, player, paths) {
  const cached = await cachedAnswers(session.store, paths);
  if ((await cachedLock(session.store, player)) || cached.includes(null)) return null;
  return cached.flatMap((one) => (one ? [{ value: one.value, at: one.at, old: true, failure: null }] : []));
}
