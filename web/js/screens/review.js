/** After the round: where strokes went by category and club, the best and worst shots. */
import { SCHEMES } from '../game/categories.js';
import { toParWords } from '../game/score.js';
import { byCategory, byClub, extremes, total } from '../game/summaries.js';
import { hatching, tally, tallyLength } from '../charts/pencil.js';
import { spoken } from '../game/units.js';
import { closingsPart, missingWords } from './closing.js';
import { h } from '../ui/elements.js';
import { notesPart } from './notes.js';
import { conditionsPart } from './recorded-conditions.js';
import { labels, roundData } from './round-data.js';
import { CATEGORY_WORDS, REASON_WORDS, counted, dayWords, gained, tone } from '../ui/words.js';

const EXTREMES = 3;
const SMALLEST_SCALE = 1;

/** @param {import('../session.js').Session} session @param {string} roundId @returns {Promise<import('../routes.js').Drawn>} */
export async function reviewScreen(session, roundId) {
  const data = await roundData(session, roundId);
  const { valued, score } = data;
  const missing = missingWords(data.round.body, score);
  const label = labels(data.clubs);
  const sum = total(valued);
  const categories = byCategory(valued, SCHEMES[session.scheme.name]).map((row) => ({
    ...row,
    words: CATEGORY_WORDS[row.name],
  }));
  const clubs = byClub(valued).map((row) => ({ ...row, words: label(row.name) }));
  const { best, worst } = extremes(valued, EXTREMES);
  const extended = valued.filter((row) => row.value.basis === 'extended').length;
  return {
    title: 'Review',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Review'),
      h(
        'p',
        { class: 'card-line' },
        `${dayWords(data.round.body.played_on)} · ${score.done ? `${score.strokes}, ${toParWords(score.to_par)}` : 'no hole finished'}${missing ? ` · ${missing}` : ''}`,
      ),
      closingsPart(data.round.body),
      !session.baseline
        ? h('p', { class: 'notice' }, 'No baseline on this phone yet: connect once, then values appear.')
        : null,
      h(
        'p',
        { class: `big-score ${tone(sum.strokes_gained)}` },
        h('span', { class: 'number' }, gained(sum.strokes_gained)),
        ' strokes gained',
      ),
      h(
        'p',
        { class: 'hint' },
        `against ${session.baseline?.title ?? 'no baseline'}; ${counted(sum.shots, 'shot')}${sum.unvalued ? `, ${sum.unvalued} without a value` : ''}${extended ? `, ${extended} beyond the table’s range` : ''}. One round is mostly chance: look for what repeats.`,
      ),
      bars('By category', categories, 'ball 1'),
      shotsPart('Best shots', best, session, label, roundId),
      shotsPart('Worst shots', worst, session, label, roundId),
      bars('By club', clubs, 'extra balls included'),
      conditionsPart(data.round.body),
      notesPart(session, { player: /** @type {string} */ (session.playerId), about: 'round', id: roundId }),
      h('p', { class: 'no-print' }, h('a', { class: 'button', href: `#/round/${roundId}/card` }, 'Scorecard')),
    ),
  };
}

/**
 * Sums as bars from a middle line: right is gained, left is lost.
 * @param {string} title @param {{words: string, shots: number, strokes_gained: number}[]} rows @param {string} hint
 */
function bars(title, rows, hint) {
  const scale = Math.max(SMALLEST_SCALE, ...rows.map((row) => Math.abs(row.strokes_gained)));
  return h(
    'section',
    null,
    h('h2', null, title),
    h('p', { class: 'hint' }, hint),
    h(
      'table',
      { class: 'bars' },
      h(
        'thead',
        { class: 'hidden' },
        h(
          'tr',
          null,
          [title, 'lost or gained', 'strokes', 'shots'].map((words) => h('th', { scope: 'col' }, words)),
        ),
      ),
      h(
        'tbody',
        null,
        rows.map((row) =>
          h(
            'tr',
            null,
            h('th', { scope: 'row' }, row.words),
            h('td', { class: 'bar-cell' }, bar(row.strokes_gained, scale)),
            h('td', { class: tone(row.strokes_gained) }, row.shots ? gained(row.strokes_gained) : '–'),
            h(
              'td',
              { class: 'count' },
              row.shots > 0 && row.shots < 12 ? counting(row.shots) : null,
              counted(row.shots, 'shot'),
            ),
          ),
        ),
      ),
    ),
  );
}

/** A small count as a tally over its words. @param {number} count */
function counting(count) {
  return [
    h(
      'svg',
      { width: tallyLength(count) + 3, height: 11, 'aria-hidden': 'true' },
      h('path', { d: tally(count, 1, 0), class: 'tally' }),
    ),
    h('br'),
  ];
}

/** @param {number} value @param {number} scale */
function bar(value, scale) {
  const width = (Math.abs(value) / scale) * 48;
  const left = value < 0 ? 50 - width : 50;
  return h(
    'svg',
    { viewBox: '0 0 100 14', class: 'bar', 'aria-hidden': 'true', preserveAspectRatio: 'none' },
    h('line', { x1: 50, y1: 0, x2: 50, y2: 14, class: 'axis' }),
    h('path', { d: hatching(left, 3, width, 8, value >= 0, 3.5), class: 'hatch' }),
    h('rect', { x: left, y: 3, width, height: 8, class: value < 0 ? 'loss-bar' : 'gain-bar' }),
  );
}

/**
 * @param {string} title @param {import('../game/summaries.js').ValuedShot[]} rows @param {import('../session.js').Session} session
 * @param {(id: string) => string} label @param {string} roundId
 */
function shotsPart(title, rows, session, label, roundId) {
  if (!rows.length) return null;
  const words = (/** @type {any} */ shot) =>
    `${label(shot.club_id)} from ${shot.lie} ${spoken(shot.distance_yd, shot.lie, session.units)}${shot.holed ? ', holed' : ''}${shot.penalty_reason ? `, ${REASON_WORDS[shot.penalty_reason]}` : ''}`;
  return h(
    'section',
    null,
    h('h2', null, title),
    h(
      'ul',
      { class: 'list' },
      rows.map((row) =>
        h(
          'li',
          null,
          h(
            'a',
            { class: 'list-row', href: `#/round/${roundId}/${row.shot.hole}` },
            h(
              'span',
              { class: 'list-main' },
              words(row.shot),
              h('span', { class: 'list-under' }, `hole ${row.shot.hole}, shot ${row.shot.order}`),
            ),
            h('span', { class: `list-side ${tone(row.value.strokes_gained)}` }, gained(row.value.strokes_gained)),
          ),
        ),
      ),
    ),
  );
}
