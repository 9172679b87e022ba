/**
 * The full log as a file: saved and read back with no network. JSON with every change this device holds.
 */
import { takeLog, wholeLog } from './outbox.js';
import { iso } from './clock.js';

/** @typedef {import('./store.js').StoredChange} StoredChange */

export const FORMAT = 'pencilbag log';
export const FORMAT_VERSION = 1;

/** A file that cannot be read back, in words for the player. */
export class UnreadableFile extends Error {}

/** @param {import('./store.js').Store} store @returns {Promise<{name: string, text: string, changes: number}>} */
export async function logFile(store) {
  const changes = await wholeLog(store);
  const saved = iso(Date.now());
  const text = JSON.stringify({
    format: FORMAT,
    version: FORMAT_VERSION,
    saved_at: saved,
    device_id: store.deviceId,
    changes,
  });
  return { name: `pencilbag-${saved.slice(0, 10)}.json`, text, changes: changes.length };
}

/** @param {any} change parsed JSON @returns {change is StoredChange} */
function isStoredChange(change) {
  return (
    ['change_id', 'record_id', 'kind', 'device_id', 'client_time', 'player_id'].every(
      (name) => typeof change?.[name] === 'string' && change[name],
    ) &&
    Array.isArray(change.parents) &&
    (change.op === 'put' || change.op === 'delete') &&
    (change.op === 'delete' || (typeof change.body === 'object' && change.body !== null)) &&
    Number.isInteger(change.schema_version)
  );
}

/**
 * Reads a saved log back: all or nothing. @param {import('./store.js').Store} store @param {string} text
 * @returns {Promise<{added: number, known: number, different: string[], players: string[]}>}
 */
export async function readLogFile(store, text) {
  let file;
  try {
    file = JSON.parse(text);
  } catch {
    throw new UnreadableFile('this file is not a saved log, or is incomplete');
  }
  if (file?.format !== FORMAT || !Array.isArray(file.changes))
    throw new UnreadableFile('this file is not a saved log of this app');
  if (!(file.version <= FORMAT_VERSION))
    throw new UnreadableFile('this log was saved by a newer version of the app: update first');
  /** @type {unknown[]} */
  const read = file.changes;
  const bad = read.findIndex((change) => !isStoredChange(change));
  if (bad >= 0)
    throw new UnreadableFile(`change ${bad + 1} of ${read.length} in this file is damaged: nothing was restored`);
  const changes = read.filter(isStoredChange).map((change) => ({
    ...change,
    effective_time: change.effective_time ?? null,
    seq: null,
  }));
  const result = await takeLog(store, changes);
  const players = [...new Set(changes.map((change) => change.player_id))];
  return { ...result, players };
}
