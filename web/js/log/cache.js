/**
 * The server's answers that this phone keeps, so that they can be read without a network. One store, one way in: the write
 * itself refuses what was asked before the phone was cleared of somebody, and what is about an erased player.
 *
 * @typedef {{path: string, at: string, value: any}} CachedAnswer `at`: when the server gave it, ISO 8601
 * @typedef {{path: string, at: string, mark: string|null, size: number, value?: any}} Ahead an answer kept before anybody asked
 * for it. `mark`: the cursor of the player's log that it counts, null: not known; `size`: of its JSON, characters
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
/** Answers kept before anybody asked for them have a shelf by size, and come and go by `putAhead`. A choice of this tool. */
export const MOST_AHEAD_BYTES = 3_000_000;
const AHEAD = 'ahead';
const PLAN = /\/(tee-plan|course-bag|round-ahead|rounds-checked)\?/;
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
      const known = await answer(cache.get(path));
      if (known?.shelf === AHEAD) cache.put({ ...known, at, value, mark: null, size: JSON.stringify(value).length });
      else cache.put({ path, player_id, shelf: on, at, value });
    }
    if (lock) putLock(cache, lock, erased);
    await makeRoom(cache);
  });
}

/** @param {IDBObjectStore} cache @param {Lock} lock @param {string[]} erased */
function putLock(cache, { player, words }, erased) {
  if (!words) cache.delete(lockKey(player));
  else if (!erased.includes(player))
    cache.put({ path: lockKey(player), player_id: player, shelf: 'lock', at: new Date().toISOString(), value: words });
}

/** The server says that the player's evidence is locked. @param {Store} store @param {number} turn @param {Lock} lock */
export async function lockAnswers(store, turn, lock) {
  await cacheAnswers(store, turn, 'evidence', [], lock);
}

/**
 * Keeps an answer that nobody has asked for yet, in place of others. False: the phone was cleared of somebody meanwhile.
 * @param {Store} store @param {number} turn as it was before asking @param {Ahead} kept with its value @param {string[]} gone paths
 * @returns {Promise<boolean>}
 */
export async function putAhead(store, turn, kept, gone) {
  return store.run(['answers', 'settings'], 'readwrite', async (transaction) => {
    const settings = transaction.objectStore('settings');
    if (((await answer(settings.get(CACHE_TURN)))?.value ?? 0) !== turn) return false;
    const erased = (await erasuresIn(transaction)).map((one) => one.player_id);
    const player_id = playerOf(kept.path);
    if (speaksOfErased(player_id, kept.value, erased)) return false;
    const cache = transaction.objectStore('answers');
    for (const path of gone) cache.delete(path);
    cache.put({ ...kept, player_id, shelf: AHEAD });
    return true;
  });
}

/** What is kept before anybody asked for it, without the answers themselves. @param {Store} store @returns {Promise<Ahead[]>} */
export async function aheadKept(store) {
  return store.run(['answers'], 'readonly', async (transaction) => {
    const range = IDBKeyRange.bound([AHEAD], [AHEAD, []]);
    const request = transaction.objectStore('answers').index('shelf_at').openCursor(range);
    /** @type {Ahead[]} */
    const found = [];
    for (let cursor = await answer(request); cursor; cursor = await answer(request)) {
      const { path, at, mark, size } = cursor.value;
      found.push({ path, at, mark, size });
      cursor.continue();
    }
    return found;
  });
}

/** Every path whose answer is kept. @param {Store} store @returns {Promise<Set<string>>} */
export async function cachedPaths(store) {
  return store.run(
    ['answers'],
    'readonly',
    async (transaction) =>
      new Set(/** @type {string[]} */ (await answer(transaction.objectStore('answers').getAllKeys()))),
  );
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

/** Why the player's evidence is locked, as the server last sent; null: it is not. @param {Store} store @param {string} player */
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
 * A player can no longer be read: what was cached goes, lists and answers about another that name the player too.
 * @param {Store} store @param {string} player
 */
export async function forgetPlayer(store, player) {
  await store.run(['answers'], 'readwrite', async (transaction) => {
    const cache = transaction.objectStore('answers');
    for (const row of await answer(cache.getAll())) {
      const listed = ['evidence', AHEAD].includes(row.shelf) && JSON.stringify(row.value).includes(player);
      if (row.player_id === player || listed) cache.delete(row.path);
    }
  });
}
