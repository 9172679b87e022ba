/**
 * What is being entered and not saved yet. It lies in the local database from the first keystroke, so that a reload, a killed tab
 * or a look at another screen loses nothing; it goes when it is saved, thrown away, or its player leaves this phone.
 *
 * A form opens its draft and changes `value` in place; after each event of the page whatever has changed is written.
 */
import { answer } from './database.js';
import { erasuresIn, refuseErased } from './erased.js';

const EVENTS = ['input', 'change', 'click'];
/** Before the key of a draft that a page which went had not written yet. */
const LEFT = 'pencilbag draft left ';

/**
 * @typedef {object} DraftRow
 * @property {string} key @property {string} player_id @property {string} record_id of what is edited, or what it belongs to
 * @property {string|null} base @property {any} value
 */

/** One form's draft. @template T */
export class Draft {
  /**
   * @param {Drafts} drafts @param {DraftRow} row @param {string} fresh what the form holds when nothing was entered
   * @param {string|null} stored what the database holds, null when there is no row
   */
  constructor(drafts, row, fresh, stored) {
    this.drafts = drafts;
    this.row = row;
    this.fresh = fresh;
    this.stored = stored;
    this.saving = false;
  }

  /** @returns {T} */
  get value() {
    return this.row.value;
  }

  /** The version that was on the screen when the draft began; null for something new. @returns {string|null} */
  get base() {
    return this.row.base;
  }

  /** What an edit made from it follows. @returns {{parents?: string[]}} */
  get parents() {
    return this.base === null ? {} : { parents: [this.base] };
  }

  /** @returns {boolean} whether something was entered that is not saved */
  get changed() {
    return JSON.stringify(this.value) !== this.fresh;
  }

  /** What it holds now is what the form holds when nothing was entered. */
  untouched() {
    this.fresh = JSON.stringify(this.value);
    this.drafts.soon();
  }

  /** It is being saved: the write that saves it takes the row away, and none may bring it back. */
  hold() {
    this.saving = true;
  }

  /** @param {boolean} saved */
  release(saved) {
    this.saving = false;
    if (saved) this.drafts.forget(this.row.key);
    else this.drafts.soon();
  }

  /** Thrown away. @returns {Promise<void>} */
  async drop() {
    this.drafts.forget(this.row.key);
    await this.drafts.remove([this.row.key]);
  }
}

export class Drafts {
  /** @param {import('./store.js').Store} store @param {() => Map<string, Draft<unknown>>} held where those at hand are, by key */
  constructor(store, held) {
    this.store = store;
    this.memory = held;
    this.writing = false;
    this.again = false;
    for (const name of EVENTS) addEventListener(name, () => this.soon(), { capture: true });
    addEventListener('visibilitychange', () => this.write(), { capture: true });
    addEventListener('pagehide', () => this.keepAtLeaving(), { capture: true });
    addEventListener('pageshow', ({ persisted }) => persisted && forgetLeft(() => false), { capture: true });
    /** @type {Promise<void>|null} */
    this.taken = null;
  }

  /**
   * The draft of a form: the one at hand, else the one in the database, else a new one. One that nothing was entered in follows
   * the record when that has changed.
   * @template T @param {string} playerId @param {string} name of the form @param {string} recordId @param {() => T} fresh
   * @param {string|null} [base] the version of the record on the screen @returns {Promise<Draft<T>>}
   */
  async open(playerId, name, recordId, fresh, base = null) {
    const key = `${playerId} ${name}`;
    const held = this.held.get(key);
    if (held && (held.base === base || held.changed)) return /** @type {Draft<T>} */ (held);
    const row = held ? undefined : await this.stored(key);
    const opened = this.held.get(key);
    if (opened && opened !== held) return /** @type {Draft<T>} */ (opened); // another drawing of the screen was faster
    const value = fresh();
    const text = row ? JSON.stringify(row.value) : (held?.stored ?? null);
    const draft = new Draft(
      this,
      row ?? { key, player_id: playerId, record_id: recordId, base, value },
      JSON.stringify(value),
      text,
    );
    this.held.set(key, draft);
    return draft;
  }

  /** @param {string} key @returns {Promise<DraftRow|undefined>} undefined also when the database cannot be read: the form still works */
  async stored(key) {
    this.taken ??= this.takeLeft();
    await this.taken.catch(() => undefined); // it stays where it is, and is taken by a later start
    return this.store
      .run(['drafts'], 'readonly', (transaction) => answer(transaction.objectStore('drafts').get(key)))
      .catch(() => undefined);
  }

  get held() {
    return this.memory();
  }

  /** @param {string} key */
  forget(key) {
    this.held.delete(key);
  }

  /** Nothing stays in memory. */
  forgetAll() {
    this.held.clear();
  }

  /** After what handles the event has run. */
  soon() {
    setTimeout(() => this.write(), 0);
  }

  /** Writes what has changed; what is entered meanwhile is written right after. */
  async write() {
    if (this.writing) {
      this.again = true;
      return;
    }
    this.writing = true;
    do {
      this.again = false;
      await this.writeChanged().catch(() => undefined); // without room it stays in memory, and is tried with the next event
    } while (this.again);
    this.writing = false;
  }

  /** What differs from the database: the draft, and its value as text, null when nothing is entered in it. */
  changes() {
    return [...this.held.values()]
      .filter((draft) => !draft.saving)
      .map((draft) => ({ draft, text: draft.changed ? JSON.stringify(draft.value) : null }))
      .filter(({ draft, text }) => text !== draft.stored);
  }

  async writeChanged() {
    const changes = this.changes();
    if (!changes.length) return;
    const players = new Set(changes.map(({ draft }) => draft.row.player_id));
    const rows = rowsOf(changes);
    await this.store.run(
      ['drafts', 'settings'],
      'readwrite',
      async (transaction) => {
        for (const playerId of players) await refuseErased(transaction, playerId);
        putRows(transaction, rows);
      },
      'relaxed',
    );
    for (const { draft, text } of changes) draft.stored = text;
  }

  /**
   * The page goes: no answer of the database reaches it any more, and what is not committed is undone. What is not written yet
   * is put where the browser writes at once; the next start takes it into the database.
   */
  keepAtLeaving() {
    try {
      for (const one of rowsOf(this.changes())) localStorage.setItem(LEFT + one.key, JSON.stringify(one));
    } catch {
      // without room the draft is as old as the last write
    }
  }

  /** Takes what pages that went had not written yet into the database; not of players erased here. */
  async takeLeft() {
    const names = namesLeft();
    if (!names.length) return;
    const rows = names.map((name) => JSON.parse(localStorage.getItem(name) ?? 'null')).filter((row) => row !== null);
    await this.store.run(['drafts', 'settings'], 'readwrite', async (transaction) => {
      const gone = new Set((await erasuresIn(transaction)).map((one) => one.player_id));
      putRows(
        transaction,
        rows.filter(({ key }) => !gone.has(ownerOf(key))),
      );
    });
    for (const name of names) localStorage.removeItem(name);
  }

  /** @param {string[]} keys */
  async remove(keys) {
    await this.store
      .run(['drafts'], 'readwrite', async (transaction) => {
        for (const key of keys) transaction.objectStore('drafts').delete(key);
      })
      .catch(() => undefined); // the database is gone, and the draft with it
  }
}

/** @param {string} key of a draft @returns {string} its player */
function ownerOf(key) {
  return key.split(' ', 1)[0];
}

function namesLeft() {
  return Object.keys(localStorage).filter((name) => name.startsWith(LEFT));
}

/**
 * Forgets drafts that pages which went had not written yet. @param {(row: {player_id: string}) => boolean} stays asked of each
 */
export function forgetLeft(stays) {
  for (const name of namesLeft())
    if (!stays({ player_id: ownerOf(name.slice(LEFT.length)) })) localStorage.removeItem(name);
}

/** @param {{draft: Draft<unknown>, text: string|null}[]} changes @returns {{key: string, row: DraftRow|null}[]} */
function rowsOf(changes) {
  return changes.map(({ draft, text }) => ({
    key: draft.row.key,
    row: text === null ? null : { ...draft.row, value: JSON.parse(text) },
  }));
}

/** @param {IDBTransaction} transaction over the drafts @param {{key: string, row: DraftRow|null}[]} rows null: nothing is entered */
function putRows(transaction, rows) {
  const store = transaction.objectStore('drafts');
  for (const { key, row } of rows) {
    if (row) store.put(row);
    else store.delete(key);
  }
}

/**
 * What belongs to a record that is deleted goes with it.
 * @param {IDBTransaction} transaction over the drafts @param {string} recordId
 */
export async function dropDraftsOf(transaction, recordId) {
  const drafts = transaction.objectStore('drafts');
  for (const key of await answer(drafts.index('record_id').getAllKeys(recordId))) drafts.delete(key);
}
