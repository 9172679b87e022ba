/** The tables of the report: categories and clubs, each row with its interval drawn. */
import { h } from '../ui/elements.js';
import { CATEGORY_WORDS, counted, gained } from '../ui/words.js';
import { dot, linearScale, svg, whisker } from '../charts/drawing.js';
import { scrolling } from '../charts/figure.js';
import { TOO_FEW, clearTone, isClear, whiskerExtent } from '../charts/whisker-chart.js';
import { groupName, interval } from './words.js';

const MOST_CLUBS = 20;
const DRAWN = { width: 96, height: 14 };

/** @param {any} summary by category */
export function categoryTable({ rows: given }) {
  const order = Object.keys(CATEGORY_WORDS); // as a hole is played
  const rows = [...given].sort((a, b) => order.indexOf(a.category) - order.indexOf(b.category));
  return h(
    'section',
    null,
    h('h3', null, 'By category, a round'),
    table(
      'category',
      'per round',
      rows.map((/** @type {any} */ row) => ({
        label: groupName('category', row.category),
        row,
        value: row.per_round,
        low: row.per_round_low,
        high: row.per_round_high,
        aside: null,
      })),
    ),
  );
}

/** @param {any} summary by club */
export function clubTable({ rows, total }) {
  const most = [...rows].sort((a, b) => b.shots - a.shots).slice(0, MOST_CLUBS);
  const shown = rows.filter((/** @type {any} */ row) => most.includes(row));
  const left = rows.length - shown.length;
  const marks = shown.map((/** @type {any} */ row) => ({
    label: row.club,
    row,
    value: row.per_shot,
    low: row.per_shot_low,
    high: row.per_shot_high,
    aside: row,
  }));
  return h(
    'section',
    null,
    h('h3', null, 'By club, a shot'),
    table('club', 'per shot', marks),
    h(
      'p',
      null,
      `Adjusted for few shots: the mean pulled towards shots from the same lie and distance. ${left ? `${counted(left, 'club')} more, with the fewest shots, on the screen. ` : ''}${total.extra_balls.shots ? `${counted(total.extra_balls.shots, 'shot')} with extra balls count here.` : ''}`,
    ),
  );
}

/**
 * @param {string} what @param {string} measure
 * @param {{label: string, row: any, value: number, low: number|null, high: number|null, aside: any}[]} rows `aside`: the row when its shots, its mean a round and its shrunk mean are told too
 */
function table(what, measure, rows) {
  const scale = linearScale(whiskerExtent(rows), [4, DRAWN.width - 4]);
  const more = rows.some((one) => one.aside);
  const titles = [
    what,
    ...(more ? ['shots'] : []),
    measure,
    'interval',
    '',
    ...(more ? ['adjusted', 'per round'] : []),
  ];
  const box = h(
    'div',
    { class: 'table-box' },
    h(
      'table',
      { class: 'report-table report-strokes' },
      h('caption', { class: 'hidden' }, `Strokes gained by ${what}`),
      h(
        'thead',
        null,
        h(
          'tr',
          null,
          titles.map((title) => (title ? h('th', { scope: 'col' }, title) : h('td', null))),
        ),
      ),
      h(
        'tbody',
        null,
        rows.map((one) =>
          h(
            'tr',
            null,
            h('th', { scope: 'row' }, h('span', { class: 'cut' }, one.label)),
            cells(one, scale).map((cell) => h('td', null, cell)),
          ),
        ),
      ),
    ),
  );
  return scrolling(box, `Strokes gained by ${what}`);
}

/** @param {any} one @param {import('../charts/drawing.js').Scale} scale */
function cells({ row, value, low, high, aside }, scale) {
  if (low === null || high === null)
    return [...(aside ? [row.shots] : []), '–', row.too_few ?? TOO_FEW, '', ...(aside ? ['–', '–'] : [])];
  return [
    ...(aside ? [row.shots] : []),
    gained(value),
    interval(low, high),
    drawn({ value, low, high }, scale),
    ...(aside ? [shrunkCell(aside), gained(aside.per_round)] : []),
  ];
}

/** A shrunk mean, coloured once it is clear; the page has no room for its interval. @param {any} row */
function shrunkCell({ shrunk, shrunk_low: low, shrunk_high: high }) {
  return shrunk === null ? '–' : h('span', { class: clearTone(shrunk, low, high) }, gained(shrunk));
}

/** @param {{value: number, low: number, high: number}} row @param {import('../charts/drawing.js').Scale} scale */
function drawn(row, scale) {
  const middle = DRAWN.height / 2;
  return svg(
    'svg',
    {
      width: DRAWN.width,
      height: DRAWN.height,
      viewBox: `0 0 ${DRAWN.width} ${DRAWN.height}`,
      class: 'picture row-picture',
      'aria-hidden': 'true',
    },
    svg('path', { d: `M${scale(0).toFixed(2)},0 V${DRAWN.height}`, class: 'zero-line' }),
    whisker(scale(row.low), scale(row.high), middle, { frame: [2, DRAWN.width - 2], cap: 3 }),
    dot(scale(row.value), middle, { radius: 3.2, open: !isClear(row) }),
  );
}
