/**
 * When to exchange: at start, when the page comes to the front, when the network is back, after a write, by hand, and
 * every minute in front, until nobody has touched the screen for a while. One exchange at a time over all tabs (a Web Lock); after a failure again, later and later.
 */
import { sendAgain } from './outbox.js';
import { ExchangeFailure } from './answers.js';
import { caddyingOf } from './caddying.js';
import { exchange } from './exchange.js';

const AFTER_WRITE_MS = 1200;
const FIRST_RETRY_MS = 3000;
const LONGEST_RETRY_MS = 300_000;
const EVERY_MS = 60_000;
/** A screen that nobody has touched for as long is idle: no timer runs until somebody does. A choice of this tool. */
const IDLE_MS = 300_000;
export const LOCK = 'pencilbag-exchange';

/**
 * `state`: idle (nothing tried yet), busy, done, failed. `failure` in words when it failed, `kind` and `status` as in ExchangeFailure.
 * @typedef {{state: 'idle'|'busy'|'done'|'failed', failure: string|null, kind: string|null, status?: number, at: number|null}} ExchangeState
 */

export class Schedule {
  /**
   * @param {import('./store.js').Store} store @param {() => string|null} playerId
   * @param {(state: ExchangeState, received: number) => void} listener
   */
  constructor(store, playerId, listener) {
    this.store = store;
    this.playerId = playerId;
    this.listener = listener;
    /** @type {ExchangeState} */
    this.state = { state: 'idle', failure: null, kind: null, at: null };
    this.timer = 0;
    this.due = 0;
    this.failures = 0;
    this.touchedAt = performance.now();
    /** An exchange was left out because the screen is idle: the next touch makes up for it. */
    this.asleep = false;
    /** @type {Promise<void>|null} */
    this.running = null;
    /** @type {Promise<void>|null} */
    this.next = null;
  }

  /**
   * Listens to the triggers and starts with a first exchange. What was set aside is sent again once at each start: the
   * server may have learnt to read it, or have forgotten it after a backup was restored.
   */
  start() {
    addEventListener('online', () => this.soon(0));
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState !== 'visible') return;
      this.touched();
      this.soon(0);
    });
    for (const name of ['pointerdown', 'keydown'])
      addEventListener(name, () => this.touched(), { capture: true, passive: true });
    const playerId = this.playerId();
    const again = playerId === null ? Promise.resolve() : sendAgain(this.store, playerId).catch(() => undefined);
    again.then(() => this.soon(0));
  }

  /** After a write. */
  written() {
    if (this.failures === 0) this.soon(AFTER_WRITE_MS);
    else if (!this.timer) this.soon(FIRST_RETRY_MS);
  }

  /** Somebody is there. */
  touched() {
    this.touchedAt = performance.now();
    if (!this.asleep) return;
    this.asleep = false;
    this.soon(0);
  }

  /** An exchange that nobody asked for: none while the screen is hidden or idle. @param {number} milliseconds */
  later(milliseconds) {
    const idle = document.visibilityState !== 'visible' || performance.now() - this.touchedAt >= IDLE_MS;
    if (idle) this.asleep = true;
    else this.soon(milliseconds);
  }

  /** An exchange within so many milliseconds; one that is due earlier stays. @param {number} milliseconds */
  soon(milliseconds) {
    const due = performance.now() + milliseconds;
    if (this.timer && this.due <= due) return;
    clearTimeout(this.timer);
    this.due = due;
    this.timer = setTimeout(() => {
      this.timer = 0;
      this.now();
    }, milliseconds);
  }

  /**
   * Exchanges now. A call during an exchange runs one more after it, and ends with that one: only it is sure to send what
   * was written before the call. @returns {Promise<void>}
   */
  now() {
    if (this.running) {
      this.next ??= this.running.then(() => {
        this.next = null;
        return this.now();
      });
      return this.next;
    }
    clearTimeout(this.timer);
    this.timer = 0;
    this.running = this.once().finally(() => {
      this.running = null;
    });
    return this.running;
  }

  async once() {
    const playerId = this.playerId();
    if (!playerId) return;
    try {
      this.tell({ state: 'busy' }, 0);
      const done = await this.locked(playerId);
      this.failures = 0;
      this.tell({ state: 'done', failure: null, kind: null, status: 0, at: Date.now() }, done.received);
      this.later(EVERY_MS);
    } catch (error) {
      this.failed(error);
    }
  }

  /** @param {string} playerId */
  async locked(playerId) {
    const way = {
      store: this.store,
      player_id: playerId,
      caddying: await caddyingOf(this.store, playerId),
      fetcher: fetch.bind(globalThis),
      tell: (/** @type {number} */ n) => this.tell({}, n),
    };
    return navigator.locks ? navigator.locks.request(LOCK, () => exchange(way)) : exchange(way);
  }

  /** @param {unknown} error */
  failed(error) {
    this.failures += 1;
    const known = error instanceof ExchangeFailure ? error : null;
    this.tell(
      {
        state: 'failed',
        failure: error instanceof Error ? error.message : String(error),
        kind: known?.kind ?? 'storage',
        status: known?.status ?? 0,
      },
      0,
    );
    if (known && ['sign_in', 'erased', 'ended'].includes(known.kind)) return; // asking again helps nobody: the outbox stays as it is
    const full = known?.kind === 'full'; // room comes with a hand on the server's settings, not within seconds
    const wait = full ? LONGEST_RETRY_MS : Math.min(FIRST_RETRY_MS * 2 ** (this.failures - 1), LONGEST_RETRY_MS);
    this.later(wait * (0.75 + Math.random() / 2));
  }

  /** @param {Partial<ExchangeState>} state @param {number} received */
  tell(state, received) {
    this.state = { ...this.state, ...state };
    this.listener(this.state, received);
  }
}
