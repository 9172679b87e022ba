/**
 * Clearing the phone of somebody: erasing a player, signing out, another account signing in. It walks every store that the
 * database has. A row goes unless it says whose it is and that player stays: so a store that is added later is covered
 * without a word here, as long as rows that are to outlive another player's leaving carry their `player_id`.
 */
import { NOBODY } from './cache.js';
import { answer } from './database.js';
import { forgetLeft } from './drafts.js';
import { CACHE_TURN, OF_THE_DEVICE } from './erased.js';
import { unsentEntries } from './outbox.js';

/** @typedef {import('./store.js').Store} Store @typedef {{player_id: string, record_id?: string}} Owned a row that says whose it is */

/**
 * @param {IDBTransaction} transaction over every store, for writing @param {(row: Owned) => boolean} stays
 * asked of rows that say whose they are @param {{answers: boolean}} more whether answers about players who stay are kept too
 */
export async function clearRows(transaction, stays, { answers }) {
  forgetLeft(stays);
  for (const name of transaction.objectStoreNames) {
    const store = transaction.objectStore(name);
    const [keys, rows] = await Promise.all([answer(store.getAllKeys()), answer(store.getAll())]);
    const rowStays = (/** @type {any} */ row) => {
      if (name === 'settings') return settingStays(row, stays);
      if (name === 'answers' && row.player_id === NOBODY) return true;
      return typeof row?.player_id === 'string' && stays(row) && (answers || name !== 'answers');
    };
    const gone = keys.filter((_key, place) => !rowStays(rows[place]));
    if (gone.length === keys.length) store.clear();
    else for (const key of gone) store.delete(key);
  }
  const settings = transaction.objectStore('settings');
  const turn = (await answer(settings.get(CACHE_TURN)))?.value ?? 0;
  settings.put({ name: CACHE_TURN, value: turn + 1 });
}

/** How the settings begin whose name ends with a player's id. */
const OF_A_PLAYER = ['cursor ', 'caddying '];

/** @param {{name: string, value: any}} row @param {(row: Owned) => boolean} stays */
function settingStays({ name, value }, stays) {
  if (OF_THE_DEVICE.includes(name)) return true;
  if (name === 'player_id') return stays({ player_id: value });
  const whose = OF_A_PLAYER.find((begin) => name.startsWith(begin));
  return whose !== undefined && stays({ player_id: name.slice(whose.length) });
}

/**
 * Clears the phone of everybody but `own`. A player of whom the server lacks something stays, unless all of it is named
 * in `lose`: what was written meanwhile is never lost unasked.
 * @param {Store} store @param {{own?: string|null, lose?: string[]}} wish @returns {Promise<string[]>} players who stay
 */
export async function clearPhone(store, { own = null, lose = [] } = {}) {
  return store.runAll('readwrite', async (transaction) => {
    const unsent = await unsentEntries(transaction);
    const staying = new Set(unsent.filter((entry) => !lose.includes(entry.change_id)).map((entry) => entry.player_id));
    if (own) staying.add(own);
    await clearRows(transaction, (row) => staying.has(row.player_id), { answers: false });
    return [...staying];
  });
}

/**
 * What the server lacks, player by player. @param {Store} store
 * @returns {Promise<{player_id: string, name: string, changes: string[]}[]>}
 */
export async function unsentByPlayer(store) {
  return store.runAll('readonly', async (transaction) => {
    const found = new Map();
    for (const { player_id, change_id } of await unsentEntries(transaction)) {
      const record = await answer(transaction.objectStore('records').get(player_id));
      if (!found.has(player_id))
        found.set(player_id, { player_id, name: record?.body?.name ?? 'a player', changes: [] });
      found.get(player_id).changes.push(change_id);
    }
    return [...found.values()];
  });
}
