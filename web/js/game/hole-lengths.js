/**
 * Which pairs of par and length are usual, so that a slip of the finger is asked about once and never refused. Where the bounds
 * come from: `server/game/hole_lengths.py`.
 */
import { FARTHEST_YD } from './ranges.js';

/** Par -> the shortest and the longest usual hole in yards, both included. @type {Record<number, [number, number]>} */
export const DEFAULT_YD = { 3: [40, 285], 4: [180, 540], 5: [335, FARTHEST_YD], 6: [515, FARTHEST_YD] };

/**
 * Whether a hole of this par is seldom that long, or that short.
 * @param {number} par @param {number} lengthYd @returns {boolean}
 */
export function isUnusual(par, lengthYd) {
  const [shortest, longest] = DEFAULT_YD[par];
  return !(shortest <= lengthYd && lengthYd <= longest);
}
