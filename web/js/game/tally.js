/** The tally of a round: what the list of rounds and the distances need, so that a season need not be read again. */
import { fullSwings } from './distances.js';
import { roundScore } from './score.js';

/** Raised when a tally means something else than before, so that stored ones are made anew. */
const TALLY_VERSION = 1;

/**
 * @typedef {{version: string, shots: number, strokes: number, to_par: number, done: number, incomplete: boolean,
 *   swings: Record<string, number[]>}} Tally
 */

/**
 * What a stored tally must say to be good still.
 * @param {number} shortGameYd @returns {string}
 */
export function tallyVersion(shortGameYd) {
  return `${TALLY_VERSION} ${shortGameYd}`;
}

/**
 * @param {import('./shot.js').Shot[]} shots @param {import('./shot.js').Hole[]} holes @param {number} shortGameYd @returns {Tally}
 */
export function tallyRound(shots, holes, shortGameYd) {
  const score = roundScore(shots, holes);
  return {
    version: tallyVersion(shortGameYd),
    shots: shots.length,
    strokes: score.strokes,
    to_par: score.to_par,
    done: score.done,
    incomplete: score.incomplete,
    swings: fullSwings(shots, shortGameYd),
  };
}
