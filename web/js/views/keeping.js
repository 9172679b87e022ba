/**
 * Keeps the default answer of every view of the phone's own player, and the plans of the course that comes next, so that a view
 * that was never opened is there without a network. Works once after an exchange: one question at a time, only where the log has
 * changed, and stops when an exchange begins, the page is hidden or a hole is being played.
 *
 * @typedef {import('../session.js').Session} Session @typedef {import('../log/cache.js').Ahead} Ahead
 */
import { PLAYING } from '../ahead.js';
import { cacheTheRest } from '../bridge.js';
import { ExchangeFailure, ask } from '../log/answers.js';
import { MOST_AHEAD_BYTES, aheadKept, cacheTurn, cachedAnswers, lockAnswers, putAhead } from '../log/cache.js';
import { cursorOf } from '../log/outbox.js';
import { defaultPaths } from './default-paths.js';
import { chosen, planPath, plansPath } from './plan-words.js';

const LOCK = 'pencilbag-keeping'; // one tab at a time
const MINUTE_MS = 60_000;
/** How long an answer stays though the log has changed: a choice of this tool, so that a server is not asked at every shot. */
const EVIDENCE_MS = 15 * MINUTE_MS;
const PLAN_MS = 12 * 60 * MINUTE_MS;
const PATIENCE_MS = 60_000;
const UNAVAILABLE = 503;
const LOCKED = 423;
const ENDS = ['offline', 'foreign', 'busy', 'stopped', 'sign_in', 'erased']; // nothing more is asked until the next exchange

/** The last look that left nothing to ask: no other is needed for this log until then. */
let settled = { player: '', cursor: '', turn: -1, until: 0 };

/** @param {Session} session */
export async function keepEvidence(session) {
  if (navigator.locks)
    await navigator.locks.request(LOCK, { ifAvailable: true }, (lock) => (lock ? oneLook(session) : undefined));
  else await oneLook(session);
}

/** @param {Session} session */
async function oneLook(session) {
  const { store, playerId: player } = session;
  const cursor = player ? await cursorOf(store, player) : null;
  if (!player || cursor === null) return;
  const turn = await cacheTurn(store);
  const same = settled.player === player && settled.cursor === cursor && settled.turn === turn;
  if ((same && Date.now() < settled.until) || !may(session, player)) return;
  const rounds = (await store.records(player, 'round')).filter((one) => !one.deleted);
  if (!rounds.length || (await session.lockingRound())) return;
  cacheTheRest(true); // what is kept is of no use without the screens that show it
  const kept = new Map((await aheadKept(store)).map((one) => [one.path, one]));
  const look = { session, player, cursor, turn, kept, began: new Date().toISOString(), until: Infinity };
  if (await watched(session, player, (stopped) => askAll(look, rounds, stopped)))
    settled = { player, cursor, turn, until: look.until };
}

/**
 * Runs the work until it is done or the phone has something better to do.
 * @param {Session} session @param {string} player @param {(stopped: AbortSignal) => Promise<boolean>} work @returns {Promise<boolean>}
 */
async function watched(session, player, work) {
  const stop = new AbortController();
  session.keeping = stop;
  const look = () => may(session, player) || stop.abort();
  document.addEventListener('visibilitychange', look);
  addEventListener('hashchange', look);
  try {
    return await work(stop.signal);
  } finally {
    document.removeEventListener('visibilitychange', look);
    removeEventListener('hashchange', look);
    session.keeping = null;
  }
}

/** Whether the phone has nothing better to do. @param {Session} session @param {string} player */
function may(session, player) {
  const quiet = !session.schedule.running && document.visibilityState === 'visible';
  return quiet && session.playerId === player && !PLAYING.test(location.hash);
}

/**
 * @typedef {{session: Session, player: string, cursor: string, turn: number, kept: Map<string, Ahead>, began: string,
 * until: number}} Look `until`: when an answer that stays though the log has changed is old enough, ms
 */

/** True when nothing is left to ask. @param {Look} look @param {any[]} rounds @param {AbortSignal} stopped */
async function askAll(look, rounds, stopped) {
  for (const path of defaultPaths(look.player)) if (!(await keepOne(look, path, EVIDENCE_MS, stopped))) return false;
  const plans = (await cachedAnswers(look.session.store, [plansPath(look.player)]))[0]?.value;
  for (const path of plans ? planPaths(look.player, plans, rounds) : [])
    if (!(await keepOne(look, path, PLAN_MS, stopped))) return false;
  return true;
}

/**
 * The plans of the course of an open round, and of the course played last. @param {string} player @param {any} plans what may be
 * planned @param {any[]} rounds @returns {string[]}
 */
function planPaths(player, plans, rounds) {
  const open = rounds.filter(({ body }) => !body.closed && body.course_id).map(({ body }) => body);
  const wanted = [...open.slice(-1).map(({ course_id, tees }) => ({ ground: course_id, tees: tees ?? '' })), {}];
  const paths = wanted.flatMap((filters) => {
    const found = chosen(plans, filters);
    if (!found) return [];
    const of = { ground: found.course.course_id, tees: found.tees };
    return found.holes.map((/** @type {any} */ hole) => planPath(player, { ...of, hole: `${hole.number}` }));
  });
  return [...new Set(paths)];
}

/**
 * Keeps one answer, unless it is still good or there is no room. False: nothing more is to be asked now.
 * @param {Look} look @param {string} path @param {number} standsMs @param {AbortSignal} stopped
 */
async function keepOne(look, path, standsMs, stopped) {
  const { session, player, cursor, turn, kept, began } = look;
  if (stopped.aborted) return false;
  const known = kept.get(path);
  const age = known ? Date.now() - Date.parse(known.at) : Infinity;
  if (known?.mark === cursor) return true;
  if (age >= 0 && age < standsMs) {
    look.until = Math.min(look.until, Date.parse(/** @type {Ahead} */ (known).at) + standsMs);
    return true;
  }
  try {
    const at = new Date().toISOString();
    const value = await ask(once, path, {}, PATIENCE_MS, { stopped });
    const size = JSON.stringify(value).length;
    const gone = outgoing(kept, path, size, began);
    if (!gone) return true;
    if (!(await putAhead(session.store, turn, { path, at, value, mark: cursor, size }, gone))) return false;
    for (const one of gone) kept.delete(one);
    kept.set(path, { path, at, mark: cursor, size });
    return true;
  } catch (error) {
    const failure = error instanceof ExchangeFailure ? error : null;
    if (failure?.status === LOCKED) await lockAnswers(session.store, turn, { player, words: failure.message });
    return failure !== null && failure.status !== LOCKED && !ENDS.includes(failure.kind);
  }
}

/**
 * What has to go so that an answer fits: the oldest first, none of those kept by this look. Null: it does not fit.
 * @param {Map<string, Ahead>} kept @param {string} path @param {number} size @param {string} began ISO 8601 @returns {string[]|null}
 */
export function outgoing(kept, path, size, began) {
  const others = [...kept.values()].filter((one) => one.path !== path);
  let left = others.reduce((sum, one) => sum + one.size, size);
  const gone = [];
  for (const one of others.filter(({ at }) => at < began).sort((a, b) => (a.at < b.at ? -1 : 1))) {
    if (left <= MOST_AHEAD_BYTES) break;
    gone.push(one.path);
    left -= one.size;
  }
  return left <= MOST_AHEAD_BYTES ? gone : null;
}

/** A busy server is left alone: no second try as for somebody who waits. @type {typeof fetch} */
async function once(address, request) {
  const response = await fetch(address, request);
  if (response.status === UNAVAILABLE) throw new ExchangeFailure('busy', 'the server is busy');
  return response;
}
