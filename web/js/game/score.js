/** Scores: strokes and penalty strokes of the ball of record. A picked-up hole has no score. */
import { isWhole } from './closings.js';

/**
 * `state`: open (no shot, not finished, or the numbers do not run 1, 2, 3), holed, picked_up. `strokes` counts what has been played, penalties included.
 * @typedef {{hole: number, par: number, strokes: number, shots: number, state: 'open'|'holed'|'picked_up'}} HoleScore
 */

/**
 * The shots of one ball in playing order.
 * @template {{hole: number, ball: number, order: number}} T
 * @param {T[]} shots @param {number} hole @param {number} ball @returns {T[]}
 */
export function shotsOfBall(shots, hole, ball) {
  return shots.filter((shot) => shot.hole === hole && shot.ball === ball).sort((a, b) => a.order - b.order);
}

/**
 * @param {import('./shot.js').Shot[]} shots of the round @param {import('./shot.js').Hole} hole @returns {HoleScore}
 */
export function holeScore(shots, hole) {
  const played = shotsOfBall(shots, hole.number, 1);
  const strokes = played.reduce((sum, shot) => sum + 1 + (shot.penalty_strokes || 0), 0);
  const last = played[played.length - 1];
  const inOrder = played.every((shot, place) => shot.order === place + 1 && (shot.holed !== true || shot === last));
  const state = last?.holed && inOrder ? 'holed' : last?.picked_up ? 'picked_up' : 'open';
  return { hole: hole.number, par: hole.par, strokes, shots: played.length, state };
}

/**
 * `strokes`, `to_par`: over the holes that were holed out. `incomplete`: some hole that was meant or begun has no score.
 * @typedef {{holes: HoleScore[], strokes: number, to_par: number, done: number, picked_up: number, incomplete: boolean}} RoundScore
 *
 * @param {import('./shot.js').Shot[]} shots @param {import('./shot.js').Hole[]} holes
 * @param {number|null} [meant] how many of the holes were to be played; all of them when it is not given @returns {RoundScore}
 */
export function roundScore(shots, holes, meant = null) {
  const byHole = holes.map((hole) => holeScore(shots, hole));
  const holed = byHole.filter((score) => score.state === 'holed');
  const begun = byHole.filter((score) => score.shots).length;
  const strokes = holed.reduce((sum, score) => sum + score.strokes, 0);
  const par = holed.reduce((sum, score) => sum + score.par, 0);
  return {
    holes: byHole,
    strokes,
    to_par: strokes - par,
    done: holed.length,
    picked_up: byHole.filter((score) => score.state === 'picked_up').length,
    incomplete: !isWhole(holes.length, begun, holed.length, meant),
  };
}

/**
 * A score to par in the trade's words: "level par", "+3", "-2" with a true minus sign.
 * @param {number} toPar @returns {string}
 */
export function toParWords(toPar) {
  if (toPar === 0) return 'level par';
  return toPar > 0 ? `+${toPar}` : `\u2212${-toPar}`;
}

/** Scores on a hole that have a name, by strokes to par. */
const NAMES = new Map([
  [-2, 'Eagle'],
  [-1, 'Birdie'],
  [0, 'Par'],
  [1, 'Bogey'],
  [2, 'Double bogey'],
]);

/**
 * The score of a hole by its name where it has one, else strokes and to par: "Par", "8, +4".
 * @param {number} strokes @param {number} par @returns {string}
 */
export function holeWords(strokes, par) {
  if (strokes === 1) return 'Hole in one';
  return NAMES.get(strokes - par) ?? `${strokes}, ${toParWords(strokes - par)}`;
}
