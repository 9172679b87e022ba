/**
 * Lengths: yards inside, feet on the green, metres where the player wants them.
 *
 * 1 yd = 0.9144 m = 3 ft, exactly (international yard and pound agreement, 1959).
 * A whole number of feet survives the way to yards and back: (n / 3) * 3 === n in binary floating point.
 */
import { GREEN } from './lies.js';

export const YARD = 'yd';
export const FOOT = 'ft';
export const METRE = 'm';
export const FEET_PER_YARD = 3;
export const METRES_PER_YARD = 0.9144;

/** @typedef {'yd'|'ft'|'m'} Unit */

/**
 * A length as yards.
 * @param {number} length @param {Unit} unit @returns {number}
 */
export function toYards(length, unit) {
  if (unit === YARD) return length;
  if (unit === FOOT) return length / FEET_PER_YARD;
  if (unit === METRE) return length / METRES_PER_YARD;
  throw new RangeError(`unit: ${unit} is not one of yd, ft, m`);
}

/**
 * Yards as a length in another unit; the inverse of `toYards`.
 * @param {number} lengthYd @param {Unit} unit @returns {number}
 */
export function fromYards(lengthYd, unit) {
  if (unit === YARD) return lengthYd;
  if (unit === FOOT) return lengthYd * FEET_PER_YARD;
  if (unit === METRE) return lengthYd * METRES_PER_YARD;
  throw new RangeError(`unit: ${unit} is not one of yd, ft, m`);
}

/**
 * The unit in which a distance from this lie is spoken: feet on the green, the player's own unit elsewhere.
 * @param {string} lie @param {'yards'|'metres'|undefined} units @returns {Unit}
 */
export function defaultUnit(lie, units) {
  if (lie === GREEN) return FOOT;
  return units === 'metres' ? METRE : YARD;
}

/**
 * A distance in words, rounded to whole units: "152 yd", "12 ft".
 * @param {number} distanceYd @param {string} lie @param {'yards'|'metres'|undefined} units @returns {string}
 */
export function spoken(distanceYd, lie, units) {
  const unit = defaultUnit(lie, units);
  return `${Math.round(fromYards(distanceYd, unit))} ${unit}`;
}
