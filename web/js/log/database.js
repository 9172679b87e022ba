/**
 * The local database: one door to IndexedDB. Opens it, upgrades it, and knows when the connection is lost.
 *
 * Stores: `changes` (the log as this device holds it), `outbox` (what has not come back from the server yet, in order),
 * `records` (the fold of the log, made anew with every change), `undo`, `tallies`, `settings`, `drafts` (entered, not saved yet),
 * `answers` (of the server, see cache.js).
 *
 * A row that is to stay when another player leaves this phone carries its `player_id` (see clearing.js).
 */

export const DATABASE_NAME = 'pencilbag';
export const DATABASE_VERSION = 3;

/** A write that did not happen: nothing of it is kept. `reason` is in words for the player. */
export class NotSaved extends Error {
  /** @param {string} reason @param {unknown} [cause] */
  constructor(reason, cause) {
    super(reason, { cause });
    this.name = 'NotSaved';
  }
}

/**
 * What the app wants to hear about: `blocked` (another tab holds the old version), `outdated` (another tab wants a newer
 * version: this one has let go), `lost` (the browser closed the database, for example to clear it).
 * @typedef {{blocked?: () => void, outdated?: () => void, lost?: () => void}} Listeners
 */

/**
 * @param {IDBDatabase} database @param {IDBTransaction} transaction @param {number} from the version that was there, 0 for none
 */
function upgrade(database, transaction, from) {
  if (from < 1) {
    const changes = database.createObjectStore('changes', { keyPath: 'change_id' });
    changes.createIndex('record_id', 'record_id');
    changes.createIndex('player_id', 'player_id');
    const outbox = database.createObjectStore('outbox', { keyPath: 'position', autoIncrement: true });
    outbox.createIndex('change_id', 'change_id', { unique: true });
    outbox.createIndex('player_id', 'player_id');
    const records = database.createObjectStore('records', { keyPath: 'record_id' });
    records.createIndex('player_kind', ['player_id', 'kind']);
    records.createIndex('kind', 'kind');
    records.createIndex('round_id', 'round_id');
    records.createIndex('conflict', 'conflict');
    const undo = database.createObjectStore('undo', { keyPath: 'position', autoIncrement: true });
    undo.createIndex('round_id', 'round_id');
    database.createObjectStore('tallies', { keyPath: 'round_id' });
    database.createObjectStore('settings', { keyPath: 'name' });
  }
  if (from < 2) {
    const drafts = database.createObjectStore('drafts', { keyPath: 'key' });
    drafts.createIndex('player_id', 'player_id');
    drafts.createIndex('record_id', 'record_id');
  }
  if (from < 3) {
    const answers = database.createObjectStore('answers', { keyPath: 'path' });
    answers.createIndex('shelf_at', ['shelf', 'at']);
    moveAnswers(transaction.objectStore('settings'), answers);
  }
}

/**
 * Answers stood in the settings once. The default baseline stays at hand; the others are asked for again: some of them may speak
 * of somebody who has left.
 * @param {IDBObjectStore} settings @param {IDBObjectStore} answers
 */
function moveAnswers(settings, answers) {
  const tour = settings.get('baseline tour');
  tour.onsuccess = () => {
    const at = new Date(0).toISOString();
    if (tour.result)
      answers.put({ path: '/api/baselines/tour', player_id: '', shelf: 'baseline', at, value: tour.result.value });
  };
  for (const name of ['evidence kept', 'own answers']) settings.delete(name);
  settings.delete(IDBKeyRange.bound('baseline ', 'baseline \uffff'));
}

/**
 * Opens the database. Waits while another tab holds an old version (and says so through `blocked`).
 * @param {string} [name] @param {Listeners} [listeners] @returns {Promise<IDBDatabase>}
 */
export function openDatabase(name = DATABASE_NAME, listeners = {}) {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(name, DATABASE_VERSION);
    request.onupgradeneeded = (event) =>
      upgrade(request.result, /** @type {IDBTransaction} */ (request.transaction), event.oldVersion);
    request.onblocked = () => listeners.blocked?.();
    request.onerror = () => reject(openFailure(request.error));
    request.onsuccess = () => {
      const database = request.result;
      database.onversionchange = () => {
        database.close();
        listeners.outdated?.();
      };
      database.onclose = () => listeners.lost?.();
      resolve(database);
    };
  });
}

/** @param {DOMException|null} error @returns {NotSaved} */
function openFailure(error) {
  if (error?.name === 'VersionError') {
    return new NotSaved('a newer version of this app is already here: close this tab and open the app again', error);
  }
  return new NotSaved(
    `this browser allows no storage (${error?.name ?? 'unknown'}): private windows often refuse it`,
    error,
  );
}

/**
 * The answer of one request.
 * @template T @param {IDBRequest<T>} request @returns {Promise<T>}
 */
export function answer(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/**
 * Runs `work` in one transaction; answers on `complete` and never before, so that "saved" means on the disk
 * (durability strict). Everything is undone when anything fails. `work` may wait for requests of this transaction only.
 * @template T
 * @param {IDBDatabase} database @param {string[]} stores @param {IDBTransactionMode} mode
 * @param {(transaction: IDBTransaction) => Promise<T>} work
 * @param {IDBTransactionDurability} [durability] relaxed: outlives the tab, and may be lost with the power @returns {Promise<T>}
 */
export function inTransaction(database, stores, mode, work, durability = mode === 'readwrite' ? 'strict' : 'default') {
  return new Promise((resolve, reject) => {
    let transaction;
    try {
      transaction = database.transaction(stores, mode, { durability });
    } catch (error) {
      reject(writeFailure(error));
      return;
    }
    /** @type {T} */
    let result;
    /** @type {unknown} */
    let failure = null;
    transaction.oncomplete = () => resolve(result);
    transaction.onabort = () => reject(failureOf(failure, transaction.error));
    work(transaction).then(
      (value) => {
        result = value;
      },
      (error) => {
        failure = error;
        try {
          transaction.abort();
        } catch {
          reject(failureOf(error, transaction.error));
        }
      },
    );
  });
}

/**
 * A failure of our own goes out as it is; a failure of the database becomes "not saved".
 * @param {unknown} failure @param {DOMException|null} abort @returns {unknown}
 */
function failureOf(failure, abort) {
  if (failure && !(failure instanceof DOMException)) return failure;
  return writeFailure(abort ?? failure);
}

/** @param {unknown} error @returns {NotSaved} */
function writeFailure(error) {
  const name = error instanceof Error ? error.name : 'AbortError';
  if (name === 'QuotaExceededError') return new NotSaved('the phone has no space left for this app', error);
  if (name === 'InvalidStateError') return new NotSaved('the local database was closed: reload the app', error);
  if (name === 'DataError' || name === 'UnknownError')
    return new NotSaved(`the phone could not write to its storage (${name}), perhaps it is full`, error);
  return new NotSaved(`the local database failed (${name})`, error);
}
