/**
 * Linking the shots of a ball: the end of a shot is the start of the next shot of the same ball on the same hole.
 *
 * That one rule covers relief (the next shot starts at the drop, rules 17 and 19), stroke and distance (it starts
 * where this one did) and re-teeing.
 */

export const IN_ORDER = 0;
export const REPEATED = 1;
export const GAP = 2;
export const AFTER_HOLED = 3;

/**
 * Link shots to the next of their ball.
 *
 * `following`: for each shot the place of the next shot of its ball, or -1. `fault`: IN_ORDER, REPEATED (two shots with
 * one number), GAP (the number after it is missing) or AFTER_HOLED.
 * @param {{round_id?: string, hole: number, ball?: number, order: number, holed?: boolean}[]} shots in any order
 * @returns {{following: number[], fault: number[]}}
 */
export function link(shots) {
  const following = new Array(shots.length).fill(-1);
  const fault = new Array(shots.length).fill(IN_ORDER);
  for (const places of balls(shots)) {
    markFaults(shots, places, fault);
    for (let i = 0; i + 1 < places.length; i += 1) {
      const step = shots[places[i + 1]].order - shots[places[i]].order;
      if (step === 1 && fault[places[i]] === IN_ORDER) following[places[i]] = places[i + 1];
    }
    const holed = places.findIndex((place) => shots[place].holed === true);
    if (holed >= 0) for (const place of places.slice(holed + 1)) fault[place] = AFTER_HOLED;
  }
  return { following, fault };
}

/**
 * The places of the shots of each ball, in playing order.
 * @param {{round_id?: string, hole: number, ball?: number, order: number}[]} shots @returns {number[][]}
 */
function balls(shots) {
  /** @type {Map<string, number[]>} */
  const byBall = new Map();
  shots.forEach((shot, place) => {
    const key = `${shot.round_id ?? ''} ${shot.hole} ${shot.ball || 1}`;
    const places = byBall.get(key);
    if (places) places.push(place);
    else byBall.set(key, [place]);
  });
  for (const places of byBall.values()) places.sort((a, b) => shots[a].order - shots[b].order || a - b);
  return [...byBall.values()];
}

/**
 * Mark shots whose successor is missing or whose number occurs twice, and those that lead into such a pair.
 * @param {{order: number}[]} shots @param {number[]} places @param {number[]} fault
 */
function markFaults(shots, places, fault) {
  const step = places.slice(1).map((place, i) => shots[place].order - shots[places[i]].order);
  step.forEach((size, i) => {
    if (size > 1) fault[places[i]] = GAP;
  });
  step.forEach((size, i) => {
    if (size === 0) fault[places[i]] = fault[places[i + 1]] = REPEATED;
  });
  const lead = step.map((size, i) => size === 1 && fault[places[i + 1]] === REPEATED && fault[places[i]] === IN_ORDER);
  lead.forEach((leads, i) => {
    if (leads) fault[places[i]] = REPEATED;
  });
}
