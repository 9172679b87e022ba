/**
 * The competition lock (rule 4.3a): which round locks strokes gained, evidence, plans and notes of its player. The rule is
 * in `server/questions/competition_lock.py`; this is its twin, and `tests/vectors/competition_lock.json` holds both to it.
 */
import { COMPETITION } from './shot.js';

/**
 * Whether a round is a competition, or any change ever made it one: changing its kind opens nothing, closing does.
 * @param {{op: string, body: any}[]} changes every change of the round @returns {boolean}
 */
export function everCompetition(changes) {
  return changes.some((change) => change.op !== 'delete' && change.body?.kind === COMPETITION);
}

/**
 * Whether a round that was ever a competition locks: its head, or of a deleted one its last put, does not say that it is
 * closed, and it is there, or was deleted while shots of it live.
 * @param {{body: any, deleted: 0|1}} round @param {boolean} hasShots live ones @returns {boolean}
 */
export function locks(round, hasShots) {
  return Boolean(round.body) && !round.body.closed && (!round.deleted || hasShots);
}
