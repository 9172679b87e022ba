/**
 * Erasing a player from this device: at once, in full, without a network. The server is asked as soon as it can be reached;
 * until then the player's id waits in the settings, and nothing of the player is taken in or written again.
 */
import { iso } from './clock.js';
import { clearRows } from './clearing.js';
import { answer } from './database.js';
import { CACHE_TURN, ERASURES, erasuresIn } from './erased.js';

/** @typedef {import('./erased.js').Erasure} Erasure */

/**
 * Erases all that this device holds of a player, in one transaction, and notes that the server is to be asked.
 * @param {import('./store.js').Store} store @param {string} playerId @returns {Promise<void>}
 */
export async function erasePlayer(store, playerId) {
  await store.runAll('readwrite', async (transaction) => {
    await clearRows(transaction, (row) => row.player_id !== playerId && row.record_id !== playerId, { answers: true });
    await changeErasures(transaction, (waiting) => [
      ...waiting.filter((one) => one.player_id !== playerId),
      { player_id: playerId, asked_at: iso(Date.now()) },
    ]);
  });
}

/**
 * The server has erased the player, or the player wants it to keep what it has. What was asked of the server until now is not
 * taken in: it may still speak of the player.
 * @param {import('./store.js').Store} store @param {string} playerId
 */
export async function erasureOver(store, playerId) {
  await store.run(['settings', 'answers'], 'readwrite', async (transaction) => {
    await changeErasures(transaction, (waiting) => waiting.filter((one) => one.player_id !== playerId));
    const settings = transaction.objectStore('settings');
    const turn = (await answer(settings.get(CACHE_TURN)))?.value ?? 0;
    settings.put({ name: CACHE_TURN, value: turn + 1 });
    const cache = transaction.objectStore('answers');
    for (const row of await answer(cache.getAll()))
      if (row.shelf === 'own' && row.player_id === null) cache.delete(row.path); // the account's
  });
}

/** @param {IDBTransaction} transaction @param {(waiting: Erasure[]) => Erasure[]} change */
async function changeErasures(transaction, change) {
  const settings = transaction.objectStore('settings');
  settings.put({ name: ERASURES, value: change(await erasuresIn(transaction)) });
}
