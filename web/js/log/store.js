/**
 * What this device holds: reads, and writes of record + change + outbox in one transaction.
 *
 * @typedef {import('./fold.js').Change} Change
 * @typedef {Change & {player_id: string, effective_time: string|null, seq: number|null}} StoredChange
 *
 * @typedef {object} StoredRecord
 * @property {string} record_id @property {string} player_id @property {string} kind @property {string} [round_id] of a practice ball its session's
 * @property {any} body @property {string} head id of the change that speaks for it @property {string[]} leaves
 * @property {0|1} deleted @property {0|1} conflict @property {0|1} [competition] of a round: whether any change was one
 *
 * @typedef {{record_id: string, kind: string, body: any, parents?: string[]}} Edit `body` null deletes
 *
 * @typedef {object} Before a record as it was before a write
 * @property {string} record_id @property {string} kind @property {any} body null: it was not there
 * @property {string} wrote id of the change that was written @property {string|null} replaced id of the one that spoke until then
 *
 * @typedef {{player_id: string, round_id: string, words: string, before: Before[]}} UndoStep `round_id` empty: of no round
 * @typedef {import('../game/tally.js').Tally & {round_id: string}} StoredTally
 *
 * @typedef {{edits: Edit[], words: string, round_id?: string|null}} Plan
 */
import { effectiveTime, iso } from './clock.js';
import { fold } from './fold.js';
import { everCompetition } from '../game/competition-lock.js';
import { dropDraftsOf } from './drafts.js';
import { refuseErased } from './erased.js';
import { DATABASE_NAME, NotSaved, answer, inTransaction, openDatabase } from './database.js';

export const SCHEMA_VERSION = 1;
export const PRACTICE_BALL = 'practice_ball';
const SHOT = 'shot';
const MOST_UNDO_STEPS = 60;
const WRITE_STORES = ['changes', 'outbox', 'records', 'undo', 'tallies', 'settings', 'drafts'];

export class Store {
  /**
   * @param {string} [name] of the database @param {import('./database.js').Listeners} [listeners]
   */
  constructor(name = DATABASE_NAME, listeners = {}) {
    this.name = name;
    this.listeners = listeners;
    /** @type {Promise<IDBDatabase>|null} */
    this.opening = null;
    this.outdated = false;
    this.offsetMs = 0;
    this.deviceId = '';
  }

  /** Opens the database (again, after a lost connection). @returns {Promise<IDBDatabase>} */
  open() {
    if (this.outdated)
      return Promise.reject(new NotSaved('a newer version of this app is open in another tab: reload this one'));
    this.opening ??= openDatabase(this.name, {
      blocked: this.listeners.blocked,
      outdated: () => {
        this.outdated = true;
        this.opening = null;
        this.listeners.outdated?.();
      },
      lost: () => {
        this.opening = null;
        this.listeners.lost?.();
      },
    }).catch((error) => {
      this.opening = null;
      throw error;
    });
    return this.opening;
  }

  /**
   * @template T
   * @param {string[]} stores @param {IDBTransactionMode} mode @param {(transaction: IDBTransaction) => Promise<T>} work
   * @param {IDBTransactionDurability} [durability] @returns {Promise<T>}
   */
  async run(stores, mode, work, durability) {
    return inTransaction(await this.open(), stores, mode, work, durability);
  }

  /**
   * `run` over every store that the database has.
   * @template T
   * @param {IDBTransactionMode} mode @param {(transaction: IDBTransaction) => Promise<T>} work @returns {Promise<T>}
   */
  async runAll(mode, work) {
    const database = await this.open();
    return inTransaction(database, [...database.objectStoreNames], mode, work);
  }

  /** Reads the device's id, making one on the first start, and its clock offset. */
  async start() {
    const [deviceId, offset] = await this.settings(['device_id', 'clock_offset_ms']);
    this.deviceId = deviceId ?? (await this.run(['settings'], 'readwrite', makeDeviceId));
    this.offsetMs = offset ?? 0;
  }

  /** Several settings at once. @param {string[]} names @returns {Promise<any[]>} undefined for those never set */
  async settings(names) {
    return this.run(['settings'], 'readonly', async (transaction) => {
      const found = names.map((name) => answer(transaction.objectStore('settings').get(name)));
      return (await Promise.all(found)).map((row) => row?.value);
    });
  }

  /** @param {string} name @returns {Promise<any>} undefined when it was never set */
  async setting(name) {
    return (await this.settings([name]))[0];
  }

  /** @param {string} name @param {any} value @returns {Promise<void>} */
  async setSetting(name, value) {
    await this.run(['settings'], 'readwrite', async (transaction) => {
      transaction.objectStore('settings').put({ name, value });
    });
  }

  /**
   * Live records of a kind. @param {string} playerId @param {string} kind @returns {Promise<StoredRecord[]>}
   */
  async records(playerId, kind) {
    return this.run(['records'], 'readonly', async (transaction) => {
      const index = transaction.objectStore('records').index('player_kind');
      return (await answer(index.getAll([playerId, kind]))).filter((record) => !record.deleted);
    });
  }

  /** Every player this device holds. @returns {Promise<StoredRecord[]>} */
  async allPlayers() {
    return this.run(['records'], 'readonly', async (transaction) => {
      const found = await answer(transaction.objectStore('records').index('kind').getAll('player'));
      return found.filter((record) => !record.deleted);
    });
  }

  /**
   * One record of a player, also when deleted. What a record names is looked up here: null when it is another player's.
   * @param {string} playerId @param {string} recordId @returns {Promise<StoredRecord|null>}
   */
  async record(playerId, recordId) {
    return this.run(['records'], 'readonly', async (transaction) => {
      const found = await answer(transaction.objectStore('records').get(recordId));
      return found?.player_id === playerId ? found : null;
    });
  }

  /** Live shots of a player's round. @param {string} playerId @param {string} roundId @returns {Promise<StoredRecord[]>} */
  async shots(playerId, roundId) {
    return this.run(['records'], 'readonly', (transaction) => shotsIn(transaction, playerId, roundId));
  }

  /** Live balls of a player's practice session. @param {string} playerId @param {string} sessionId @returns {Promise<StoredRecord[]>} */
  async balls(playerId, sessionId) {
    return this.run(['records'], 'readonly', (transaction) =>
      recordsIn(transaction, playerId, sessionId, PRACTICE_BALL),
    );
  }

  /** Every change of a record. @param {string} recordId @returns {Promise<StoredChange[]>} */
  async changesOf(recordId) {
    return this.run(['changes'], 'readonly', (transaction) =>
      answer(transaction.objectStore('changes').index('record_id').getAll(recordId)),
    );
  }

  /** Records of a player with more than one version. @param {string} playerId @returns {Promise<StoredRecord[]>} */
  async conflicts(playerId) {
    return this.run(['records'], 'readonly', async (transaction) => {
      const found = await answer(transaction.objectStore('records').index('conflict').getAll(1));
      return found.filter((record) => record.player_id === playerId);
    });
  }

  /**
   * Writes what `plan` makes of the shots as they are inside the transaction, so that two tabs never number a shot twice.
   * Answers when it is on the disk; throws NotSaved, and keeps nothing, when it is not.
   * @param {string} playerId @param {string|null} roundId or the id of a practice session
   * @param {(shots: StoredRecord[]) => Plan} plan @param {string|null} [draft] key of the draft that this saves
   * @param {string} [kind] of the records that the plan is given: shots, or the balls of a session
   * @returns {Promise<{written: number, words: string}>}
   */
  async write(playerId, roundId, plan, draft = null, kind = SHOT) {
    return this.run(WRITE_STORES, 'readwrite', async (transaction) => {
      await refuseErased(transaction, playerId);
      const shots = roundId ? await recordsIn(transaction, playerId, roundId, kind) : [];
      const { edits, words } = plan(shots);
      /** @type {Before[]} */
      const before = [];
      for (const one of edits) before.push(await this.writeEdit(transaction, playerId, one));
      for (const one of edits) if (one.body === null) await dropDraftsOf(transaction, one.record_id);
      if (draft !== null) transaction.objectStore('drafts').delete(draft);
      if (before.length)
        await rememberUndo(transaction, { player_id: playerId, round_id: roundId ?? '', words, before });
      return { written: edits.length, words };
    });
  }

  /**
   * One edit: change, outbox and record.
   * @param {IDBTransaction} transaction @param {string} playerId @param {Edit} one @returns {Promise<Before>}
   */
  async writeEdit(transaction, playerId, one) {
    const current = await answer(transaction.objectStore('records').get(one.record_id));
    /** @type {StoredChange} */
    const change = {
      change_id: crypto.randomUUID(),
      record_id: one.record_id,
      kind: one.kind,
      parents: one.parents ?? (current ? [current.head] : []),
      op: one.body === null ? 'delete' : 'put',
      body: one.body,
      device_id: this.deviceId,
      client_time: iso(Date.now()),
      schema_version: SCHEMA_VERSION,
      player_id: playerId,
      effective_time: null,
      seq: null,
    };
    transaction.objectStore('changes').add(change);
    transaction.objectStore('outbox').add({ change_id: change.change_id, player_id: playerId });
    await this.refold(transaction, playerId, one.record_id);
    const body = current && !current.deleted ? current.body : null;
    return { record_id: one.record_id, kind: one.kind, body, wrote: change.change_id, replaced: current?.head ?? null };
  }

  /**
   * Makes a record anew from all its changes.
   * @param {IDBTransaction} transaction @param {string} playerId @param {string} recordId
   */
  async refold(transaction, playerId, recordId) {
    const changes = await answer(transaction.objectStore('changes').index('record_id').getAll(recordId));
    const timed = changes.map((change) => ({ ...change, effective_time: effectiveTime(change, this.offsetMs) }));
    const { head, leaves, deleted, speaks } = fold(timed);
    const body = speaks?.body ?? null;
    const roundId = head.kind === SHOT ? body?.round_id : head.kind === PRACTICE_BALL ? body?.session_id : undefined;
    transaction.objectStore('records').put({
      record_id: recordId,
      player_id: playerId,
      kind: head.kind,
      ...(roundId ? { round_id: roundId } : {}),
      body,
      head: head.change_id,
      leaves: leaves.map((leaf) => leaf.change_id),
      deleted: deleted ? 1 : 0,
      conflict: leaves.length > 1 ? 1 : 0,
      ...(head.kind === 'round' ? { competition: everCompetition(changes) ? 1 : 0 } : {}),
    });
    const stale = roundId ?? (['round', 'session'].includes(head.kind) ? recordId : null);
    if (stale) transaction.objectStore('tallies').delete(stale);
  }

  /**
   * Takes back the last write of a round (or of no round), as changes of their own. Null when there is nothing to take back.
   * @param {string} playerId @param {string|null} roundId @returns {Promise<UndoStep|null>}
   */
  async undo(playerId, roundId) {
    return this.run(WRITE_STORES, 'readwrite', async (transaction) => {
      const store = transaction.objectStore('undo');
      const steps = await answer(store.index('round_id').getAll(roundId ?? ''));
      const step = steps.findLast((one) => one.player_id === playerId);
      if (!step) return null;
      store.delete(step.position);
      for (const was of [...step.before].reverse()) {
        const current = await answer(transaction.objectStore('records').get(was.record_id));
        if (current?.head !== was.wrote) continue; // another device has changed it since: its edit stays
        const back = await this.writeEdit(transaction, playerId, {
          record_id: was.record_id,
          kind: was.kind,
          body: was.body,
        });
        if (was.replaced) await restate(store, roundId ?? '', was.replaced, back.wrote);
      }
      return step;
    });
  }

  /**
   * The stored tallies of a player's rounds. @param {string[]} roundIds @returns {Promise<Map<string, StoredTally>>}
   */
  async tallies(roundIds) {
    return this.run(['tallies'], 'readonly', async (transaction) => {
      const wanted = new Set(roundIds);
      const all = await answer(transaction.objectStore('tallies').getAll());
      return new Map(all.filter((tally) => wanted.has(tally.round_id)).map((tally) => [tally.round_id, tally]));
    });
  }

  /** @param {StoredTally[]} tallies @returns {Promise<void>} */
  async saveTallies(tallies) {
    await this.run(['tallies'], 'readwrite', async (transaction) => {
      for (const tally of tallies) transaction.objectStore('tallies').put(tally);
    });
  }
}

/** The device's id, made once, also when two tabs start at the same moment. @param {IDBTransaction} transaction @returns {Promise<string>} */
async function makeDeviceId(transaction) {
  const settings = transaction.objectStore('settings');
  const known = await answer(settings.get('device_id'));
  if (known) return known.value;
  const value = crypto.randomUUID();
  settings.put({ name: 'device_id', value });
  return value;
}

/** @param {IDBTransaction} transaction @param {string} playerId @param {string} roundId @returns {Promise<StoredRecord[]>} */
export async function shotsIn(transaction, playerId, roundId) {
  return recordsIn(transaction, playerId, roundId, SHOT);
}

/**
 * Live records of a round, or of a practice session.
 * @param {IDBTransaction} transaction @param {string} playerId @param {string} roundId @param {string} kind @returns {Promise<StoredRecord[]>}
 */
async function recordsIn(transaction, playerId, roundId, kind) {
  const all = await answer(transaction.objectStore('records').index('round_id').getAll(roundId));
  return all.filter((record) => record.player_id === playerId && !record.deleted && record.kind === kind);
}

/**
 * The change that an undo wrote replaces the one that was there before: earlier steps wait for it from now on.
 * @param {IDBObjectStore} store of undo steps @param {string} roundId @param {string} earlier @param {string} back
 */
async function restate(store, roundId, earlier, back) {
  /** @type {UndoStep[]} */
  const steps = await answer(store.index('round_id').getAll(roundId));
  for (const step of steps) {
    if (!step.before.some((was) => was.wrote === earlier)) continue;
    const before = step.before.map((was) => (was.wrote === earlier ? { ...was, wrote: back } : was));
    store.put({ ...step, before });
  }
}

/** @param {IDBTransaction} transaction @param {UndoStep} step */
async function rememberUndo(transaction, step) {
  const store = transaction.objectStore('undo');
  store.add(step);
  const count = await answer(store.count());
  if (count > MOST_UNDO_STEPS) {
    const oldest = await answer(store.openCursor());
    oldest?.delete();
  }
}
