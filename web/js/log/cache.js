/**
 * The server's answers that this phone keeps, so that they can be read without a network. One store, one way in: the write
 * itself refuses what was asked before the phone was cleared of somebody, and what is about an erased player.
 *
 * @typedef {{path: string, at: string, value: any}} CachedAnswer `at`: when the server gave it, ISO 8601
 * @typedef {{player: string, words: string|null}} Lock why the player's evidence is locked, null: it is not
 */
import { answer } from './database.js';
import { CACHE_TURN, erasuresIn } from './erased.js';

/** @typedef {import('./store.js').Store} Store */

/**
 * How many answers each shelf holds; the oldest go first. Plans (two courses, about 65 kB each) stand on a shelf of their own,
 * so that the plan of a round pushes no other answer out; the evidence is about 1 MB at the most, from a season's summary.
 * @type {Record<string, number>}
 */
const ROOM = { plan: 40, evidence: 60, own: 60, lock: 200, baseline: 20 };
const PLAN = /\/tee-plan\?/;
const PLAYER = /^\/api\/players\/([^/?]+)/;
const BASELINES = '/api/baselines/';

/** Answers about nobody have this for a player: they may stay whoever goes. */
export const NOBODY = '';
const PUBLIC = ['/api/baselines/tour'];

/** @param {string} id @returns {string} where the server answers with a baseline */
export function baselinePath(id) {
  return `${BASELINES}${encodeURIComponent(id)}`;
}

/** Whose answer it is; null: a list, or the account's own. @param {string} path @returns {string|null} */
function playerOf(path) {
  if (PUBLIC.includes(path)) return NOBODY;
  const id = PLAYER.exec(path)?.[1];
  return id === undefined ? null : decodeURIComponent(id);
}

/** @param {string} player @returns {string} the key of the player's lock among the answers */
function lockKey(player) {
  return `lock ${player}`;
}

/** To be read before the server is asked, and given back with the answer. @param {Store} store @returns {Promise<number>} */
export async function cacheTurn(store) {
  return (await store.setting(CACHE_TURN)) ?? 0;
}

/**
 * Keeps answers, in one transaction with the look at who was erased or has left since they were asked for.
 * @param {Store} store @param {number} turn as it was before asking @param {'evidence'|'own'} shelf @param {CachedAnswer[]} answers
 * @param {Lock|null} [lock]
 */
export async function cacheAnswers(store, turn, shelf, answers, lock = null) {
  await store.run(['answers', 'settings'], 'readwrite', async (transaction) => {
    const settings = transaction.objectStore('settings');
    if (((await answer(settings.get(CACHE_TURN)))?.value ?? 0) !== turn) return;
    const erased = (await erasuresIn(transaction)).map((one) => one.player_id);
    const cache = transaction.objectStore('answers');
    for (const { path, at, value } of answers) {
      const player_id = playerOf(path);
      if (speaksOfErased(player_id, value, erased)) continue;
      const on = PLAN.test(path) ? 'plan' : path.startsWith(BASELINES) ? 'baseline' : shelf;
      cache.put({ path, player_id, shelf: on, at, value });
    }
    if (lock?.words && !erased.includes(lock.player))
      cache.put({
        path: lockKey(lock.player),
        player_id: lock.player,
        shelf: 'lock',
        at: new Date().toISOString(),
        value: lock.words,
      });
    else if (lock) cache.delete(lockKey(lock.player));
    await makeRoom(cache);
  });
}

/**
 * While an erasure waits for the server, it still answers about that player: by the id, in a list, or as the account's own.
 * @param {string|null} player @param {unknown} value @param {string[]} erased
 */
function speaksOfErased(player, value, erased) {
  if (!erased.length || player === NOBODY) return false;
  if (player === null || erased.includes(player)) return true;
  const text = JSON.stringify(value);
  return erased.some((id) => text.includes(id));
}

/** @param {IDBObjectStore} cache */
async function makeRoom(cache) {
  for (const [shelf, room] of Object.entries(ROOM)) {
    const range = IDBKeyRange.bound([shelf], [shelf, []]);
    const keys = await answer(cache.index('shelf_at').getAllKeys(range)); // the oldest first
    for (const key of keys.slice(0, Math.max(0, keys.length - room))) cache.delete(key);
  }
}

/**
 * What is cached of these paths. @param {Store} store @param {string[]} paths @returns {Promise<(CachedAnswer|null)[]>}
 */
export async function cachedAnswers(store, paths) {
  return store.run(['answers'], 'readonly', async (transaction) => {
    const cache = transaction.objectStore('answers');
    const found = await Promise.all(paths.map((path) => answer(cache.get(path))));
    return found.map((row) => (row ? { path: row.path, at: row.at, value: row.value } : null));
  });
}

/** Why the player's evidence is locked, as the server said last; null: it is not. @param {Store} store @param {string} player */
export async function cachedLock(store, player) {
  const [row] = await cachedAnswers(store, [lockKey(player)]);
  return /** @type {string|null} */ (row?.value ?? null);
}

/** The answer at one path is no longer good. @param {Store} store @param {string} path */
export async function forgetAnswer(store, path) {
  await store.run(
    ['answers'],
    'readwrite',
    async (transaction) => void transaction.objectStore('answers').delete(path),
  );
}

/**
 * A player can no longer be read: what was cached goes, lists that name the player too.
 * @param {Store} store @param {string} player
 */
export async function forgetPlayer(store, player) {
  await store.run(['answers'], 'readwrite', async (transaction) => {
    const cache = transaction.objectStore('answers');
    for (const row of await answer(cache.getAll())) {
      const listed = row.shelf === 'evidence' && row.player_id === null && JSON.stringify(row.value).includes(player);
      if (row.player_id === player || listed) cache.delete(row.path);
    }
  });
}
