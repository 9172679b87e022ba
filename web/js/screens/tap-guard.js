/**
 * One tap, one shot. After Hit, Holed or a penalty a second tap means the same shot, until the next entry has been drawn and
 * either `SETTLES_MS` have passed or a field was touched. Taps are judged by the moment of the finger, not by when a slow
 * phone gets round to them.
 */

/** A bouncing or impatient thumb taps again within this; the next stroke takes longer. A choice of this tool. */
export const SETTLES_MS = 600;

const OPEN = 'open';
const WRITING = 'writing';
const DRAWN = 'drawn';

export class TapGuard {
  /** @param {() => void} [changed] called when `busy` may have changed @param {() => number} [now] milliseconds of the page */
  constructor(changed = () => undefined, now = () => performance.now()) {
    this.changed = changed;
    this.now = now;
    this.state = OPEN;
    this.written = false;
    this.drawnAt = 0;
    this.timer = 0;
  }

  /** Whether a tap would still mean the shot before. */
  get busy() {
    return !this.allows(this.now());
  }

  /** @param {number} at the moment of a tap, in milliseconds of the page */
  allows(at) {
    return this.state === OPEN || (this.state === DRAWN && at - this.drawnAt >= SETTLES_MS);
  }

  /** Takes a tap as a shot of its own, or tells that it means the one before. @param {number} at @returns {boolean} */
  take(at) {
    if (!this.allows(at)) return false;
    this.close();
    return true;
  }

  /** Something else is being written of this ball: no shot is hit until it is drawn. */
  close() {
    clearTimeout(this.timer);
    this.state = WRITING;
    this.written = false;
    this.changed();
  }

  /** The write is over. @param {boolean} saved what was not saved may be tapped again at once */
  end(saved) {
    if (this.state !== WRITING) return;
    if (saved) this.written = true;
    else this.open();
  }

  /** An entry has been drawn: the next one, if the write before it is over. */
  drawn() {
    if (this.state === WRITING && this.written) {
      this.state = DRAWN;
      this.drawnAt = this.now();
      this.timer = setTimeout(() => this.changed(), SETTLES_MS);
    }
    this.changed();
  }

  /** A field of the new entry was touched: the next tap is meant. */
  touched() {
    if (this.state === DRAWN) this.open();
  }

  open() {
    clearTimeout(this.timer);
    this.state = OPEN;
    this.changed();
  }
}

/** The guard of the play screen; the actions say by `aria-busy` when they wait. @param {import('../session.js').Session} session @returns {TapGuard} */
export function guardOf(session) {
  const changed = () => document.querySelector('#bar .actions')?.setAttribute('aria-busy', String(session.kept.guard?.busy ?? false));
  return (session.kept.guard ??= new TapGuard(changed));
}
