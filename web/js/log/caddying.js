/**
 * Entering a round for another player, as a caddie: which round that is, what entering needs beside its log, and how it ends.
 * What comes with it (name, bag, course, maps) has no change behind it here: it is read alone, and never sent.
 *
 * @typedef {object} Caddying
 * @property {string} caddie_id @property {string} player_id @property {string} round_id @property {string} expires_at ISO 8601
 * @property {string} name as the caddie gave it @property {string|null} mark of what was fetched beside the log, and by which kind of app; null: nothing yet
 * @property {string|null} ended why nothing more is taken, in words
 *
 * @typedef {{caddie_id: string, round_id: string, name: string|null, device_id: string|null,
 *   state: 'invited'|'entering'|'ended', ended: string|null, expires_at: string, last_used_at: string|null}} CaddieRow
 */
import { ask } from './answers.js';
import { cacheAnswers, cacheTurn, cachedAnswers } from './cache.js';
import { clearRows } from './clearing.js';
import { lockingRound } from './competition.js';
import { answer } from './database.js';

/** @typedef {import('./store.js').Store} Store */

/** Begins the names of settings; the player's id follows. */
export const CADDYING = 'caddying ';
/** Begins the mark of what is kept: another one when this app keeps more of it than before. */
const NEEDS = 'framed ';
const NEEDED = ['player', 'club', 'course', 'hole_map'];

/** Whose round this phone enters as a caddie; null for a player of its own. @param {Store} store @param {string} playerId @returns {Promise<Caddying|null>} */
export async function caddyingOf(store, playerId) {
  return (await store.setting(CADDYING + playerId)) ?? null;
}

/** @param {Store} store @returns {Promise<Caddying[]>} every round that this phone enters as a caddie */
export async function everyCaddying(store) {
  return store.run(['settings'], 'readonly', async (transaction) => {
    const range = IDBKeyRange.bound(CADDYING, `${CADDYING}\uffff`);
    return (await answer(transaction.objectStore('settings').getAll(range))).map((row) => row.value);
  });
}

/**
 * The address of the log that is exchanged. @param {string} playerId @param {Caddying|null} caddying @returns {string}
 */
export function logAddress(playerId, caddying) {
  const whose = caddying ? `caddying/${caddying.caddie_id}` : `players/${encodeURIComponent(playerId)}`;
  return `/api/${whose}/changes`;
}

/**
 * Begins entering, or goes on with a new invitation: the round is read from its start again, what waits stays in the outbox.
 * @param {Store} store @param {Caddying} caddying
 */
export async function beginCaddying(store, caddying) {
  await store.run(['settings'], 'readwrite', async (transaction) => {
    const settings = transaction.objectStore('settings');
    settings.put({ name: CADDYING + caddying.player_id, value: caddying });
    settings.delete(`cursor ${caddying.player_id}`);
  });
}

/**
 * Fetches what entering needs, when the server says that it has changed. @param {Store} store @param {Caddying} caddying
 * @param {string|null} mark as the page of the log has it @param {typeof fetch} fetcher @returns {Promise<boolean>} whether it had
 */
export async function fetchNeeds(store, caddying, mark, fetcher) {
  if (mark === null || NEEDS + mark === caddying.mark) return false;
  const needs = await ask(fetcher, `/api/caddying/${caddying.caddie_id}`);
  const { player_id } = caddying;
  const { name, plays, units } = needs.player;
  const course = needs.course;
  /** @type {[string, string, any][]} */
  const records = [
    ['player', player_id, { name, plays, units }],
    ...needs.clubs.map((/** @type {any} */ club) => [
      'club',
      club.club_id,
      { label: club.label, sort: club.sort, loft_deg: club.loft_deg, on_trial: false },
    ]),
    ...(course ? [['course', course.course_id, { name: course.name, tees: course.tees }]] : []),
    ...needs.hole_maps.map((/** @type {any} */ map) => [
      'hole_map',
      map.record_id,
      { course_id: course?.course_id, hole: map.hole, features: map.features, frame: map.frame ?? null },
    ]),
  ];
  await store.run(['records', 'settings'], 'readwrite', async (transaction) => {
    const held = transaction.objectStore('records');
    for (const kind of NEEDED)
      for (const key of await answer(held.index('player_kind').getAllKeys([player_id, kind]))) held.delete(key);
    for (const [kind, record_id, body] of records)
      held.put({ record_id, player_id, kind, body, head: '', leaves: [], deleted: 0, conflict: 0 });
    await keep(transaction, caddying, { mark: NEEDS + needs.mark });
  });
  return true;
}

/**
 * Why nothing more is taken, or null: it is again. @param {Store} store @param {Caddying} caddying @param {string|null} words
 */
export async function setEnded(store, caddying, words) {
  if (caddying.ended === words) return;
  await store.run(['settings'], 'readwrite', (transaction) => keep(transaction, caddying, { ended: words }));
}

/**
 * Changes what is kept of an invitation, unless a newer one has taken its place.
 * @param {IDBTransaction} transaction @param {Caddying} caddying @param {Partial<Caddying>} changed
 */
async function keep(transaction, caddying, changed) {
  const settings = transaction.objectStore('settings');
  const name = CADDYING + caddying.player_id;
  const held = (await answer(settings.get(name)))?.value;
  if (held?.caddie_id === caddying.caddie_id) settings.put({ name, value: { ...held, ...changed } });
}

/** Clears the phone of the player for whom it entered. @param {Store} store @param {string} playerId */
export async function forgetCaddied(store, playerId) {
  await store.runAll('readwrite', (transaction) =>
    clearRows(transaction, (row) => row.player_id !== playerId && row.record_id !== playerId, { answers: true }),
  );
}

/**
 * The competition round that this phone enters for somebody and that is open: a caddie's phone recommends nothing meanwhile
 * either (rules 4.3a and 10.3c). @param {Store} store @returns {Promise<import('./store.js').StoredRecord|null>}
 */
export async function caddiedLock(store) {
  for (const { player_id, ended } of await everyCaddying(store)) {
    const round = ended ? null : await lockingRound(store, player_id);
    if (round) return round;
  }
  return null;
}

/** @param {string} playerId @returns {string} where the server lists who enters for a player */
export function caddiesAddress(playerId) {
  return `/api/players/${encodeURIComponent(playerId)}/caddies`;
}

/** Who enters for this player, as the server last sent. @param {Store} store @param {string} playerId @returns {Promise<CaddieRow[]>} */
export async function cachedCaddies(store, playerId) {
  const [found] = await cachedAnswers(store, [caddiesAddress(playerId)]);
  return found?.value?.caddies ?? [];
}

/**
 * Asks the server who enters for this player and keeps the answer. @param {Store} store @param {string} playerId
 * @param {typeof fetch} fetcher @returns {Promise<CaddieRow[]>}
 */
export async function fetchCaddies(store, playerId, fetcher) {
  const turn = await cacheTurn(store);
  const path = caddiesAddress(playerId);
  const value = await ask(fetcher, path);
  await cacheAnswers(store, turn, 'own', [{ path, at: new Date().toISOString(), value }]);
  return value.caddies;
}

/**
 * Names of the people who enter this round beside the player. @param {CaddieRow[]} caddies @param {string} roundId @returns {string[]}
 */
export function enteringNames(caddies, roundId) {
  return caddies.filter((one) => one.round_id === roundId && one.state === 'entering').map((one) => one.name ?? '');
}
