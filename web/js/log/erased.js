/** Who was erased here, and the settings that outlive everybody: what every write to the store asks first. */
import { NotSaved, answer } from './database.js';

/** @typedef {{player_id: string, asked_at: string}} Erasure `asked_at`: ISO 8601 */

/** Players erased here of whom the server is still to be asked. */
export const ERASURES = 'erasures';

/** A number raised whenever the phone is cleared of somebody: what was asked of the server before is not taken in after. */
export const CACHE_TURN = 'cache turn';

/** What is the device's own and says nothing of anybody: it outlives every clearing. */
export const OF_THE_DEVICE = ['device_id', 'clock_offset_ms', ERASURES, CACHE_TURN];

/** The erasures that wait for the server. @param {IDBTransaction} transaction over the settings @returns {Promise<Erasure[]>} */
export async function erasuresIn(transaction) {
  return (await answer(transaction.objectStore('settings').get(ERASURES)))?.value ?? [];
}

/**
 * NotSaved for a player whose erasure waits for the server.
 * @param {IDBTransaction} transaction over the settings @param {string} playerId
 */
export async function refuseErased(transaction, playerId) {
  if ((await erasuresIn(transaction)).some((one) => one.player_id === playerId))
    throw new NotSaved('this player was erased on this phone');
}
