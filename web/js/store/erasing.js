/**
 * Erasing a player from this device: at once and whole, without a network. The server is asked as soon as it can be reached;
 * until then the player's id waits in the settings, and nothing of the player is taken in or written again.
 */
import { iso } from '../sync/clock.js';
import { NotSaved, answer } from './database.js';

export const ERASURES = 'erasures';
const EVIDENCE = 'evidence kept';
const OWN_ANSWERS = 'own answers';
const ALL_STORES = ['changes', 'outbox', 'records', 'undo', 'tallies', 'settings', 'drafts'];

/**
 * NotSaved for a player whose erasure waits for the server.
 * @param {IDBTransaction} transaction over the settings @param {string} playerId
 */
export async function refuseErased(transaction, playerId) {
  const waiting = (await answer(transaction.objectStore('settings').get(ERASURES)))?.value ?? [];
  if (waiting.some((/** @type {any} */ one) => one.player_id === playerId)) throw new NotSaved('this player was erased on this phone');
}

/**
 * Erases all that this device holds of a player, in one transaction, and notes that the server is to be asked.
 * @param {import('./store.js').Store} store @param {string} playerId @returns {Promise<void>}
 */
export async function erasePlayer(store, playerId) {
  await store.run(ALL_STORES, 'readwrite', async (transaction) => {
    const records = transaction.objectStore('records');
    for (const record of await answer(records.getAll())) {
      if (record.player_id !== playerId) continue;
      records.delete(record.record_id);
      if (record.kind === 'round') transaction.objectStore('tallies').delete(record.record_id);
    }
    for (const name of ['changes', 'outbox', 'drafts']) {
      const kept = transaction.objectStore(name);
      for (const key of await answer(kept.index('player_id').getAllKeys(playerId))) kept.delete(key);
    }
    const undo = transaction.objectStore('undo');
    for (const step of await answer(undo.getAll())) if (step.player_id === playerId) undo.delete(step.position);
    await eraseSettings(transaction.objectStore('settings'), playerId);
  });
}

/** Erases what was entered and not saved, whoever entered it. @param {import('./store.js').Store} store */
export async function eraseDrafts(store) {
  await store.run(['drafts'], 'readwrite', async (transaction) => {
    transaction.objectStore('drafts').clear();
  });
}

/** @param {IDBObjectStore} settings @param {string} playerId */
async function eraseSettings(settings, playerId) {
  const value = async (/** @type {string} */ name) => (await answer(settings.get(name)))?.value;
  if ((await value('player_id')) === playerId) settings.delete('player_id');
  for (const name of [`cursor ${playerId}`, OWN_ANSWERS]) settings.delete(name);
  const evidence = await value(EVIDENCE);
  if (evidence) settings.put({ name: EVIDENCE, value: withoutPlayer(evidence, playerId) });
  const waiting = ((await value(ERASURES)) ?? []).filter((/** @type {any} */ one) => one.player_id !== playerId);
  settings.put({ name: ERASURES, value: [...waiting, { player_id: playerId, asked_at: iso(Date.now()) }] });
}

/** Kept answers without those of a player, and without the list of names. @param {any} evidence @param {string} playerId */
function withoutPlayer(evidence, playerId) {
  const answers = Object.entries(evidence.answers).filter(([path]) => path !== '/api/players' && !path.includes(playerId));
  const locks = Object.entries(evidence.locks).filter(([id]) => id !== playerId);
  return { answers: Object.fromEntries(answers), locks: Object.fromEntries(locks) };
}

/**
 * The server has erased the player, or the player wants it to keep what it has.
 * @param {import('./store.js').Store} store @param {string} playerId
 */
export async function erasureOver(store, playerId) {
  await store.run(['settings'], 'readwrite', async (transaction) => {
    const settings = transaction.objectStore('settings');
    const waiting = (await answer(settings.get(ERASURES)))?.value ?? [];
    settings.put({ name: ERASURES, value: waiting.filter((/** @type {any} */ one) => one.player_id !== playerId) });
    settings.delete(OWN_ANSWERS);
  });
}
