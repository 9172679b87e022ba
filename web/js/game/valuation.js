/**
 * Strokes gained of every shot.
 *
 *     strokes gained = E(before) - E(after) - 1 - penalty strokes
 *
 * with E the baseline's expected strokes and E(holed) = 0. Ends come from next starts, so over a hole of the ball of
 * record the sum telescopes to E(first shot) - score. Source: M. Broadie, Interfaces 42(2), 2012, 146-165.
 */
import { categoryOf } from './categories.js';
import { expected, isExtended } from './expected-strokes.js';
import { GREEN, isLie } from './lies.js';
import { AFTER_HOLED, GAP, IN_ORDER, REPEATED, link } from './linking.js';
import { returnsToSameSpot } from './penalties.js';
import { FARTHEST_ON_GREEN_YD, FARTHEST_YD } from './ranges.js';

/** What `basis` says of a shot, and what it means. The first two carry a value, the rest carry none. */
export const BASES = {
  printed: "both distances are within the baseline's table",
  extended: "at least one distance is beyond the table's range",
  no_end: 'picked up or not finished, and no end recorded',
  shot_missing: 'the next shot is missing, so its end is not known',
  number_twice: 'two shots of this ball have the same number',
  after_holed: 'the ball was already holed',
  unknown_lie: 'the lie is missing or not one of the lies',
  bad_distance: 'the distance is missing or outside its range',
  lie_not_in_baseline: 'the baseline has no row for one of the lies',
};

/** @type {Record<number, keyof typeof BASES>} */
const FAULT_BASIS = { [GAP]: 'shot_missing', [REPEATED]: 'number_twice', [AFTER_HOLED]: 'after_holed' };

/**
 * `end_lie`, `end_distance_yd`: 0 yd and no lie when holed. `expected_before`, `expected_after`, `strokes_gained`: strokes,
 * null where there is no value.
 * @typedef {object} Valued
 * @property {string|null} end_lie @property {number|null} end_distance_yd @property {string|null} category
 * @property {number|null} expected_before @property {number|null} expected_after
 * @property {number|null} strokes_gained @property {keyof typeof BASES} basis
 */

/**
 * Value every shot; the answer has the order of the input.
 * @param {import('./shot.js').Shot[]} shots in any order
 * @param {(shot: import('./shot.js').Shot) => number} parOf par of the shot's hole
 * @param {import('./expected-strokes.js').Baseline} baseline
 * @param {import('./categories.js').CategoryScheme} scheme
 * @returns {Valued[]}
 */
export function attribute(shots, parOf, baseline, scheme) {
  const { following, fault } = link(shots);
  return shots.map((shot, place) => {
    const end = endOf(shot, following[place] < 0 ? null : shots[following[place]]);
    const before = expected(baseline, shot.lie, shot.distance_yd);
    const after = shot.holed ? 0 : expected(baseline, end.lie, end.distance);
    const basis = basisOf(baseline, shot, end, fault[place], before, after);
    const valued = basis === 'printed' || basis === 'extended';
    return {
      end_lie: end.lie,
      end_distance_yd: end.distance,
      category: categoryOf(scheme, shot.lie, shot.distance_yd, parOf(shot)),
      expected_before: orNull(before),
      expected_after: orNull(after),
      strokes_gained: valued ? before - after - 1 - (shot.penalty_strokes || 0) : null,
      basis,
    };
  });
}

/** @param {number} value @returns {number|null} */
function orNull(value) {
  return Number.isNaN(value) ? null : value;
}

/** @typedef {{lie: string|null, distance: number|null, known: boolean}} End */

/**
 * Where a shot ended: holed, the next start, the entered end, or the same spot (lost, out of bounds).
 * @param {import('./shot.js').Shot} shot @param {import('./shot.js').Shot|null} next @returns {End}
 */
export function endOf(shot, next) {
  if (shot.holed) return { lie: null, distance: 0, known: true };
  if (next) return { lie: isLie(next.lie) ? next.lie : null, distance: next.distance_yd ?? null, known: true };
  const lie = isLie(shot.end_lie) ? shot.end_lie : null;
  const distance = shot.end_distance_yd ?? null;
  if (distance === null && returnsToSameSpot(shot.penalty_reason, shot.penalty_strokes || 0)) {
    return { lie: isLie(shot.lie) ? shot.lie : null, distance: shot.distance_yd, known: true };
  }
  return { lie, distance, known: lie !== null || distance !== null };
}

/**
 * True where a distance is possible: above 0 and up to 700 yd, on the green up to 50 yd.
 * @param {unknown} lie @param {unknown} distanceYd @returns {boolean}
 */
export function inRange(lie, distanceYd) {
  if (typeof distanceYd !== 'number' || !(distanceYd > 0) || distanceYd > FARTHEST_YD) return false;
  return lie !== GREEN || distanceYd <= FARTHEST_ON_GREEN_YD;
}

/**
 * What the value of a shot rests on; earlier lines outrank later ones.
 * @param {import('./expected-strokes.js').Baseline} baseline @param {import('./shot.js').Shot} shot @param {End} end
 * @param {number} fault @param {number} before @param {number} after @returns {keyof typeof BASES}
 */
function basisOf(baseline, shot, end, fault, before, after) {
  if (fault !== IN_ORDER) return FAULT_BASIS[fault];
  const endSound = shot.holed || inRange(end.lie, end.distance);
  const sound = inRange(shot.lie, shot.distance_yd) && endSound;
  if (!sound || Number.isNaN(before) || Number.isNaN(after)) {
    if (!isLie(shot.lie)) return 'unknown_lie';
    if (!inRange(shot.lie, shot.distance_yd)) return 'bad_distance';
    if (!end.known) return 'no_end';
    if (!shot.holed && end.lie === null) return 'unknown_lie';
    return sound ? 'lie_not_in_baseline' : 'bad_distance';
  }
  const beyond = isExtended(baseline, shot.lie, shot.distance_yd);
  return beyond || (!shot.holed && isExtended(baseline, end.lie, end.distance)) ? 'extended' : 'printed';
}
