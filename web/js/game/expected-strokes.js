/**
 * Expected strokes: the average number of strokes to hole out from a lie and a distance, by a baseline.
 *
 * E is interpolated linearly between a curve's knots; after the last knot its `slope_beyond` goes on. Values
 * outside the printed rows are marked as extended. E(holed) = 0.
 */
import { VALUED_AS, isLie } from './lies.js';

/**
 * @typedef {object} Curve
 * @property {number[]} distance_yd ascending, printed and extension knots together
 * @property {number[]} expected strokes at each knot
 * @property {number} printed_from @property {number} printed_to yards, both included
 * @property {number} slope_beyond strokes per yard after the last knot
 *
 * @typedef {{id: string, title: string, version: string, source: string, curves: Record<string, Curve>}} Baseline
 */

/**
 * @param {Baseline} baseline @param {unknown} lie @returns {Curve|null}
 */
function curveOf(baseline, lie) {
  if (!isLie(lie)) return null;
  return baseline.curves[VALUED_AS[lie] ?? lie] ?? null;
}

/**
 * Expected strokes to hole out; NaN for an unknown lie, a lie that the baseline lacks, or a distance that is not a finite
 * number above 0.
 * @param {Baseline} baseline @param {unknown} lie @param {unknown} distanceYd @returns {number}
 */
export function expected(baseline, lie, distanceYd) {
  const curve = curveOf(baseline, lie);
  if (!curve || typeof distanceYd !== 'number' || !(distanceYd > 0) || !Number.isFinite(distanceYd)) return NaN;
  const knots = curve.distance_yd;
  let low = 0;
  let high = knots.length - 1;
  if (distanceYd >= knots[high]) return curve.expected[high] + curve.slope_beyond * (distanceYd - knots[high]);
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (knots[middle] <= distanceYd) low = middle;
    else high = middle;
  }
  const slope = (curve.expected[high] - curve.expected[low]) / (knots[high] - knots[low]);
  return curve.expected[low] + slope * (distanceYd - knots[low]);
}

/**
 * True where a value comes from the extension outside the printed rows.
 * @param {Baseline} baseline @param {unknown} lie @param {unknown} distanceYd @returns {boolean}
 */
export function isExtended(baseline, lie, distanceYd) {
  const curve = curveOf(baseline, lie);
  if (!curve || typeof distanceYd !== 'number') return false;
  return distanceYd < curve.printed_from || distanceYd > curve.printed_to;
}
