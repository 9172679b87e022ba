/** What the screens share: the local database, the player, the baseline, the exchange, and the state of saving. */
import { keepAhead } from './ahead.js';
import { baselinePath, cacheTurn, cachedAnswers, cacheAnswers } from './log/cache.js';
import { caddiedLock, caddyingOf, cachedCaddies, fetchCaddies, forgetCaddied } from './log/caddying.js';
import { lockingRound } from './log/competition.js';
import { NotSaved } from './log/database.js';
import { Drafts } from './log/drafts.js';
import { ERASURES } from './log/erased.js';
import { cursorOf, outboxState, waitsForNewerServer } from './log/outbox.js';
import { Store } from './log/store.js';
import { ask } from './log/answers.js';
import { Schedule } from './log/schedule.js';
import { categoryScheme } from './game/categories.js';
import { NotAllowed } from './game/hole-edits.js';
import { ScreenState } from './screen-state.js';
import { feelSaved } from './ui/this-phone.js';
import { remind } from './ui/unsent.js';

const DEFAULT_BASELINE = 'tour';
const POSITION_OFF = 'position_off'; // settings of this phone
const STAYS_ON_HOLE = 'stays_on_hole';

/** @typedef {import('./log/store.js').StoredRecord} StoredRecord @typedef {import('./log/store.js').Plan} Plan @typedef {import('./log/store.js').UndoStep} UndoStep */

export class Session {
  constructor() {
    this.store = new Store(undefined, {
      blocked: () => this.warn('Another tab is using the old database. Close it; this one then continues by itself.'),
      outdated: () =>
        this.warn('A newer version of this app is open in another tab. Nothing more is saved here: reload.'),
      lost: () => this.lost(),
    });
    /** What is being entered and not saved yet. */
    this.drafts = new Drafts(this.store, () => this.state.drafts);
    this.schedule = new Schedule(
      this.store,
      () => this.playerId,
      (state, received) => this.exchanged(state, received),
    );
    /** @type {import('./ui/frame.js').Frame|null} */
    this.frame = null;
    /** @type {string|null} */
    this.playerId = null;
    /** @type {import('./game/shot.js').Player|null} */
    this.player = null;
    /** @type {import('./game/expected-strokes.js').Baseline|null} */
    this.baseline = null;
    /** The round that this phone enters for the player, as a caddie; null: the player is its own. @type {import('./log/caddying.js').Caddying|null} */
    this.caddying = null;
    /** `saving`: null, 'saving', 'saved' or 'not saved'. */
    this.saving = { state: /** @type {string|null} */ (null), words: '' };
    this.waiting = 0;
    this.problems = 0;
    /** Records of a kind that the server does not know yet. */
    this.later = 0;
    /** The version of the app that waits to be let in. @type {ServiceWorker|null} */
    this.update = null;
    /** Who is signed in here, as the server last sent; null: not asked yet. @type {import('./screens/server-answers.js').Me|null} */
    this.me = null;
    /** Players erased here of whom the server is still to be asked. @type {import('./log/erased.js').Erasure[]} */
    this.erasures = [];
    /** No distances by position on this phone: the Committee may ban them. */
    this.positionOff = false;
    /** A hole that is done stays on the screen: no turning to the next one by itself. */
    this.staysOnHole = false;
    /** Stops the questions asked ahead (views/keeping.js); null: none is. @type {AbortController|null} */
    this.keeping = null;
    /** What screens hold in memory. */
    this.state = new ScreenState();
    this.channel = new BroadcastChannel('pencilbag');
    this.channel.onmessage = ({ data }) => (data === 'cleared' ? this.comeBack('') : this.reload());
  }

  async start() {
    await Promise.all([this.store.start(), this.readSettings()]);
    await this.load();
  }

  /** Whose phone it is, who was signed in last, whose erasure waits. */
  async readSettings() {
    const [[playerId, erasures, positionOff, staysOnHole], [me]] = await Promise.all([
      this.store.settings(['player_id', ERASURES, POSITION_OFF, STAYS_ON_HOLE]),
      cachedAnswers(this.store, ['/api/me']),
    ]);
    this.playerId = playerId ?? null;
    this.me = me?.value ?? null;
    this.erasures = erasures ?? [];
    this.positionOff = positionOff === true;
    this.staysOnHole = staysOnHole === true;
  }

  /** Distances by position are wanted on this phone, or not. @param {boolean} on */
  async usePosition(on) {
    await this.store.setSetting(POSITION_OFF, !on);
    this.positionOff = !on;
  }

  /** A hole that is done is to stay on the screen, or not. @param {boolean} on */
  async stayOnHole(on) {
    await this.store.setSetting(STAYS_ON_HOLE, on);
    this.staysOnHole = on;
  }

  async readErasures() {
    this.erasures = (await this.store.setting(ERASURES)) ?? [];
  }

  /** Reads the player, the baseline and the outbox again. */
  async load() {
    const [record, caddying] = await Promise.all([
      this.playerId ? this.store.record(this.playerId, this.playerId) : null,
      this.playerId ? caddyingOf(this.store, this.playerId) : null,
      this.count(),
    ]);
    this.player = record && !record.deleted ? record.body : null;
    this.caddying = caddying;
    const wanted = this.player?.baseline ?? DEFAULT_BASELINE;
    if (this.baseline?.id !== wanted) {
      this.baseline = (await cachedAnswers(this.store, [baselinePath(wanted)]))[0]?.value ?? null;
      this.fetchBaseline(wanted);
    }
  }

  /** Keeps the baseline on the phone; an old one stays good while the network is away. @param {string} id */
  async fetchBaseline(id) {
    try {
      const path = baselinePath(id);
      const turn = await cacheTurn(this.store);
      const fresh = await ask(fetch.bind(globalThis), path);
      if (fresh?.id !== id || !fresh.curves?.green) return;
      const known = this.baseline;
      if (known?.id === id && known.version === fresh.version) return;
      await cacheAnswers(this.store, turn, 'own', [{ path, at: new Date().toISOString(), value: fresh }]);
      this.baseline = fresh;
      this.frame?.refreshQuietly();
    } catch {
      // Offline: the cached one stays in use, and without one the screens say that values are missing.
    }
  }

  /** The player's name; empty without a player. @returns {string} */
  get playerName() {
    return this.player?.name ?? '';
  }

  /** In what the player wants lengths. @returns {'yards'|'metres'|undefined} */
  get units() {
    return this.player?.units;
  }

  /** @returns {import('./game/categories.js').CategoryScheme} */
  get scheme() {
    return categoryScheme(this.player?.category_scheme, this.player?.short_game_yd);
  }

  async count() {
    if (!this.playerId) return;
    const state = await outboxState(this.store, this.playerId);
    this.waiting = state.waiting;
    this.later = state.problems.filter(waitsForNewerServer).length;
    this.problems = state.problems.length - this.later;
  }

  /**
   * Writes and says how it went. True when it is on the disk.
   * @param {string|null} roundId @param {(shots: StoredRecord[]) => Plan} plan
   * @param {import('./log/drafts.js').Draft<unknown>} [draft] that this saves: it goes with the same write
   * @param {string} [kind] of the records that the plan is given @returns {Promise<boolean>}
   */
  async write(roundId, plan, draft, kind) {
    if (!this.playerId) return false;
    draft?.hold();
    const saved = await this.save(() =>
      this.store.write(/** @type {string} */ (this.playerId), roundId, plan, draft?.row.key, kind),
    );
    draft?.release(saved);
    return saved;
  }

  /** Takes back the last write. @param {string|null} roundId @returns {Promise<UndoStep|null>} the step that was taken back */
  async undo(roundId) {
    if (!this.playerId) return null;
    /** @type {UndoStep|null} */
    let step = null;
    await this.save(async () => {
      step = await this.store.undo(/** @type {string} */ (this.playerId), roundId);
      return { written: step?.before.length ?? 0, words: step ? `Undone: ${step.words}` : 'Nothing to undo' };
    });
    return step;
  }

  /** @param {() => Promise<{written: number, words: string}>} work @returns {Promise<boolean>} */
  async save(work) {
    this.saving = { state: 'saving', words: 'saving…' };
    this.frame?.drawStatus();
    try {
      const { words, written } = await work();
      this.waiting += written;
      this.saving = { state: 'saved', words };
      this.frame?.say(words);
      feelSaved();
      this.channel.postMessage('written');
      this.schedule.written();
      return true;
    } catch (error) {
      this.notSaved(error);
      return false;
    } finally {
      this.frame?.drawStatus();
    }
  }

  /** @param {unknown} error */
  notSaved(error) {
    if (error instanceof NotAllowed) {
      this.saving = { state: null, words: '' };
      this.warn(error.message);
      return;
    }
    const reason =
      error instanceof NotSaved ? error.message : `it failed (${error instanceof Error ? error.message : error})`;
    this.saving = { state: 'not saved', words: reason };
    this.warn(`Not saved: ${reason}. What was saved before is still here.`);
  }

  /** Another tab has written, or a pull brought something. */
  async reload() {
    const before = this.playerId;
    await this.readSettings().catch(() => undefined);
    if (this.playerId === null) this.playerId = this.player ? null : before; // a player being made is not in the settings yet
    await this.load().catch(() => undefined);
    await this.frame?.refreshQuietly();
  }

  /** @param {import('./log/schedule.js').ExchangeState} state @param {number} received */
  async exchanged(state, received) {
    if (state.state === 'busy') this.keeping?.abort();
    if (state.kind === 'erased' && state.state === 'failed') await this.erasedElsewhere(state).catch(() => undefined);
    const olderServer = this.later > 0;
    if (state.state === 'done' || received) await this.count().catch(() => undefined);
    const turned = olderServer !== this.later > 0; // a screen may say so
    if (state.state === 'done') this.followCaddies();
    if (received || (state.kind === 'ended' && state.state === 'failed')) {
      this.channel.postMessage('received');
      await this.reload();
    } else if (turned) await this.frame?.refreshQuietly();
    else this.frame?.drawStatus();
    if (state.state === 'failed' || state.state === 'done') void remind(this);
    if (state.state === 'done' && !this.caddying) keepAhead(this);
  }

  /** While somebody else may enter for this player, who that is comes with every exchange. */
  async followCaddies() {
    const { playerId } = this;
    if (!playerId || this.caddying) return;
    const known = await cachedCaddies(this.store, playerId).catch(() => []);
    if (known.every((one) => one.state === 'ended')) return;
    const fresh = await fetchCaddies(this.store, playerId, fetch.bind(globalThis)).catch(() => known);
    if (JSON.stringify(fresh) === JSON.stringify(known)) return;
    if (this.state.playing) this.state.playing.caddies = fresh;
    await this.frame?.refreshQuietly();
  }

  /**
   * The server says that a player was erased. Of one that never came from the server it means only whoever was signed in.
   * @param {import('./log/schedule.js').ExchangeState} state
   */
  async erasedElsewhere(state) {
    if (this.playerId && this.caddying) {
      const { playerName } = this;
      this.drafts.forgetAll();
      await forgetCaddied(this.store, this.playerId);
      await this.cleared();
      this.frame?.go('');
      this.warn(
        `${playerName} was erased on the server. What this phone entered for ${playerName} was deleted here too.`,
      );
      return;
    }
    if (!this.playerId || (await cursorOf(this.store, this.playerId)) === null) {
      Object.assign(state, { kind: 'sign_in', status: 401 });
      return;
    }
    if (this.state.toldErased === this.playerId) return;
    this.state.toldErased = this.playerId;
    this.warn(
      'This player was erased on the server. Nothing more is sent. This phone keeps its copy until you erase it under Your data.',
    );
  }

  /** The phone was cleared of somebody: nothing of it stays on the screen or in memory, here and in other tabs. */
  async cleared() {
    this.channel.postMessage('cleared');
    await this.forgetAll();
  }

  /** Everything is read anew from the store; what screens held in memory goes. */
  async forgetAll() {
    this.state = this.state.forPage();
    this.player = null;
    this.caddying = null;
    this.waiting = 0;
    this.problems = 0;
    this.later = 0;
    await this.readSettings();
    await this.load();
  }

  /**
   * This page slept, or another tab cleared the phone: it may show somebody who has left since.
   * @param {string} [hash] where to go, when the screen that was shown is of no use any more
   */
  async comeBack(hash) {
    for (const dialog of document.querySelectorAll('dialog')) dialog.close();
    await this.forgetAll().catch(() => undefined);
    if (hash === undefined) await this.frame?.refresh();
    else this.frame?.go(hash);
    this.schedule.soon(0);
  }

  /** The browser closed the database under us, most often to clear it. */
  async lost() {
    this.warn('The browser closed or cleared this app’s storage. Choose the player again to fetch what was sent.');
    await this.store.start().catch(() => undefined);
    this.playerId = (await this.store.setting('player_id').catch(() => null)) ?? null;
    this.waiting = 0;
    await this.load().catch(() => undefined);
    await this.frame?.refresh();
  }

  /** @param {string} words */
  warn(words) {
    this.frame?.alert(words, true);
  }

  /** The competition round that locks the evidence (rule 4.3a), or null. @returns {Promise<StoredRecord|null>} */
  async lockingRound() {
    return (this.playerId ? await lockingRound(this.store, this.playerId) : null) ?? caddiedLock(this.store);
  }

  /** @param {string} playerId */
  async choosePlayer(playerId) {
    await this.store.setSetting('player_id', playerId);
    this.playerId = playerId;
    await this.load();
    this.schedule.now();
  }
}
