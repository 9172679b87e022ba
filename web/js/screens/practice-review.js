/** A practice session looked at: its totals, worked out on the phone, and every ball. */
import { PUTTING_GREEN, SHORT_GAME } from '../game/practice.js';
import { clubRows, puttBands, shortRows } from '../game/practice-totals.js';
import { fromYards } from '../game/units.js';
import { button, h } from '../ui/elements.js';
import { styleSheet } from '../ui/style-sheet.js';
import { counted, dayWords } from '../ui/words.js';
import { cacheTheRest } from '../bridge.js';
import { ballList } from './practice-list.js';
import { PLACE_WORDS, SHEET, keptNotice, practiceData, unitOf } from './practice-data.js';
import { deleteSession } from './practice-more.js';
import { labels } from './round-data.js';
import { LOCK_WORDS } from './locked.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../game/practice-totals.js').Figure} Figure */

/** @param {Session} session @param {string} id @returns {Promise<import('../routes.js').Drawn>} */
export async function practiceReviewScreen(session, id) {
  cacheTheRest();
  await styleSheet(SHEET);
  const data = await practiceData(session, id);
  const { record, balls } = data;
  const { body } = record;
  const label = labels(data.clubs);
  const bodies = balls.map((ball) => ball.body);
  const reopen = async () => {
    const edits = [{ record_id: id, kind: 'session', body: { ...body, closed: false } }];
    if (await session.write(id, () => ({ edits, words: 'Session reopened' }))) session.frame?.go(`practice/${id}`);
  };
  const pairs = new Set(bodies.map((ball) => ball.duel_id).filter(Boolean)).size;
  return {
    title: 'Practice session',
    content: h(
      'div',
      { class: 'page practice-review' },
      h('h1', null, PLACE_WORDS[body.place] ?? 'Practice'),
      h(
        'p',
        { class: 'card-line', id: 'session-line' },
        [
          dayWords(body.date),
          counted(balls.length, 'ball'),
          pairs ? counted(pairs, 'pair of a duel', 'pairs of a duel') : null,
          body.ball_label,
          body.from_file ? `from ${body.from_file}` : null,
        ]
          .filter(Boolean)
          .join(' · '),
      ),
      body.note ? h('p', null, body.note) : null,
      keptNotice(session),
      data.locked
        ? h('p', { class: 'notice' }, `The totals come back when the competition round is finished. ${LOCK_WORDS}`)
        : totals(bodies, body.place, label, session),
      balls.length
        ? h(
            'section',
            null,
            h('h2', null, 'Every ball'),
            ballList({ session, id, data }, /** @type {any} */ (balls), label).element,
          )
        : h('p', { class: 'empty' }, 'No ball yet.'),
      h(
        'div',
        { class: 'bottom-actions' },
        button(body.closed ? 'Reopen it' : 'Continue', reopen, { class: 'wide', id: 'reopen-session' }),
        button('Delete this session', () => deleteSession(session, id, balls.length), {
          class: 'wide red',
          id: 'delete-session',
        }),
      ),
    ),
  };
}

/** @param {any[]} balls @param {string} place @param {(id: string) => string} label @param {Session} session */
function totals(balls, place, label, session) {
  if (!balls.length) return null;
  if (place === PUTTING_GREEN) return puttTable(balls);
  if (place === SHORT_GAME) return shortTable(balls, label);
  return rangeTable(balls, label, session);
}

/** "148 ± 6". @param {Figure|null} figure @param {(value: number) => number} of @returns {string} */
function spreadWords(figure, of) {
  if (!figure) return '–';
  const mean = Math.round(of(figure.mean));
  return `${mean === 0 ? 0 : mean}${figure.spread === null ? '' : ` ± ${Math.round(of(figure.spread))}`}`.replace(
    '-',
    '−',
  );
}

/** @param {Figure|null} figure @returns {string} */
function feet(figure) {
  return figure ? figure.mean.toFixed(1) : '–';
}

/** @param {string} caption @param {string[]} heads @param {any[][]} rows */
function table(caption, heads, rows) {
  return h(
    'div',
    { class: 'table-box', tabindex: '0', role: 'region', 'aria-label': caption },
    h(
      'table',
      { class: 'totals', id: 'totals' },
      h('caption', { class: 'hint' }, caption),
      h(
        'thead',
        null,
        h(
          'tr',
          null,
          heads.map((head) => h('th', { scope: 'col' }, head)),
        ),
      ),
      h(
        'tbody',
        null,
        rows.map(([first, ...rest]) =>
          h(
            'tr',
            null,
            h('th', { scope: 'row' }, first),
            rest.map((cell) => h('td', null, cell)),
          ),
        ),
      ),
    ),
  );
}

/** @param {any[]} balls */
function puttTable(balls) {
  const rows = puttBands(balls).map(({ over, to, putts, holed, left_ft: left }) => [
    over ? `over ${over} to ${to} ft` : `up to ${to} ft`,
    `${holed} of ${putts}`,
    `${Math.round((100 * holed) / putts)} %`,
    feet(left),
  ]);
  return table(
    'Putts holed by length; what a miss left, in feet, on average.',
    ['length', 'holed', 'share', 'left'],
    rows,
  );
}

/** @param {any[]} balls @param {(id: string) => string} label */
function shortTable(balls, label) {
  const rows = shortRows(balls).map((row) => [label(row.club_id), row.balls, row.holed, feet(row.left_ft)]);
  return table(
    'What was left on average, in feet; a holed ball left nothing.',
    ['club', 'balls', 'holed', 'left'],
    rows,
  );
}

/** @param {any[]} balls @param {(id: string) => string} label @param {Session} session */
function rangeTable(balls, label, session) {
  const unit = unitOf(session.units);
  const of = (/** @type {number} */ yards) => fromYards(yards, unit);
  const rows = clubRows(balls).map((row) => [
    `${label(row.club_id)}${row.swing === 'part' ? ', part' : ''}`,
    row.balls,
    spreadWords(row.carry, of),
    spreadWords(row.finished, of),
    spreadWords(row.right, of),
  ]);
  return table(
    `Average ± spread (standard deviation) in ${unit === 'm' ? 'metres' : 'yards'}; right is plus, left minus.`,
    ['club', 'balls', 'carry', 'total', 'right'],
    rows,
  );
}
