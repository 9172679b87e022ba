/** Distances that the phone knows per club, from full swings, with counts. */
import { GREEN } from './lies.js';
import { endOf } from './valuation.js';
import { link } from './linking.js';

/**
 * Yards that full swings went, per club. A swing that is not said counts as full when it was played from farther away
 * than the short-game distance. Shots with a penalty, from the green, or with an unknown end do not count. The length is
 * the noted finish (intended distance plus long or short) where there is one, else what the shot gained on the hole.
 * @param {import('./shot.js').Shot[]} shots of one round @param {number} shortGameYd @returns {Record<string, number[]>}
 */
export function fullSwings(shots, shortGameYd) {
  const { following } = link(shots);
  /** @type {Record<string, number[]>} */
  const byClub = {};
  shots.forEach((shot, place) => {
    if (shot.lie === GREEN || shot.penalty_strokes || shot.swing === 'part') return;
    if (shot.swing !== 'full' && shot.distance_yd <= shortGameYd) return;
    const yards = lengthOf(shot, following[place] < 0 ? null : shots[following[place]]);
    if (yards !== null && yards > 0) (byClub[shot.club_id] ??= []).push(yards);
  });
  return byClub;
}

/**
 * @param {import('./shot.js').Shot} shot @param {import('./shot.js').Shot|null} next @returns {number|null}
 */
function lengthOf(shot, next) {
  if (shot.target_yd && shot.long_yd !== null && shot.long_yd !== undefined) return shot.target_yd + shot.long_yd;
  const end = endOf(shot, next);
  return end.distance === null ? null : shot.distance_yd - end.distance;
}

/**
 * The middle value; for an even count the mean of the two middle ones. NaN of nothing.
 * @param {number[]} values @returns {number}
 */
export function median(values) {
  if (!values.length) return NaN;
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

/** Swings from which on a club's own median is believed more than the first guess. */
export const ENOUGH_SWINGS = 3;

/**
 * First guesses of full-swing distance in yards, used only to prefill until the player's own shots are known. From memory;
 * the step of 12 to 15 yd between irons is common practice, no source.
 * @type {Record<string, number>}
 */
const FIRST_GUESS = { driver: 250, wood: 228, hybrid: 208, iron: 160, wedge: 105, putter: 10 };
const IRON_STEP_YD = 13;
const NINE_IRON_YD = 134;

/**
 * @param {{label: string, sort: string, loft_deg?: number|null}} club @returns {number}
 */
export function firstGuess(club) {
  const number = Number(/\d+/.exec(club.label)?.[0] ?? NaN);
  if (club.sort === 'iron' && number >= 1 && number <= 9) return NINE_IRON_YD + (9 - number) * IRON_STEP_YD;
  if (club.sort === 'wood' && number >= 3) return FIRST_GUESS.wood - (number - 3) * 7;
  if (club.sort === 'hybrid' && number >= 2) return FIRST_GUESS.hybrid - (number - 3) * IRON_STEP_YD;
  const loft = club.loft_deg ?? (number >= 44 && number <= 64 ? number : null);
  if (club.sort === 'wedge' && loft) return Math.max(60, 120 - (loft - 46) * 2.5);
  if (club.sort === 'wedge' && /pitch|pw/i.test(club.label)) return 120;
  return FIRST_GUESS[club.sort] ?? 150;
}

/**
 * The usual full-swing distance of each club: its median from `ENOUGH_SWINGS` swings on, else the first guess.
 * @param {{record_id: string, body: {label: string, sort: string, loft_deg?: number|null}}[]} clubs
 * @param {Record<string, number[]>} swings @returns {Map<string, {yards: number, swings: number, own: boolean}>}
 */
export function usualDistances(clubs, swings) {
  return new Map(
    clubs.map((club) => {
      const own = swings[club.record_id] ?? [];
      const known = own.length >= ENOUGH_SWINGS;
      return [club.record_id, { yards: known ? median(own) : firstGuess(club.body), swings: own.length, own: known }];
    }),
  );
}
