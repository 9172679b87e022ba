/** The slip of the last round on the first screen: its score, and what it gained and lost, once no competition round is open. */
import { SCHEMES } from '../game/categories.js';
import { toParWords } from '../game/score.js';
import { byCategory, total } from '../game/summaries.js';
import { h } from '../ui/elements.js';
import { CATEGORY_WORDS, dayWords, gained, tone } from '../ui/words.js';
import { valuedShots } from './round-data.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../log/store.js').StoredRecord} StoredRecord */

/**
 * The latest finished round with a score; null where there is none.
 * @param {Session} session @param {StoredRecord[]} rounds the latest first @param {Map<string, import('../game/tally.js').Tally>} tallies
 * @param {Map<string, string>} names of courses
 */
export async function lastRoundSlip(session, rounds, tallies, names) {
  const round = rounds.find((one) => one.body.closed && tallies.get(one.record_id)?.done);
  if (!round) return null;
  const tally = /** @type {import('../game/tally.js').Tally} */ (tallies.get(round.record_id));
  const holes = tally.incomplete ? ` (${tally.done} ${tally.done === 1 ? 'hole' : 'holes'})` : '';
  const locked = await session.lockingRound();
  return h(
    'a',
    {
      class: 'slip',
      id: 'last-round',
      href: `#/round/${round.record_id}/${locked ? 'card' : 'review'}`,
    },
    h(
      'span',
      { class: 'slip-head' },
      h('span', { class: 'slip-title' }, 'Last round'),
      h('span', null, `${dayWords(round.body.played_on)} · ${names.get(round.body.course_id) ?? 'no course'}`),
    ),
    h(
      'span',
      { class: 'slip-score' },
      h('span', { class: 'number' }, String(tally.strokes)),
      h('span', null, `${toParWords(tally.to_par)}${holes}`),
    ),
    locked ? null : await gains(session, round),
  );
}

/** Strokes gained of the round, and its best and worst part. @param {Session} session @param {StoredRecord} round */
async function gains(session, round) {
  const shots = await session.store.shots(round.player_id, round.record_id);
  const valued = valuedShots(session, shots, round.body.holes);
  const sum = total(valued);
  if (!sum.shots) return null;
  const parts = byCategory(valued, SCHEMES[session.scheme.name])
    .filter((row) => row.shots)
    .sort((a, b) => b.strokes_gained - a.strokes_gained);
  const best = parts[0];
  const worst = parts[parts.length - 1];
  return h(
    'span',
    { class: 'slip-gains' },
    gain('strokes gained', sum.strokes_gained),
    parts.length > 1
      ? [
          gain(`best: ${CATEGORY_WORDS[best.name]}`, best.strokes_gained),
          gain(`worst: ${CATEGORY_WORDS[worst.name]}`, worst.strokes_gained),
        ]
      : null,
  );
}

/** @param {string} words @param {number} value */
function gain(words, value) {
  return h('span', { class: 'slip-gain' }, h('span', { class: tone(value) }, gained(value)), ` ${words}`);
}
