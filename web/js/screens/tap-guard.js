/**
 * One entry, one shot. Every drawing of an entry has a number; what a tap writes belongs to the entry that it was made on. After
 * Hit, Holed or a penalty a second tap means the same shot, until a later entry has been drawn and either `SETTLES_MS` have
 * passed or a field of it was touched. Taps are judged by the moment of the finger, not by when a slow phone gets round to them.
 *
 * A thumb that bounces on one spot taps once, whatever lies below it by then: a sheet closes, and a key is where its row was.
 */

/** A bouncing or impatient thumb taps again within this; the next stroke takes longer. A choice of this tool. */
export const SETTLES_MS = 600;
/** After a hole that turned to the next one by itself: nobody holes out again this soon from the next tee. */
const TURN_SETTLES_MS = 1500;
/** Half a button: a second tap within this of the first is on the same spot. */
const SAME_SPOT_PX = 24;

/** @typedef {{x: number, y: number}} Spot */

export class TapGuard {
  /** @param {(busy: boolean) => void} [changed] called when `busy` may have changed @param {() => number} [now] milliseconds of the page */
  constructor(changed = () => undefined, now = () => performance.now()) {
    this.changed = changed;
    this.now = now;
    /** The entry whose drawing began last. */
    this.latest = 0;
    /** This entry and all before it are written: a tap on them is the shot that was written. */
    this.spent = 0;
    this.writing = false;
    /** When the entry that is not spent was drawn; null while it is not. */
    this.drawnAt = /** @type {number|null} */ (-Infinity);
    /** Where and when the tap was that wrote. @type {Spot|null} */
    this.spot = null;
    this.closedAt = -Infinity;
    /** Another hole is there than the one of the tap that wrote: each further tap of an impatient thumb begins the wait anew. */
    this.turned = false;
    this.timer = 0;
  }

  /** Whether a tap would still mean the shot before. */
  get busy() {
    return !this.settled(this.now());
  }

  /** @param {number} at the moment of a tap, in milliseconds of the page */
  settled(at) {
    return !this.writing && this.drawnAt !== null && at - this.drawnAt >= SETTLES_MS;
  }

  /** A screen begins to read what it will draw. @returns {number} the number of its entry */
  begin() {
    this.latest += 1;
    return this.latest;
  }

  /** Whether a tap is one of its own. @param {number} entry on which it was made @param {number} at its moment */
  allows(entry, at) {
    const meant = entry > this.spent && this.settled(at);
    if (!meant) this.refused(at);
    return meant;
  }

  /** The screen turns to another hole: a third or fourth tap of the same thumb must not play that one. */
  turns() {
    this.turned = true;
  }

  /** @param {number} at moment of a tap that was not meant */
  refused(at) {
    if (!this.turned || this.writing) return;
    this.closedAt = Math.max(this.closedAt, at);
    if (this.drawnAt === null) return;
    this.drawnAt = Math.max(this.drawnAt, at);
    clearTimeout(this.timer);
    this.settleLater();
  }

  /** Whether a tap is the bounce of the one that wrote. @param {Spot} spot @param {number} at */
  bounces(spot, at) {
    const since = this.writing || this.drawnAt === null ? this.closedAt : this.drawnAt;
    if (this.spot === null || at - since >= (this.turned ? TURN_SETTLES_MS : SETTLES_MS)) return false;
    const same = Math.hypot(spot.x - this.spot.x, spot.y - this.spot.y) <= SAME_SPOT_PX;
    if (same) this.refused(at);
    return same;
  }

  /** A tap writes: until that is drawn, no other does. @param {Spot|null} [spot] where it was, null by the keyboard */
  close(spot = null) {
    clearTimeout(this.timer);
    this.writing = true;
    this.turned = false;
    this.spot = spot;
    this.closedAt = this.now();
    this.changed(this.busy);
  }

  /** The write is over. @param {boolean} saved what was not saved may be tapped again at once */
  end(saved) {
    this.writing = false;
    if (saved) {
      this.spent = this.latest; // what was read before now may not know of it
      this.drawnAt = null;
    }
    this.changed(this.busy);
  }

  /** An entry is on the screen. @param {number} entry */
  drawn(entry) {
    if (!this.writing && this.drawnAt === null && entry > this.spent) {
      this.drawnAt = this.now();
      this.settleLater();
    }
    this.changed(this.busy);
  }

  /** Says so once a tap means a shot of its own; a timer may end before that by a clock that counts in coarse steps. */
  settleLater() {
    const left = SETTLES_MS - (this.now() - (this.drawnAt ?? 0));
    this.timer = setTimeout(
      () => {
        if (!this.writing && this.drawnAt !== null && this.busy) this.settleLater();
        this.changed(this.busy);
      },
      Math.max(1, left),
    );
  }

  /** A field of an entry was touched: the next tap on it is meant. @param {number} entry */
  touched(entry) {
    if (this.writing || this.drawnAt === null || entry <= this.spent) return;
    clearTimeout(this.timer);
    this.drawnAt = -Infinity;
    this.changed(this.busy);
  }
}

/** The tap under way, and the guard at work. @type {Spot|null} */
let tapped = null;
/** @type {{guard: TapGuard, warn: () => void}|null} */
let atWork = null;

addEventListener('click', takeOnce, { capture: true });

/** @param {MouseEvent} event */
function takeOnce(event) {
  const spot = event.detail ? { x: event.clientX, y: event.clientY } : null; // 0: a key, or a program
  if (spot && atWork?.guard.bounces(spot, event.timeStamp)) {
    event.preventDefault();
    event.stopImmediatePropagation();
    atWork.warn();
  } else tapped = spot;
}

/** The spot of the tap under way. @returns {Spot|null} */
export function tappedSpot() {
  return tapped;
}

/** The guard of the play screen; the actions say by `aria-busy` when they wait. @param {import('../session.js').Session} session @returns {TapGuard} */
export function guardOf(session) {
  session.state.tapGuard ??= new TapGuard((busy) =>
    document.querySelector('#bar .actions')?.setAttribute('aria-busy', String(busy)),
  );
  const guard = session.state.tapGuard;
  atWork = { guard, warn: () => sayTwice(session) };
  return guard;
}

/** @param {import('../session.js').Session} session */
export function sayTwice(session) {
  session.frame?.say('Tapped twice: counted once.');
}
