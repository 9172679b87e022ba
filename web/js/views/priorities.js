/** What to practise next: at most three sentences, or that nothing stands out. */
import { h } from '../ui/elements.js';
import { method } from '../ui/fold.js';
import { CATEGORY_WORDS, gained } from '../ui/words.js';
import { asked, queryOf } from './address.js';
import { figure, table, valueCell } from '../charts/figure.js';
import { clearTone, whiskerChart } from '../charts/whisker-chart.js';
import { bigFigure, interval, percent, reach, roundCount, shortRounds, shots, signed } from './words.js';

export const name = 'Priorities';

/** @param {import('./page.js').Context} context */
export function paths({ player, filters }) {
  return { needed: [`/api/players/${encodeURIComponent(player)}/priorities${queryOf(asked(filters))}`] };
}

/** @param {import('./asking.js').Answer[]} answers */
export function build([answer]) {
  const found = answer.value;
  const [first, ...rest] = found.words.split(/(?<=\.) /);
  return [
    h('p', { class: 'verdict' }, first),
    headline(found),
    found.cells.length ? cells(found) : null,
    found.priorities.length
      ? h(
          'section',
          null,
          h('h2', null, 'What to practise'),
          h('ol', { class: 'priorities' }, found.priorities.map(priority)),
        )
      : null,
    rest.length ? h('p', { class: 'hint', id: 'priorities-caution' }, rest.join(' ')) : null,
    method(
      found.priorities.map(certain),
      found.cells.length
        ? h(
            'p',
            { class: 'hint' },
            '▸ named above: at most three, the most costly of those whose loss is beyond chance among all these and worth a tenth of a stroke a round.',
          )
        : null,
      found.courses ? h('p', { class: 'hint' }, found.courses) : null,
      found.short_rounds ? h('p', { class: 'hint' }, `${roundCount(found)}. ${shortRounds(found)}`) : null,
    ),
  ];
}

/** The most costly part with its interval, as it was measured. @param {any} found */
function headline({ cells: given, priorities, level }) {
  const worst = [...given.filter((/** @type {any} */ cell) => cell.low !== null)].sort(
    (a, b) => a.per_round - b.per_round,
  )[0];
  const one = priorities[0] ?? worst;
  if (!one) return null;
  return bigFigure(
    gained(one.per_round),
    ` strokes a round, ${partName(one)}`,
    `between ${gained(one.low)} and ${gained(one.high)} with ${percent(level)} confidence`,
    priorities.length ? clearTone(one.per_round, one.low, one.high) : '',
  );
}

/** @param {any} cell */
function partName({ category, distance }) {
  return `${CATEGORY_WORDS[category] ?? category}, ${reach(distance)}`;
}

/** @param {any} one */
function priority(one) {
  return h(
    'li',
    null,
    h('p', { class: 'verdict small' }, `${one.what} cost about ${one.strokes_a_round.toFixed(1)} strokes a round.`),
    h('p', null, one.next),
  );
}

/** How sure a priority is. @param {any} one */
function certain(one) {
  return h(
    'p',
    { class: 'hint' },
    `${one.what}: as measured ${gained(one.per_round)} a round, interval ${interval(one.low, one.high)}, with courses allowed for ${interval(one.adjusted_low, one.adjusted_high)}; ${shots(one)} in ${one.rounds} rounds; chance that they cost strokes at all: ${one.sure}`,
  );
}

/** @param {any} found */
function cells({ cells: given, priorities, level }) {
  const named = new Set(priorities.map((/** @type {any} */ one) => one.cell));
  const rows = given.map((/** @type {any} */ cell) => ({
    label: `${named.has(cell.cell) ? '▸ ' : ''}${partName(cell)}`,
    aside: shots(cell),
    count: cell.shots,
    value: cell.per_round,
    low: cell.low,
    high: cell.high,
    few: null,
    cell,
  }));
  const title = 'Strokes gained a round by part of the game';
  const words = {
    title,
    description: `A dot for the mean of each part on its ${percent(level)} interval, the most costly part first. The table has every number.`,
    left: '← loses',
    right: 'gains →',
    zero: 'the baseline',
    signed,
    marks: { clear: `mean, ${percent(level)} interval`, open: 'could be either' },
  };
  const numbers = table(
    title,
    ['part', 'per round', 'adjusted', 'shots'],
    rows.map((/** @type {any} */ { label, cell }) => [
      label,
      cell.low === null
        ? h('span', { class: 'few' }, 'not enough data')
        : valueCell(
            gained(cell.per_round),
            interval(cell.low, cell.high),
            clearTone(cell.per_round, cell.low, cell.high),
          ),
      gained(cell.shrunk_per_round),
      cell.shots,
    ]),
  );
  return h(
    'section',
    { 'aria-label': 'Every part that was looked at' },
    figure((room) => whiskerChart(rows, words, room), numbers),
  );
}
