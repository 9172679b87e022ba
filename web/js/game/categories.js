/**
 * Shot categories, in two schemes of the trade.
 *
 * `four_part` is the tour's: off the tee (tee shots on par 4 and 5), approach, around the green, putting. The tour draws
 * the line to "around the green" 30 yd from the edge of the green; with only the distance to the hole known,
 * 50 yd to the hole replaces it (a setting). `three_part` is that of M. Broadie, Interfaces 42(2), 2012:
 * long game, short game, putting, with the line at 100 yd to the hole (the same setting).
 */
import { GREEN, TEE, isLie } from './lies.js';

export const FOUR_PART = 'four_part';
export const THREE_PART = 'three_part';

/** The category names of each scheme, in the order in which a hole is played. @type {Record<string, string[]>} */
export const SCHEMES = {
  [FOUR_PART]: ['off_the_tee', 'approach', 'around_the_green', 'putting'],
  [THREE_PART]: ['long_game', 'short_game', 'putting'],
};

/** @type {Record<string, number>} */
export const DEFAULT_SHORT_GAME_YD = { [FOUR_PART]: 50, [THREE_PART]: 100 };

/** @typedef {{name: string, short_game_yd: number}} CategoryScheme */

/**
 * How shots fall into categories: a scheme and its short-game distance in yards to the hole.
 * @param {string|null} [name] @param {number|null} [shortGameYd] @returns {CategoryScheme}
 */
export function categoryScheme(name, shortGameYd) {
  const scheme = name && SCHEMES[name] ? name : FOUR_PART;
  return { name: scheme, short_game_yd: shortGameYd || DEFAULT_SHORT_GAME_YD[scheme] };
}

/**
 * The category of a shot, null where the lie is unknown. A ball at the short-game distance exactly belongs to
 * the short game. A tee shot never does.
 * @param {CategoryScheme} scheme @param {unknown} lie @param {number} distanceYd @param {number} par
 * @returns {string|null}
 */
export function categoryOf(scheme, lie, distanceYd, par) {
  if (!isLie(lie)) return null;
  if (lie === GREEN) return 'putting';
  const near = typeof distanceYd === 'number' && distanceYd <= scheme.short_game_yd && lie !== TEE;
  if (scheme.name === THREE_PART) return near ? 'short_game' : 'long_game';
  if (lie === TEE && par >= 4) return 'off_the_tee';
  return near ? 'around_the_green' : 'approach';
}
