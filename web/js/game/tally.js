/** The tally of a round: what the list of rounds and the distances need, so that a season need not be read again. */
import { fullSwings } from './distances.js';
import { roundScore } from './score.js';

/** Raised when a tally means something else than before, so that stored ones are made anew. */
const TALLY_VERSION = 3;

/**
 * @typedef {{version: string, shots: number, strokes: number, to_par: number, done: number, incomplete: boolean,
 *   clubs: Record<string, number>, swings: Record<string, import('./distances.js').Swing[]>}} Tally
 */

/** What a stored tally must say to be good still. @returns {string} */
export function tallyVersion() {
  return String(TALLY_VERSION);
}

/**
 * @param {import('./shot.js').Shot[]} shots @param {import('./shot.js').Hole[]} holes
 * @param {number|null} [meant] holes that were to be played @returns {Tally}
 */
export function tallyRound(shots, holes, meant = null) {
  const score = roundScore(shots, holes, meant);
  return {
    version: tallyVersion(),
    shots: shots.length,
    strokes: score.strokes,
    to_par: score.to_par,
    done: score.done,
    incomplete: score.incomplete,
    clubs: shotsByClub(shots),
    swings: fullSwings(shots),
  };
}

/** @param {import('./shot.js').Shot[]} shots @returns {Record<string, number>} shots of any ball */
function shotsByClub(shots) {
  /** @type {Record<string, number>} */
  const counts = {};
  for (const { club_id: club } of shots) if (club) counts[club] = (counts[club] ?? 0) + 1;
  return counts;
}
