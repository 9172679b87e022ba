/** The squad in order, adjusted for courses: worked out when it is asked for, as it reads every player. */
import { figure, table } from '../charts/figure.js';
import { clearTone, whiskerChart } from '../charts/whisker-chart.js';
import { button, field, h, select } from '../ui/elements.js';
import { counted, gained } from '../ui/words.js';
import { askEach } from './asking.js';
import { whyNot } from './page.js';
import { interval, percent, signed } from './words.js';

const NOBODY = ''; // the list is of no one player
const PARTS = /** @type {[string, string][]} */ ([
  ['total', 'all strokes'],
  ['off_the_tee', 'off the tee'],
  ['approach', 'approach'],
  ['around_the_green', 'around the green'],
  ['putting', 'putting'],
]);

/** @param {import('../session.js').Session} session */
export function ranksPart(session) {
  const body = h('div', { 'aria-live': 'polite' });
  let part = 'total';
  const show = async () => {
    body.replaceChildren(h('p', { class: 'hint' }, 'Working it out …'));
    const [answer] = await askEach(session, NOBODY, [`/api/squad/ranks?by=${part}`]);
    body.replaceChildren(...(answer.value ? ranked(answer.value) : [whyNot(/** @type {any} */ (answer.failure))]));
  };
  const choice = select(PARTS, part, (value) => {
    part = value;
    show();
  });
  choice.id = 'rank-by';
  return h(
    'section',
    { class: 'ranks' },
    h('div', { class: 'row chooser' }, field('By', choice), button('Show the order', show, { id: 'show-ranks' })),
    body,
  );
}

/** @param {any} found @returns {HTMLElement[]} */
function ranked({ players, left_out: leftOut, words, level }) {
  const rank = (/** @type {any} */ row) =>
    row.rank_low === row.rank_high ? String(row.rank_low) : `${row.rank_low} to ${row.rank_high}`;
  const rows = players.map((/** @type {any} */ row) => [
    `${row.name}, ${counted(row.rounds, 'round')}`,
    h('span', { class: clearTone(row.beside_squad, row.low, row.high) }, gained(row.beside_squad)),
    interval(row.low, row.high),
    rank(row),
    percent(row.chances[0]),
  ]);
  const whiskers = players.map((/** @type {any} */ row) => ({
    label: row.name,
    aside: `rank ${rank(row)}`,
    value: row.beside_squad,
    low: row.low,
    high: row.high,
  }));
  const drawing = {
    title: 'Strokes gained a round compared with the squad',
    description: `Each player compared with the mean of the squad, adjusted for courses, with the ${percent(level)} interval.`,
    left: '← loses to the squad',
    right: 'gains on the squad →',
    zero: 'level with the squad',
    signed,
  };
  return [
    h('p', { class: 'verdict small', id: 'rank-words' }, words),
    ...(players.length
      ? [
          figure(
            (room) => whiskerChart(whiskers, drawing, room),
            table(
              'Strokes gained a round compared with the squad',
              ['player', 'strokes', `${percent(level)} interval`, 'rank', 'first'],
              rows,
            ),
            h(
              'p',
              { class: 'hint' },
              'Adjusted for courses; players with few rounds are pulled towards the squad’s mean. Ranks whose ranges overlap are not separated.',
            ),
          ),
        ]
      : []),
    ...leftOut.map((/** @type {any} */ one) => h('p', { class: 'hint' }, `Left out: ${one.name}, ${one.why}.`)),
  ];
}
