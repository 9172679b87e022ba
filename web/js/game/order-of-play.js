/** Order of play: what the shots of one round must agree on between them. Twin of a part of `server/game/order_of_play.py`. */

/** @param {any} shot @returns {boolean} */
function hasEnded(shot) {
  return Boolean(shot.holed || shot.picked_up) || (shot.end_distance_yd ?? null) !== null;
}

/**
 * The places of the last shots of balls that came to no end: neither holed nor picked up, and no end entered. A provisional ball
 * needs none: once the first ball is found it is abandoned where it lies (rule 18.3c).
 * @param {{hole: number, ball?: number, order: number, holed?: boolean, picked_up?: boolean, provisional?: boolean, end_distance_yd?: number|null}[]} shots
 * @returns {number[]}
 */
export function ballsLeftOpen(shots) {
  /** @type {Map<string, number[]>} */
  const balls = new Map();
  shots.forEach((shot, place) => {
    const key = `${shot.hole} ${shot.ball || 1}`;
    balls.set(key, [...(balls.get(key) ?? []), place]);
  });
  const left = [];
  for (const places of balls.values()) {
    places.sort((a, b) => shots[a].order - shots[b].order);
    const first = shots[places[0]];
    const last = places[places.length - 1];
    const provisional = (first.ball || 1) > 1 && Boolean(first.provisional);
    if (!provisional && !hasEnded(shots[last])) left.push(last);
  }
  return left.sort((a, b) => a - b);
}
