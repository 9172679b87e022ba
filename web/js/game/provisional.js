/**
 * A provisional ball (rule 18.3): played in case the first ball is lost outside a penalty area or out of bounds.
 *
 * While the first ball is in question the provisional is a ball of its own number, marked `provisional`. It becomes the
 * ball in play only if the first is lost or out of bounds; then its strokes count, after one penalty stroke of the
 * shot that lost the first ball. Otherwise it is abandoned, and its strokes count for nothing but the clubs.
 */
import { STROKE_AND_DISTANCE_ONLY } from './penalties.js';
import { shotsOfBall } from './score.js';

/**
 * The shots of one hole after the provisional `ball` has become the ball in play. Input untouched.
 *
 * The last shot of ball 1 takes one penalty stroke and `reason` (lost or out_of_bounds); the provisional's shots follow
 * it as ball 1. RangeError when there is no such provisional or the reason does not allow one.
 * @param {import('./shot.js').Shot[]} shots of one hole @param {number} ball @param {string} reason
 * @returns {import('./shot.js').Shot[]}
 */
export function provisionalInPlay(shots, ball, reason) {
  if (!STROKE_AND_DISTANCE_ONLY.includes(reason)) {
    throw new RangeError(`penalty_reason: ${reason} does not bring a provisional ball into play (rule 18.3c)`);
  }
  const first = shots.filter((shot) => shot.ball === 1).sort((a, b) => a.order - b.order);
  const origin = first[first.length - 1];
  if (!origin || !shots.some((shot) => shot.ball === ball && shot.provisional)) {
    throw new RangeError(`ball: ${ball} is not a provisional ball of this hole`);
  }
  return shots.map((shot) => {
    if (shot === origin) {
      return {
        ...shot,
        penalty_strokes: 1,
        penalty_reason: reason,
        end_lie: null,
        end_distance_yd: null,
        picked_up: false,
      };
    }
    if (shot.ball === ball) return { ...shot, ball: 1, order: origin.order + shot.order, provisional: false };
    return { ...shot };
  });
}

/**
 * The number of the provisional ball whose question is still open on a hole, or null. It is open while ball 1 has
 * not been played on since, nor holed or picked up.
 * @param {import('./shot.js').Shot[]} shots of the round @param {number} hole @returns {number|null}
 */
export function openProvisional(shots, hole) {
  const first = shotsOfBall(shots, hole, 1);
  const last = first[first.length - 1];
  if (!last || last.holed || last.picked_up) return null;
  const open = shots.filter(
    (shot) => shot.hole === hole && shot.provisional && (shot.provisional_for ?? last.order) === last.order,
  );
  return open.length ? Math.max(...open.map((shot) => shot.ball)) : null;
}
