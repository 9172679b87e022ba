/**
 * One exchange with the server: push what waits, pull what is new. Safe to repeat at any moment and to be cut off at any
 * moment: changes are immutable and known by their id, and leave the outbox only when they come back.
 */
import { cursorOf, outboxBatch, outboxState, queueEverything, setAside, takePage } from './outbox.js';
import { ExchangeFailure, ask, pageAnswer, pushAnswer } from './answers.js';
import { fetchNeeds, logAddress, setEnded } from './caddying.js';
import { iso, offsetFrom } from './clock.js';

/** Limits of one push; the server takes at most 1000 changes and 4 MB. */
const MOST_CHANGES = 400;
const MOST_BYTES = 2_000_000;
const PAGE = 1000;
const MOST_PAGES = 2000;
const MOST_RESETS = 2;
const NOT_THERE = 404;

/**
 * @typedef {import('./store.js').Store} Store
 * @typedef {{sent: number, received: number, waiting: number, set_aside: number}} Exchanged
 * @typedef {{store: Store, player_id: string, fetcher: typeof fetch, tell?: (received: number) => void,
 *   caddying?: import('./caddying.js').Caddying|null}} Way `caddying`: the round that is entered for the player, when it is another's
 */

/**
 * @param {Way} way @returns {Promise<Exchanged>} throws ExchangeFailure; whatever was done until then is kept
 */
export async function exchange(way) {
  const { caddying } = way;
  if (!caddying) return pushAndPull(way);
  try {
    const done = await pushAndPull(way);
    await setEnded(way.store, caddying, null);
    return done;
  } catch (error) {
    if (!(error instanceof ExchangeFailure) || error.kind !== 'sign_in') throw error;
    await setEnded(way.store, caddying, error.message);
    throw new ExchangeFailure('ended', error.message, { status: error.status, problem: error.problem });
  }
}

/** @param {Way} way @returns {Promise<Exchanged>} */
async function pushAndPull(way) {
  let received = 0;
  /** @type {ExchangeFailure|null} */
  let full = null;
  // A full log on the server takes nothing, and still gives: what others wrote comes in all the same.
  const pushed = () =>
    pushAll(way).catch((error) => {
      if (!(error instanceof ExchangeFailure) || error.kind !== 'full') throw error;
      full = error;
      return 0;
    });
  let sent = await pushed();
  for (let resets = 0; ; resets += 1) {
    const pulled = await pullAll(way);
    received += pulled.received;
    if (!pulled.reset) break;
    if (resets === MOST_RESETS) throw new ExchangeFailure('busy', 'the server keeps restarting');
    await queueEverything(way.store, way.player_id, way.caddying ? way.store.deviceId : null);
    received += (await pullAll(way)).received;
    sent += await pushed();
  }
  if (full) throw full;
  const state = await outboxState(way.store, way.player_id);
  return { sent, received, waiting: state.waiting, set_aside: state.problems.length };
}

/** @param {Way} way @returns {string} */
function address(way) {
  return logAddress(way.player_id, way.caddying ?? null);
}

/** Pushes every waiting batch once. @param {Way} way @returns {Promise<number>} how many changes went out */
async function pushAll(way) {
  let sent = 0;
  for (let after = -1; ; ) {
    const batch = await outboxBatch(way.store, way.player_id, after, MOST_CHANGES, MOST_BYTES);
    if (!batch.changes.length) return sent;
    await pushSome(way, batch.changes);
    sent += batch.changes.length;
    after = batch.last;
  }
}

/**
 * Pushes a batch; when the server refuses all of it, in halves, until the one that it cannot take is set aside alone.
 * @param {Way} way @param {import('./fold.js').Change[]} changes
 */
async function pushSome(way, changes) {
  try {
    const body = JSON.stringify({ device_id: way.store.deviceId, now: iso(Date.now()), changes });
    const asked = { method: 'POST', headers: { 'content-type': 'application/json' }, body };
    const sentAt = Date.now();
    const answer = pushAnswer(await ask(way.fetcher, address(way), asked));
    await learnClock(way.store, answer.now, sentAt);
    await setAside(way.store, answer.quarantined);
  } catch (error) {
    if (!(error instanceof ExchangeFailure) || error.kind !== 'refused') throw error;
    // A push makes a player that is not known, so this one belongs to somebody else.
    if (error.status === NOT_THERE)
      throw new ExchangeFailure('sign_in', error.message, { status: error.status, problem: error.problem });
    if (changes.length === 1) {
      await setAside(way.store, [
        { change_id: changes[0].change_id, problem: error.problem ?? { title: error.message } },
      ]);
      return;
    }
    const half = changes.length >> 1;
    await pushSome(way, changes.slice(0, half));
    await pushSome(way, changes.slice(half));
  }
}

/** @param {Way} way @returns {Promise<{received: number, reset: boolean}>} */
async function pullAll(way) {
  let received = 0;
  for (let page = 0; page < MOST_PAGES; page += 1) {
    const cursor = await cursorOf(way.store, way.player_id);
    const wishes = { ...(way.caddying ? {} : { limit: String(PAGE) }), ...(cursor ? { after: cursor } : {}) };
    const query = `?${new URLSearchParams(wishes)}`;
    const sentAt = Date.now();
    const answer = await pull(way, query);
    if (answer === null) return { received, reset: cursor !== null };
    await learnClock(way.store, answer.now, sentAt);
    if (answer.reset) return { received, reset: true };
    const fresh = await takePage(way.store, way.player_id, answer.changes, answer.cursor);
    received += fresh;
    if (fresh) way.tell?.(received);
    if (answer.more) continue;
    if (way.caddying && (await fetchNeeds(way.store, way.caddying, answer.mark, way.fetcher))) {
      received += 1;
      way.tell?.(received);
    }
    return { received, reset: false };
  }
  throw new ExchangeFailure('busy', 'the server sent too many pages');
}

/**
 * One page; null when the server does not know the player yet.
 * @param {Way} way @param {string} query
 */
async function pull(way, query) {
  try {
    return pageAnswer(await ask(way.fetcher, address(way) + query));
  } catch (error) {
    if (!(error instanceof ExchangeFailure) || error.status !== NOT_THERE) throw error;
    await refuseAnothers(way, error);
    return null;
  }
}

/**
 * "Not there" is also what the server says of players that the account may not see: then nothing is to be queued again.
 * @param {Way} way @param {ExchangeFailure} unknown
 */
async function refuseAnothers(way, unknown) {
  const me = await ask(way.fetcher, '/api/me').catch(() => null);
  if (me?.account && me.account.player_id !== way.player_id)
    throw new ExchangeFailure('sign_in', unknown.message, { status: NOT_THERE, problem: unknown.problem });
}

/** @param {Store} store @param {string|null} serverNow @param {number} sentAt */
async function learnClock(store, serverNow, sentAt) {
  const offset = serverNow ? offsetFrom(serverNow, sentAt, Date.now()) : null;
  if (offset === null || Math.abs(offset - store.offsetMs) < 1000) return;
  store.offsetMs = offset;
  await store.setSetting('clock_offset_ms', offset);
}
