/** Shapes: planned against actual, misses to either side, and strokes gained by planned shape. */
import { h } from '../ui/elements.js';
import { folded } from '../ui/fold.js';
import { counted, gained } from '../ui/words.js';
import { boxChart } from '../charts/box-chart.js';
import { chartAlone, countCell, table, valueCell } from '../charts/figure.js';
import { TOO_FEW, clearTone } from '../charts/whisker-chart.js';
import { bigFigure, interval, percent, sureOrNot } from './words.js';

/** What is shown of a planned shape: columns for a full bag, rows for one club. */
const MEASURES = ['came', 'other way', 'misses left', 'misses right', 'in words', 'strokes gained'];
const ACTUAL = ['draw', 'straight', 'fade', 'not recorded'];

/** @param {any[]} shapes @param {import('./lengths.js').Lengths} lengths @param {number} level @param {boolean} named whether the rows name the club */
export function shapesPart(shapes, lengths, level, named) {
  const title = 'Planned and actual shape';
  if (!shapes.length)
    return h(
      'section',
      { class: 'shapes' },
      h('h2', null, title),
      h('p', null, 'No shape was planned in these shots.'),
    );
  return folded(
    title,
    [
      named ? null : shapes.map((row) => h('p', { class: 'lead' }, capital(sentence(row, lengths)))),
      tablesOf(shapes, level, named),
      shapesMethod(),
    ],
    { class: 'shapes' },
  );
}

/** Both tables. @param {any[]} shapes @param {number} level @param {boolean} named */
export function shapesTables(shapes, level, named) {
  return folded('The numbers', tablesOf(shapes, level, named), { class: 'shapes' });
}

/** @param {any[]} shapes @param {number} level @param {boolean} named */
function tablesOf(shapes, level, named) {
  const label = (/** @type {any} */ row) => (named ? `${row.club}, ${row.planned}` : row.planned);
  const counts = shapes.map((row) => [
    label(row),
    ...ACTUAL.map((shape) => countCell(row.actual[shape])),
    countCell(row.shots),
  ]);
  const results = shapes.map((row) => [
    label(row),
    share(row.came),
    row.other_way ? share(row.other_way) : '–',
    share(row.misses.left),
    share(row.misses.right),
    sureOrNot(row.misses.word, row.misses.sure),
    strokes(row.strokes_gained),
  ]);
  const caption = `Results of a planned shape, with the ${percent(level)} interval`;
  return [
    table(
      'Planned shapes and the actual shapes',
      [named ? 'club, planned' : 'planned', 'draw', 'straight', 'fade', 'not recorded', 'shots'],
      counts,
    ),
    named
      ? table(caption, ['club, planned', ...MEASURES], results)
      : table(
          caption,
          ['planned', ...results.map(([planned]) => planned)],
          MEASURES.map((measure, place) => [measure, ...results.map((cells) => cells[place + 1])]),
        ),
  ];
}

/** The sentence of the club and shape with the most shots, and how often the planned shape came, club by club. @param {any[]} shapes @param {number} level @param {import('./lengths.js').Lengths} lengths */
export function shapesAnswer(shapes, level, lengths) {
  const known = shapes.filter((row) => row.came.value !== null);
  const [most] = [...(known.length ? known : shapes)].sort((a, b) => b.shots - a.shots);
  const hundred = (/** @type {number} */ value) => 100 * value;
  const rows = known
    .filter((row) => row.came.low !== null)
    .map((row) => ({
      label: `${row.club}, ${row.planned}`,
      aside: counted(row.shots, 'shot'),
      count: row.shots,
      middle: hundred(row.came.value),
      box: null,
      whisker: /** @type {[number, number]} */ ([hundred(row.came.low), hundred(row.came.high)]),
    }));
  const words = {
    title: 'How often the planned shape comes',
    description: `For each club and planned shape the share of shots that curved as planned, with the ${percent(level)} interval. The table has every number.`,
    left: 'share of shots that curved as planned',
    right: '',
    number: (/** @type {number} */ value) => `${value} %`,
    holds: [0, 100],
    marks: { whisker: `${percent(level)} interval` },
  };
  return [
    h('p', { class: 'verdict' }, capital(`${most.club}, ${sentence(most, lengths)}`)),
    most.came.value === null
      ? null
      : bigFigure(
          percent(most.came.value),
          ` of ${counted(most.came.n, 'shot')} curved as planned: ${most.club}, ${most.planned}`,
          most.came.low === null
            ? null
            : `between ${percent(most.came.low)} and ${percent(most.came.high)} with ${percent(level)} confidence`,
        ),
    rows.length ? chartAlone((room) => boxChart(rows, words, room)) : null,
  ];
}

/** How shapes and misses are counted. */
export function shapesMethod() {
  return h(
    'p',
    { class: 'hint' },
    'Full swings from every lie. A draw curves towards the player’s own side. A miss finishes farther aside than 10 % of its target; a club misses both ways when each side has a tenth of its shots or more (in two groups, when few end between them), and the word is sure once the intervals of both sides lie on their side of that. Both limits are a choice of this tool. Strokes gained are of a shot, against the player’s baseline.',
  );
}

/** @param {any} row @param {import('./lengths.js').Lengths} lengths */
function sentence({ planned, came, other_way: other, misses }, lengths) {
  if (came.value === null) return `planned ${planned}: the actual shape was not recorded.`;
  const turned = other?.value ? `, ${percent(other.value)} the other way` : '';
  const beyond =
    misses.beyond_yd === null
      ? ''
      : ` More than ${lengths.words(misses.beyond_yd)} left: ${percent(misses.left.value)}, right: ${percent(misses.right.value)}.`;
  return `planned ${planned}: ${percent(came.value)} curve as planned${turned}.${beyond}`;
}

/** @param {string} words */
function capital(words) {
  return `${words[0].toUpperCase()}${words.slice(1)}`;
}

/** @param {any} figure */
function share({ value, low, high }) {
  if (value === null) return '–';
  return valueCell(percent(value), low === null ? TOO_FEW : `${percent(low)} to ${percent(high)}`);
}

/** @param {any} figure */
function strokes({ value, low, high }) {
  if (value === null) return '–';
  return valueCell(gained(value), low === null ? TOO_FEW : interval(low, high), clearTone(value, low, high));
}
