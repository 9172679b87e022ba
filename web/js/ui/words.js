/** The words of the trade, as the screens show them. */
import { signed } from '../game/numbers.js';

/** @type {Record<string, string>} */
export const LIE_WORDS = {
  tee: 'tee',
  fairway: 'fairway',
  fringe: 'fringe',
  rough: 'rough',
  sand: 'sand',
  recovery: 'recovery',
  green: 'green',
};
/** @type {Record<string, string>} */
export const KIND_WORDS = { practice: 'practice', casual: 'casual', competition: 'competition' };
/** @type {Record<string, string>} */
export const REASON_WORDS = {
  out_of_bounds: 'out of bounds',
  lost: 'lost ball',
  penalty_area: 'penalty area',
  unplayable: 'unplayable',
  other: 'other penalty',
};
/** @type {Record<string, string>} */
export const CATEGORY_WORDS = {
  off_the_tee: 'off the tee',
  approach: 'approach',
  around_the_green: 'around the green',
  long_game: 'long game',
  short_game: 'short game',
  putting: 'putting',
};
/** @type {Record<string, string>} */
export const SCHEME_WORDS = {
  four_part: 'four parts: tee, approach, around the green, putting',
  three_part: 'three parts: long, short, putting',
};

/**
 * Strokes gained in words: sign, two decimals, a true minus. @param {number|null|undefined} value @returns {string}
 */
export function gained(value) {
  if (value === null || value === undefined) return '–';
  return signed(value, 2);
}

/** The class that colours a gain or a loss. @param {number|null|undefined} value @returns {string} */
export function tone(value) {
  if (value === null || value === undefined || Math.abs(value) < 0.005) return '';
  return value > 0 ? 'gain' : 'loss';
}

/** @param {number} count @param {string} one @param {string} [many] @returns {string} */
export function counted(count, one, many) {
  return `${count} ${count === 1 ? one : (many ?? `${one}s`)}`;
}

/** A day in words. @param {string} day YYYY-MM-DD @returns {string} */
export function dayWords(day) {
  const date = new Date(`${day}T12:00:00`);
  if (Number.isNaN(date.getTime())) return day;
  return date.toLocaleDateString('en-GB', { weekday: 'short', day: 'numeric', month: 'short', year: 'numeric' });
}

/** Today where the phone is. @returns {string} YYYY-MM-DD */
export function today() {
  const now = new Date();
  const two = (/** @type {number} */ n) => String(n).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
