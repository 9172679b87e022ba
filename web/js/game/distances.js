/**
 * How far a club goes: one rule for the bag, the phone's guess, and on the server for the ladder and the plan. Twin:
 * server/analysis/full_swings.py, which says why.
 *
 * A club's distance is the median length of its full swings from tee, fairway and fringe: the tapped finish, target +
 * long; else what the distances before and after tell, where the ball was meant to stop at least 80 yd short of the hole.
 */
import { FAIRWAY, FRINGE, TEE } from './lies.js';
import { endOf } from './valuation.js';
import { link } from './linking.js';

const GOOD_LIES = [TEE, FAIRWAY, FRINGE];
const LEAVES_AT_LEAST_YD = 80;
const REACH = 0.75;
/** Swings from which on a usual target, a reach or a club's own median is believed. */
export const ENOUGH_SWINGS = 3;

/**
 * A full swing from a good lie. `before`: yards to the hole; `gone`: yards nearer to it afterwards, null where that tells no
 * length; `target`, `along`: of a tapped finish, else null.
 * @typedef {{lie: string, before: number, gone: number|null, target: number|null, along: number|null}} Swing
 */

/**
 * The full swings of one round from good lies, by club: what a club's distance is worked out from.
 * @param {import('./shot.js').Shot[]} shots @returns {Record<string, Swing[]>}
 */
export function fullSwings(shots) {
  const { following } = link(shots);
  /** @type {Record<string, Swing[]>} */
  const byClub = {};
  shots.forEach((shot, place) => {
    if (!GOOD_LIES.includes(shot.lie) || !isFull(shot)) return;
    const swing = swingOf(shot, following[place] < 0 ? null : shots[following[place]]);
    byClub[shot.club_id] ??= [];
    byClub[shot.club_id].push(swing);
  });
  return byClub;
}

/** Full when recorded so, or when nothing was and no target lies as far as the hole. @param {import('./shot.js').Shot} shot */
function isFull({ swing, target_yd: target, distance_yd: distance }) {
  if (swing) return swing === 'full';
  return !known(target) || target < distance;
}

/** @param {number|null|undefined} value @returns {value is number} */
function known(value) {
  return value !== null && value !== undefined;
}

/** @param {import('./shot.js').Shot} shot @param {import('./shot.js').Shot|null} next @returns {Swing} */
function swingOf(shot, next) {
  const { lie, distance_yd: before, target_yd: target, right_yd: right, long_yd: long } = shot;
  const after = shot.holed || shot.penalty_strokes ? null : endOf(shot, next).distance;
  const gone = known(after) && after < before ? before - after : null;
  const tapped = known(target) && known(right) && known(long);
  return { lie, before, gone, target: tapped ? target : null, along: tapped ? target + long : null };
}

/**
 * The lengths of a club's full swings that are known. @param {Swing[]} swings of one club, all rounds @returns {number[]} yards
 */
export function lengths(swings) {
  const meant = new Map(GOOD_LIES.map((lie) => [lie, meantFrom(swings.filter((swing) => swing.lie === lie))]));
  return swings.flatMap(({ lie, before, gone, along }) => {
    if (along !== null) return [along];
    return gone !== null && before - /** @type {number} */ (meant.get(lie)) >= LEAVES_AT_LEAST_YD ? [gone] : [];
  });
}

/** How far swings from one lie are meant to go: the usual target, else the club's reach; NaN when unknown. @param {Swing[]} swings */
function meantFrom(swings) {
  const targets = swings.flatMap(({ target }) => (target === null ? [] : [target]));
  if (targets.length >= ENOUGH_SWINGS) return median(targets);
  const far = swings.flatMap(({ before, gone }) => (gone === null || before <= LEAVES_AT_LEAST_YD ? [] : [gone]));
  return far.length >= ENOUGH_SWINGS ? quantile(far, REACH) : NaN;
}

/** A quantile on straight lines between the values; NaN of nothing. @param {number[]} values @param {number} share @returns {number} */
function quantile(values, share) {
  const sorted = [...values].sort((a, b) => a - b);
  const at = share * (sorted.length - 1);
  const low = Math.floor(at);
  return sorted.length ? sorted[low] + (at - low) * (sorted[Math.min(low + 1, sorted.length - 1)] - sorted[low]) : NaN;
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

/**
 * First guesses of full-swing distance in yards, used only to prefill until the player's own shots are known. Invented;
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

/** By club id. @typedef {Map<string, {yards: number, swings: number, own: boolean}>} StockDistances */

/**
 * The stock distance of each club, how far a full swing goes: its median from `ENOUGH_SWINGS` known lengths on; else the first guess, made as
 * much shorter or longer as the player's own distances are of theirs. `swings`: how many lengths are known.
 * @param {{record_id: string, body: {label: string, sort: string, loft_deg?: number|null}}[]} clubs
 * @param {Record<string, Swing[]>} swings @returns {StockDistances}
 */
export function stockDistances(clubs, swings) {
  const known = clubs.map((club) => lengths(swings[club.record_id] ?? []));
  const isOwn = (/** @type {number} */ place) =>
    clubs[place].body.sort !== 'putter' && known[place].length >= ENOUGH_SWINGS;
  const shares = clubs.flatMap((club, place) => (isOwn(place) ? [median(known[place]) / firstGuess(club.body)] : []));
  const share = shares.length ? median(shares) : 1;
  return new Map(
    clubs.map((club, place) => {
      const own = isOwn(place);
      const yards = own ? median(known[place]) : firstGuess(club.body) * (club.body.sort === 'putter' ? 1 : share);
      return [club.record_id, { yards, swings: known[place].length, own }];
    }),
  );
}
