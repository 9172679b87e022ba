/**
 * Clubs on trial against each other: which of them this hole of a practice round is for, how far the trial is, and the duel: the
 * other club from the same spot, one tap after the shot.
 */
import { clubOfHole, clubsOnTrial, duelsOf, stillToHit } from '../game/alternation.js';
import { shortLabels, spokenLabel } from '../game/club-labels.js';
import { PRACTICE } from '../game/shot.js';
import { button, h } from '../ui/elements.js';
import { counted } from '../ui/words.js';

/** @typedef {{next: string, clubs: {id: string, label: string, shots: number}[]}} TrialOfHole `next`: id of the hole's club; shots so far */
/** @typedef {import('./play.js').Place} Place */

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
  return {
    next: clubOfHole(ids, data.round.record_id, hole),
    clubs: clubs.map((club) => ({
      id: club.record_id,
      label: club.body.label,
      shots: tallies.reduce((sum, tally) => sum + (tally.clubs[club.record_id] ?? 0), 0),
    })),
  };
}

/**
 * @param {Place} place @param {((clubId: string) => void)|null} choose takes a club for the next shot; null: the ball is done
 * @param {(clubId: string, event: Event) => void} duel hits another club from the spot of the last shot
 */
export function trialLine(place, choose, duel) {
  const trial = place.session.state.playing?.trial;
  if (!trial) return null;
  const next = trial.clubs.find((club) => club.id === trial.next);
  const counts = trial.clubs.map((club) => `${club.label} ${club.shots}`).join(', ');
  const shots = place.data.shots.map((record) => record.body);
  const ids = trial.clubs.map((club) => club.id);
  const duels = duelsOf(shots, ids);
  const others = stillToHit(shots, ids, place.hole.number, place.ball);
  return h(
    'div',
    { class: 'trial-line', id: 'trial-line', role: 'group', 'aria-label': 'Clubs on trial' },
    h('span', null, 'Trial, this hole: '),
    choose && next ? clubButton(place, next, choose) : h('strong', null, next?.label),
    h('span', { class: 'hint' }, ` shots so far: ${counts}${duels ? `; ${counted(duels, 'duel')} in this round` : ''}`),
    others.map((id) => {
      const label = trial.clubs.find((club) => club.id === id)?.label;
      return button(`Duel: ${label} from the same spot`, (event) => duel(id, event), {
        class: 'duel',
        id: `duel-${id}`,
      });
    }),
  );
}

/** @param {Place} place @param {{id: string, label: string}} club @param {(clubId: string) => void} choose */
function clubButton(place, { id, label }, choose) {
  const short = shortLabels(place.data.bag).get(id) ?? label;
  return button(label, () => choose(id), {
    class: 'choice',
    id: 'trial-club',
    'aria-pressed': place.draft.club_id === id ? 'true' : 'false',
    'aria-label': `${spokenLabel(short, label)}, the club of this hole`,
  });
}
