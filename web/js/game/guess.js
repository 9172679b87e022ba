/**
 * First guesses for the next shot, so that most shots need few taps: they are pencilled in and meant to be
 * corrected. Figures are stated choices of this tool.
 *
 * During a competition round no club is guessed from the distance: a device may not recommend a club (rule 4.3a).
 */
import { FAIRWAY, GREEN, ROUGH, SAND, TEE } from './lies.js';
import { isFairwayDrop, isRelief, returnsToSameSpot } from './penalties.js';

/** `distance_yd` null: nothing tells how far it is, so the player is asked. @typedef {{lie: string, distance_yd: number|null}} Spot */

/** Where a shot at the green is guessed to end, by the distance it was played from: yards to feet left. */
const LEFT_AFTER_FT = [
  [20, 5],
  [50, 10],
  [100, 18],
  [150, 24],
  [Infinity, 30],
];
/** A shot that leaves less than this is guessed to be on the green, in yards. */
const REACHES_GREEN_YD = 15;
const SHORTEST_PUTT_FT = 2;

/** @param {number} feet @returns {Spot} */
function onGreen(feet) {
  return { lie: GREEN, distance_yd: feet / 3 };
}

/**
 * Where the next shot of a ball starts.
 * @param {import('./shot.js').Shot} shot the last shot of the ball @param {number} stockYd the club's stock distance
 * @returns {Spot}
 */
export function nextSpot(shot, stockYd) {
  if (shot.end_lie && shot.end_distance_yd) return { lie: shot.end_lie, distance_yd: shot.end_distance_yd };
  if (returnsToSameSpot(shot.penalty_reason, shot.penalty_strokes || 0))
    return { lie: shot.lie, distance_yd: shot.distance_yd };
  if (isFairwayDrop(shot.penalty_reason, shot.penalty_strokes || 0)) return { lie: FAIRWAY, distance_yd: null };
  if (isRelief(shot.penalty_reason)) return { lie: ROUGH, distance_yd: null };
  if (shot.lie === GREEN) return onGreen(Math.max(SHORTEST_PUTT_FT, Math.round(shot.distance_yd * 3 * 0.08)));
  const intended = shot.swing === 'part' && shot.target_yd ? shot.target_yd : stockYd;
  const left = shot.distance_yd - intended;
  if (left < REACHES_GREEN_YD) {
    const row = LEFT_AFTER_FT.find(([from]) => shot.distance_yd <= from) ?? LEFT_AFTER_FT[LEFT_AFTER_FT.length - 1];
    return onGreen(row[1]);
  }
  return { lie: FAIRWAY, distance_yd: Math.round(left) };
}

/**
 * Clubs of the bag from the longest to the shortest, the putter last.
 * @template {{record_id: string, body: {sort: string}}} C
 * @param {C[]} clubs @param {Map<string, {yards: number}>} stock @returns {C[]}
 */
export function longestFirst(clubs, stock) {
  const yards = (/** @type {C} */ club) => (club.body.sort === 'putter' ? -1 : (stock.get(club.record_id)?.yards ?? 0));
  return [...clubs].sort((a, b) => yards(b) - yards(a));
}

/**
 * The club that is guessed for a spot, or null when the bag has none.
 * @template {{record_id: string, body: {sort: string}}} C
 * @param {C[]} clubs @param {Map<string, {yards: number}>} stock @param {Spot} spot @param {number} par @returns {string|null}
 */
export function guessClub(clubs, stock, spot, par) {
  const order = longestFirst(clubs, stock);
  const putter = order.find((club) => club.body.sort === 'putter');
  if (spot.lie === GREEN && putter) return putter.record_id;
  const { distance_yd: distance } = spot;
  if (distance === null) return null;
  const swinging = order.filter((club) => club.body.sort !== 'putter');
  if (!swinging.length) return order[0]?.record_id ?? null;
  if (spot.lie === TEE && par >= 4) return swinging[0].record_id;
  if (spot.lie === SAND && distance <= 40) return swinging[swinging.length - 1].record_id;
  const usable = spot.lie === TEE ? swinging : swinging.filter((club) => club.body.sort !== 'driver');
  const away = (/** @type {C} */ club) => Math.abs((stock.get(club.record_id)?.yards ?? 0) - distance);
  const best = (usable.length ? usable : swinging).reduce((a, b) => (away(b) < away(a) ? b : a));
  return best.record_id;
}

/** How a distance changes when another lie is tapped: feet are guessed on the green, yards kept off it.
 * @param {Spot} spot @param {string} lie @param {number} [offGreenYd] the last distance off the green @returns {Spot}
 */
export function withLie(spot, lie, offGreenYd) {
  if (lie === spot.lie) return spot;
  if (spot.distance_yd === null) return { lie, distance_yd: null };
  if (lie === GREEN)
    return spot.distance_yd <= 40 && spot.lie !== GREEN
      ? onGreen(Math.max(3, Math.round(spot.distance_yd * 3 * 0.8)))
      : onGreen(20);
  if (spot.lie === GREEN) return { lie, distance_yd: offGreenYd ?? Math.max(3, Math.round(spot.distance_yd)) };
  return { lie, distance_yd: spot.distance_yd };
}
