/** Clubs on trial against each other: which of them this hole of a practice round is for, and how far the trial is. */
import { clubOfHole, clubsOnTrial } from '../game/alternation.js';
import { PRACTICE } from '../game/shot.js';
import { h } from '../ui/elements.js';

/** @typedef {{next: string, counts: [string, number][]}} TrialOfHole the club's label; shots so far by label */

/**
 * In practice rounds alone: in others the player chooses (rule 4.3a).
 * @param {Awaited<ReturnType<typeof import('./round-data.js').roundData>>} data @param {number} hole
 * @param {import('../game/tally.js').Tally[]} tallies of all rounds @returns {TrialOfHole|null}
 */
export function trialOf(data, hole, tallies) {
  const practice = data.round.body.kind === PRACTICE && !data.locked;
  const clubs = practice ? clubsOnTrial(data.bag) : [];
  if (!clubs.length) return null;
  const ids = clubs.map((club) => club.record_id);
  const next = clubOfHole(ids, data.round.record_id, hole);
  return {
    next: clubs.find((club) => club.record_id === next)?.body.label ?? '',
    counts: clubs.map((club) => [
      club.body.label,
      tallies.reduce((sum, tally) => sum + (tally.clubs[club.record_id] ?? 0), 0),
    ]),
  };
}

/** @param {TrialOfHole|null} trial */
export function trialLine(trial) {
  if (!trial) return null;
  const counts = trial.counts.map(([label, shots]) => `${label} ${shots}`).join(', ');
  return h(
    'p',
    { class: 'trial-line', id: 'trial-line' },
    'Trial, this hole: ',
    h('strong', null, trial.next),
    h('span', { class: 'hint' }, ` shots so far: ${counts}`),
  );
}
