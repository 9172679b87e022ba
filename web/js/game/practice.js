/**
 * Practice sessions: what a session and its balls may hold, and whose turn it is in a duel. A practice ball is never a stroke of
 * a round. Twin of the practice records of `server/records`; `tests/vectors/practice.json` holds both to the same cases.
 *
 * @typedef {'range'|'putting_green'|'short_game'} PracticePlace
 *
 * @typedef {object} PracticeSession
 * @property {string} date YYYY-MM-DD @property {PracticePlace} place @property {string|null} [note] @property {string|null} [ball_label]
 * @property {string|null} [from_file] the table it came from @property {string|null} [at] @property {boolean} [closed] the player finished it
 *
 * @typedef {object} PracticeBall lengths in yards, of putts and what was left in feet
 * @property {string} session_id @property {number} order @property {string} club_id
 * @property {number|null} [target_yd] how far it was meant to go @property {number|null} [carry_yd] @property {number|null} [total_yd] carry and roll
 * @property {number|null} [right_yd] right of the target line; left is negative @property {number|null} [long_yd] beyond the target; short is negative
 * @property {string|null} [swing] @property {string|null} [planned_shape] @property {string|null} [actual_shape]
 * @property {string|null} [strike] @property {string} [lie] @property {number|null} [length_ft] of a putt
 * @property {boolean} [holed] @property {number|null} [left_ft] to the hole @property {string|null} [duel_id] shared by the two balls of a pair
 * @property {string|null} [at]
 *
 * @typedef {{record_id: string, body: PracticeBall}} BallRecord
 */
import {
  CARRY_BEYOND_YD,
  FARTHEST_CARRY_YD,
  FARTHEST_OFFLINE_YD,
  FARTHEST_ON_GREEN_YD,
  FARTHEST_YD,
} from './ranges.js';
import { FAIRWAY, ROUGH, SAND, TEE } from './lies.js';
import { SHAPES, STRIKES } from './shot.js';

export const RANGE = 'range';
export const PUTTING_GREEN = 'putting_green';
export const SHORT_GAME = 'short_game';
export const PLACES = [RANGE, PUTTING_GREEN, SHORT_GAME];
export const PRACTICE_LIES = [TEE, FAIRWAY, ROUGH, SAND];
export const SWINGS = ['full', 'part'];
export const MOST_BALLS = 2000;
export const FARTHEST_TOTAL_YD = 500;
export const LONGEST_PUTT_FT = 3 * FARTHEST_ON_GREEN_YD;
export const FARTHEST_LEFT_FT = 900;

/** Fields of a swing, none of which a putt has. */
const OF_A_SWING = [
  'target_yd',
  'carry_yd',
  'total_yd',
  'right_yd',
  'long_yd',
  'swing',
  'planned_shape',
  'actual_shape',
  'strike',
];

/** Numbers: lowest (with `above`, the value itself is not in) and highest. @type {Record<string, {low: number, high: number, above?: boolean}>} */
const NUMBERS = {
  target_yd: { low: 0, high: FARTHEST_YD, above: true },
  carry_yd: { low: 0, high: FARTHEST_CARRY_YD, above: true },
  total_yd: { low: 0, high: FARTHEST_TOTAL_YD, above: true },
  right_yd: { low: -FARTHEST_OFFLINE_YD, high: FARTHEST_OFFLINE_YD },
  long_yd: { low: -FARTHEST_YD, high: FARTHEST_OFFLINE_YD },
  length_ft: { low: 0, high: LONGEST_PUTT_FT, above: true },
  left_ft: { low: 0, high: FARTHEST_LEFT_FT, above: true },
};

/** @type {Record<string, string[]>} */
const CHOICES = {
  swing: SWINGS,
  planned_shape: SHAPES,
  actual_shape: SHAPES,
  strike: STRIKES,
  lie: PRACTICE_LIES,
};

/** @param {any} value */
function absent(value) {
  return value === null || value === undefined;
}

/** @param {string} name @param {any} value @returns {boolean} */
function numberFits(name, value) {
  if (absent(value)) return true;
  const { low, high, above } = NUMBERS[name];
  return typeof value === 'number' && Number.isFinite(value) && (above ? value > low : value >= low) && value <= high;
}

/**
 * The fields of a ball that cannot be recorded as they are, in alphabetical order; none when it is sound.
 * @param {any} ball @returns {string[]}
 */
export function ballFaults(ball) {
  const faults = new Set();
  for (const name of Object.keys(NUMBERS)) if (!numberFits(name, ball[name])) faults.add(name);
  for (const [name, words] of Object.entries(CHOICES))
    if (!absent(ball[name]) && !words.includes(ball[name])) faults.add(name);
  if (!Number.isInteger(ball.order) || ball.order < 1 || ball.order > MOST_BALLS) faults.add('order');
  for (const name of ['session_id', 'club_id']) if (!ball[name]) faults.add(name);
  if (!absent(ball.length_ft)) for (const name of OF_A_SWING) if (!absent(ball[name])) faults.add(name);
  if (ball.holed && !absent(ball.left_ft)) faults.add('left_ft');
  if (!absent(ball.carry_yd) && !absent(ball.total_yd) && ball.total_yd < ball.carry_yd - CARRY_BEYOND_YD)
    faults.add('total_yd');
  return [...faults].sort();
}

/**
 * Where the ball came to rest along its line, in yards from where it was played; null where nothing tells.
 * @param {PracticeBall} ball @returns {number|null}
 */
export function finishedAt({ total_yd: total, target_yd: target, long_yd: long }) {
  if (!absent(total)) return /** @type {number} */ (total);
  return absent(target) || absent(long) ? null : /** @type {number} */ (target) + /** @type {number} */ (long);
}

/** @param {BallRecord[]} balls @returns {BallRecord[]} in the order in which they were hit */
export function inOrder(balls) {
  return [...balls].sort((a, b) => a.body.order - b.body.order || a.record_id.localeCompare(b.record_id));
}

/** @param {BallRecord[]} balls @returns {number} the order of the next ball */
export function nextOrder(balls) {
  return balls.reduce((most, { body }) => Math.max(most, body.order), 0) + 1;
}

/**
 * Whose turn it is in a duel of two clubs from one spot. The second ball of a pair is the other club's; the club that ended a
 * pair begins the next one (A B, B A, A B …), so that neither is always first and the club is changed once a pair: a choice of
 * this tool.
 * @param {BallRecord[]} balls of the session @param {[string, string]} clubs ids
 * @returns {{club_id: string, duel_id: string|null}} `duel_id` null: the first ball of a new pair
 */
export function duelTurn(balls, clubs) {
  const duelled = inOrder(balls).filter(({ body }) => body.duel_id && clubs.includes(body.club_id));
  const last = duelled[duelled.length - 1]?.body;
  if (!last) return { club_id: clubs[0], duel_id: null };
  const pair = balls.filter(({ body }) => body.duel_id === last.duel_id);
  if (pair.length > 1) return { club_id: last.club_id, duel_id: null };
  return { club_id: clubs[0] === last.club_id ? clubs[1] : clubs[0], duel_id: /** @type {string} */ (last.duel_id) };
}
