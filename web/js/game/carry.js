/**
 * How far a shot can have flown, by what is recorded of it.
 *
 * Twin: server/game/carry.py.
 */
import { GREEN } from './lies.js';
import { CARRY_BEYOND_YD, FARTHEST_CARRY_YD } from './ranges.js';

/**
 * The longest carry, in yards, that the fields of a shot leave open: the shot's full length and `CARRY_BEYOND_YD`.
 * @param {Partial<import('./shot.js').Shot>} shot @returns {number}
 */
export function longestCarry(shot) {
  const length = wholeLength(shot);
  return length === null ? FARTHEST_CARRY_YD : Math.min(FARTHEST_CARRY_YD, Math.max(length, 0) + CARRY_BEYOND_YD);
}

/** @param {Partial<import('./shot.js').Shot>} shot @returns {number|null} */
function wholeLength({ penalty_strokes, target_yd, right_yd, long_yd, holed, distance_yd, end_distance_yd }) {
  if (penalty_strokes) return null;
  if (typeof target_yd === 'number' && typeof long_yd === 'number')
    return Math.hypot(target_yd + long_yd, right_yd ?? 0);
  if (typeof distance_yd !== 'number') return null;
  if (holed) return distance_yd;
  return typeof end_distance_yd === 'number' ? distance_yd + end_distance_yd : null;
}

/** Whether a carry may be recorded of this shot; none at all always may. @param {Partial<import('./shot.js').Shot>} shot @returns {boolean} */
export function carryInRange(shot) {
  const carry = shot.carry_yd;
  if (carry === null || carry === undefined) return true;
  return shot.lie !== GREEN && carry > 0 && carry <= longestCarry(shot);
}
