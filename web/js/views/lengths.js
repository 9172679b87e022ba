/**
 * Lengths and sides of the evidence in words, in the unit of the player whose shots they are.
 *
 * @typedef {object} Lengths
 * @property {import('../game/units.js').Unit} unit yd or m
 * @property {(yards: number) => number} of yards in that unit
 * @property {(yards: number|null|undefined, decimals?: number) => string} words such as "21 yd"
 * @property {(yards: number|null|undefined, decimals?: number) => string} number the same without its unit
 */
import { plain } from '../game/numbers.js';
import { fromYards, defaultUnit } from '../game/units.js';

export const NOTHING = '–';
/** The words for below and above zero. */
export const SIDE = /** @type {[string, string]} */ (['left', 'right']);
export const LENGTH = /** @type {[string, string]} */ (['short', 'long']);

/** @param {'yards'|'metres'|undefined} units of the player @returns {Lengths} */
export function lengthsIn(units) {
  const unit = defaultUnit('fairway', units);
  const of = (/** @type {number} */ yards) => fromYards(yards, unit);
  const number = (/** @type {number|null|undefined} */ yards, decimals = 0) =>
    missing(yards) ? NOTHING : plain(of(/** @type {number} */ (yards)), decimals);
  return {
    unit,
    of,
    number,
    words: (yards, decimals) => (missing(yards) ? NOTHING : `${number(yards, decimals)} ${unit}`),
  };
}

/** @param {number|null|undefined} value */
function missing(value) {
  return value === null || value === undefined;
}

/**
 * A signed number by the side on which it lies: "4 left", "0".
 * @param {number|null|undefined} value @param {[string, string]} sides @param {number} [decimals] @param {string} [mark] such as "°" @returns {string}
 */
export function toSide(value, sides, decimals = 0, mark = '') {
  if (value === null || value === undefined) return NOTHING;
  const size = Math.abs(value).toFixed(decimals);
  return Number(size) === 0 ? `0${mark}` : `${size}${mark} ${sides[value < 0 ? 0 : 1]}`;
}

/**
 * Two signed numbers as a range: "4 left to 2 right", "2 to 7 right". @param {number|null|undefined} low @param {number|null|undefined} high
 * @param {[string, string]} sides @param {number} [decimals] @param {string} [mark] @returns {string}
 */
export function sideRange(low, high, sides, decimals = 0, mark = '') {
  if (low === null || low === undefined || high === null || high === undefined) return NOTHING;
  const [from, to] = [toSide(low, sides, decimals, mark), toSide(high, sides, decimals, mark)];
  const shared = from.split(' ')[1] && from.split(' ')[1] === to.split(' ')[1];
  return shared ? `${from.split(' ')[0]} to ${to}` : `${from} to ${to}`;
}
