/**
 * Closing a round: when it is full, and when it was reopened.
 *
 * A round's record holds `closings`, each with `closed_at` and `reopened_at` (client times, null where nobody noted one), and
 * `closed`, which alone says whether it is closed now. What closed or opened a round without a note of it shows as an
 * unknown time.
 *
 * @typedef {{closed_at: string|null, reopened_at: string|null}} Closing
 * @typedef {{from: string|null, to: string|null}} Between
 */

/** How often a round can be closed. */
export const MOST_CLOSINGS = 200;
/** Holes of a round that was meant as nine. */
export const NINE = 9;

/** What was answered when holes were missing at the closing. */
export const NINE_HOLES = 'nine holes';
export const STOP_HERE = 'stop here';

/**
 * Whether a round has a score: all holes that were meant are holed, and none that was begun is not.
 * @param {number} defined holes of the round @param {number} begun those with a shot of the ball of record
 * @param {number} holed those holed out @param {number|null|undefined} meant how many were to be played, null for all
 * @returns {boolean}
 */
export function isWhole(defined, begun, holed, meant) {
  const wanted = Math.min(meant ?? defined, defined);
  return wanted > 0 && wanted <= holed && holed === begun;
}

/**
 * Whether the round was opened again after one of its closings. @param {boolean} closed @param {Closing[]} closings @param {number} place
 */
export function openedAfter(closed, closings, place) {
  return (closings[place].reopened_at ?? null) !== null || place < closings.length - 1 || !closed;
}

/**
 * The times between a closing and the opening after it, earliest first. Evidence of a competition round could be read in between
 * (rule 4.3a).
 * @param {boolean} closed @param {Closing[]|null|undefined} closings @returns {Between[]}
 */
export function openedAgain(closed, closings) {
  const all = closings ?? [];
  return all
    .filter((_, place) => openedAfter(closed, all, place))
    .map((one) => ({ from: one.closed_at ?? null, to: one.reopened_at ?? null }));
}
