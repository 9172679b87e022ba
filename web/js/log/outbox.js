/**
 * What the exchange needs of the local database: the outbox, pages of pulled changes with their cursor, problems, and
 * all of the log. A change leaves the outbox only when it comes back through pull.
 */
import { answer } from './database.js';
import { refuseErased } from './erased.js';

/** @typedef {import('./store.js').Store} Store @typedef {import('./store.js').StoredChange} StoredChange */
/** @typedef {import('./answers.js').Problem} Problem @typedef {import('./answers.js').ServerChange} ServerChange */

/**
 * A change that has not come back from the server. `position`: its place in the order of sending; `problem`: set aside with it.
 * @typedef {{position: number, change_id: string, player_id: string, problem?: Problem}} OutboxEntry
 * @typedef {{change_id: string, problem: Problem, kind: string, body: any}} SetAside
 */

const PAGE_STORES = ['changes', 'outbox', 'records', 'tallies', 'settings'];

/** The wire form of a stored change. @param {StoredChange} stored @returns {import('./fold.js').Change} */
export function wireForm(stored) {
  const { change_id, record_id, kind, parents, op, body, device_id, client_time, schema_version } = stored;
  const {
    player_id: _player,
    effective_time: _time,
    seq: _seq,
    received_at: _received,
    ...others
  } = /** @type {any} */ (stored);
  return { ...others, change_id, record_id, kind, parents, op, body, device_id, client_time, schema_version };
}

/**
 * The next changes to send, oldest first, within the limits of one push. Those set aside with a problem stay behind.
 * @param {Store} store @param {string} playerId @param {number} after position @param {number} most @param {number} mostBytes
 * @returns {Promise<{changes: import('./fold.js').Change[], last: number}>}
 */
export async function outboxBatch(store, playerId, after, most, mostBytes) {
  return store.run(['outbox', 'changes'], 'readonly', async (transaction) => {
    const entries = await answer(transaction.objectStore('outbox').index('player_id').getAll(playerId));
    const waiting = entries.filter((entry) => entry.position > after && !entry.problem).slice(0, most);
    const changes = [];
    let last = after;
    let bytes = 0;
    for (const entry of waiting) {
      const stored = await answer(transaction.objectStore('changes').get(entry.change_id));
      if (!stored) continue;
      const change = wireForm(stored);
      bytes += new TextEncoder().encode(JSON.stringify(change)).length;
      if (changes.length && bytes > mostBytes) break;
      changes.push(change);
      last = entry.position;
    }
    return { changes, last };
  });
}

/**
 * How much is not on the server yet. @param {Store} store @param {string} playerId
 * @returns {Promise<{waiting: number, problems: SetAside[]}>}
 */
export async function outboxState(store, playerId) {
  return store.run(['outbox', 'changes', 'records'], 'readonly', async (transaction) => {
    const entries = await unsentEntries(transaction, playerId);
    /** @type {SetAside[]} */
    const problems = [];
    for (const entry of entries) {
      if (!entry.problem) continue;
      const change = await answer(transaction.objectStore('changes').get(entry.change_id));
      problems.push({
        change_id: entry.change_id,
        problem: entry.problem,
        kind: change?.kind ?? '',
        body: change?.body ?? null,
      });
    }
    return { waiting: entries.length - problems.length, problems };
  });
}

/**
 * Whether a change was set aside because the server does not know its kind of record: it is older than this app, and takes it
 * once it is not. It goes again at each start.
 * @param {SetAside} one @returns {boolean}
 */
export function waitsForNewerServer({ problem }) {
  return (problem.errors ?? []).some(({ field }) => /(^|\.)kind$/.test(field));
}

/**
 * Entries of the outbox that the server lacks, of a player or of all. One that was set aside and corrected since is none: a
 * later change speaks for its record.
 * @param {IDBTransaction} transaction over outbox, changes and records @param {string} [playerId] @returns {Promise<OutboxEntry[]>}
 */
export async function unsentEntries(transaction, playerId) {
  const outbox = transaction.objectStore('outbox');
  const entries = await answer(playerId === undefined ? outbox.getAll() : outbox.index('player_id').getAll(playerId));
  const found = [];
  for (const entry of entries) {
    const change = entry.problem ? await answer(transaction.objectStore('changes').get(entry.change_id)) : null;
    const record = change ? await answer(transaction.objectStore('records').get(change.record_id)) : null;
    if (!record || record.leaves.includes(entry.change_id)) found.push(entry);
  }
  return found;
}

/**
 * Notes what the server could not take; the change stays here and is not sent again until asked for.
 * @param {Store} store @param {{change_id: string, problem: Problem}[]} refused
 */
export async function setAside(store, refused) {
  if (!refused.length) return;
  await store.run(['outbox'], 'readwrite', async (transaction) => {
    const outbox = transaction.objectStore('outbox');
    for (const { change_id, problem } of refused) {
      if (typeof change_id !== 'string') continue;
      const entry = await answer(outbox.index('change_id').get(change_id));
      if (entry) outbox.put({ ...entry, problem });
    }
  });
}

/** Sends again what was set aside. @param {Store} store @param {string} playerId */
export async function sendAgain(store, playerId) {
  await store.run(['outbox'], 'readwrite', async (transaction) => {
    const outbox = transaction.objectStore('outbox');
    for (const entry of await answer(outbox.index('player_id').getAll(playerId))) {
      if (!entry.problem) continue;
      const { problem: _gone, ...waiting } = entry;
      outbox.put(waiting);
    }
  });
}

/** @param {string} playerId @returns {string} the name of the setting that holds the player's cursor */
function cursorName(playerId) {
  return `cursor ${playerId}`;
}

/** @param {Store} store @param {string} playerId @returns {Promise<string|null>} */
export async function cursorOf(store, playerId) {
  return (await store.setting(cursorName(playerId))) ?? null;
}

/**
 * Takes in one page and its cursor in one transaction: changes, records made anew, what came back leaves the outbox.
 * @param {Store} store @param {string} playerId @param {ServerChange[]} changes @param {string|null} cursor null keeps the cursor
 * @returns {Promise<number>} how many changes were new to this device
 */
export async function takePage(store, playerId, changes, cursor) {
  return store.run(PAGE_STORES, 'readwrite', async (transaction) => {
    await refuseErased(transaction, playerId);
    const log = transaction.objectStore('changes');
    const outbox = transaction.objectStore('outbox');
    const touched = new Set();
    let fresh = 0;
    for (const change of changes) {
      const known = await answer(log.get(change.change_id));
      if (!known) fresh += 1;
      if (!known || known.effective_time !== change.effective_time) touched.add(change.record_id);
      log.put({ ...change, player_id: playerId });
      const entry = await answer(outbox.index('change_id').getKey(change.change_id));
      if (entry !== undefined) outbox.delete(entry);
    }
    for (const recordId of touched) await store.refold(transaction, playerId, recordId);
    if (cursor !== null) transaction.objectStore('settings').put({ name: cursorName(playerId), value: cursor });
    return fresh;
  });
}

/**
 * The server no longer knows our cursor (a backup was restored): forget the cursor and queue again all that is held here.
 * What comes back through pull leaves the outbox again.
 * @param {Store} store @param {string} playerId @param {string|null} [deviceId] only what this device wrote
 */
export async function queueEverything(store, playerId, deviceId = null) {
  await store.run(PAGE_STORES, 'readwrite', async (transaction) => {
    transaction.objectStore('settings').delete(cursorName(playerId));
    const ofPlayer = transaction.objectStore('changes').index('player_id');
    const held =
      deviceId === null
        ? await answer(ofPlayer.getAllKeys(playerId))
        : (await answer(ofPlayer.getAll(playerId)))
            .filter((change) => change.device_id === deviceId)
            .map((change) => change.change_id);
    await queue(transaction, playerId, held);
  });
}

/**
 * @param {IDBTransaction} transaction @param {string} playerId @param {IDBValidKey[]} changeIds
 */
async function queue(transaction, playerId, changeIds) {
  const outbox = transaction.objectStore('outbox');
  for (const changeId of changeIds) {
    const queued = await answer(outbox.index('change_id').getKey(changeId));
    if (queued === undefined) outbox.add({ change_id: changeId, player_id: playerId });
  }
}

/** Every change this device holds. @param {Store} store @returns {Promise<StoredChange[]>} */
export async function wholeLog(store) {
  return store.run(['changes'], 'readonly', (transaction) => answer(transaction.objectStore('changes').getAll()));
}

/**
 * Takes in changes from a file, offline: what is new is kept and queued for the server; nothing held is overwritten.
 * @param {Store} store @param {StoredChange[]} changes @returns {Promise<{added: number, known: number, different: string[]}>}
 */
export async function takeLog(store, changes) {
  return store.run(PAGE_STORES, 'readwrite', async (transaction) => {
    const log = transaction.objectStore('changes');
    const touched = new Map();
    const result = { added: 0, known: 0, different: /** @type {string[]} */ ([]) };
    for (const playerId of new Set(changes.map((change) => change.player_id)))
      await refuseErased(transaction, playerId);
    for (const change of changes) {
      const held = await answer(log.get(change.change_id));
      if (held) {
        result.known += 1;
        if (JSON.stringify(held.body) !== JSON.stringify(change.body)) result.different.push(change.change_id);
        continue;
      }
      log.add(change);
      await queue(transaction, change.player_id, [change.change_id]);
      touched.set(change.record_id, change.player_id);
      result.added += 1;
    }
    for (const [recordId, playerId] of touched) await store.refold(transaction, playerId, recordId);
    return result;
  });
}
