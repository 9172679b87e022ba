/** The trend: every round as a dot, the mean of each month as a step, on its interval as a band. */
import { h } from '../ui/elements.js';
import { gained } from '../ui/words.js';
import { curveChart } from './curve-chart.js';
import { extent } from './drawing.js';
import { figure, table, valueCell } from './figure.js';
import { TOO_FEW, clearTone } from './whisker-chart.js';
import { day, interval, percent, roundCount, shortRounds, signed } from '../views/words.js';

const DAY_MS = 86_400_000;

/** Days since 1970. @param {string} date YYYY-MM-DD @returns {number} */
function dayNumber(date) {
  return Date.parse(`${date}T00:00:00Z`) / DAY_MS;
}

/** First and last day of a month. @param {string} month YYYY-MM @returns {[number, number]} */
export function monthSpan(month) {
  const [year, number] = month.split('-').map(Number);
  return [Date.UTC(year, number - 1, 1) / DAY_MS, Date.UTC(year, number, 0) / DAY_MS];
}

/** @param {string} month YYYY-MM @param {'short'|'long'} length @returns {string} */
function monthWords(month, length) {
  const date = new Date(`${month}-15T12:00:00`);
  return date.toLocaleDateString('en-GB', length === 'long' ? { month: 'long', year: 'numeric' } : { month: 'short' });
}

/** @param {any} rounds summary by round @param {any} months summary by month */
export function trend(rounds, months) {
  const counting = rounds.rows.filter((/** @type {any} */ row) => row.of_rounds > 0);
  if (!counting.length)
    return h('section', null, h('p', { class: 'empty' }, `No round to show. ${shortRounds(rounds.total)}`));
  const dots = counting.map((/** @type {any} */ row) => ({ x: dayNumber(row.round.slice(0, 10)), y: row.per_round }));
  const byMonth = [...months.rows].sort((a, b) => a.month.localeCompare(b.month));
  const known = byMonth.filter((row) => row.per_round_low !== null && row.per_round_low !== undefined);
  const level = percent(months.level);
  const title = 'Strokes gained by round';
  const description = `A dot for each of ${counting.length} rounds; for each month the mean of its rounds as a step on its ${level} interval. The table has the months.`;
  const rows = byMonth.map((row) => [monthWords(row.month, 'long'), ...monthCells(row)]);
  return h(
    'section',
    null,
    months.trend ? h('p', { class: 'verdict small' }, months.trend.words) : null,
    figure(
      (room) => trendChart(dots, byMonth, known, { title, description }, room),
      table(`Strokes gained a round by month, with the ${level} interval`, ['month', 'per round', 'rounds'], rows),
      h(
        'p',
        { class: 'hint' },
        `Shaded: the ${level} interval of a month's mean; none where a month has too few rounds.`,
      ),
    ),
    roundsTable(counting, rounds.total),
  );
}

/** @param {any} row */
function monthCells(row) {
  const known = row.per_round_low !== null && row.per_round_low !== undefined;
  return [
    known
      ? valueCell(
          gained(row.per_round),
          interval(row.per_round_low, row.per_round_high),
          clearTone(row.per_round, row.per_round_low, row.per_round_high),
        )
      : h('span', { class: 'few' }, row.too_few ?? TOO_FEW),
    row.of_rounds,
  ];
}

/**
 * @param {{x: number, y: number}[]} dots @param {any[]} months @param {any[]} known months with an interval
 * @param {{title: string, description: string}} about @param {import('./whisker-chart.js').Room} room
 */
function trendChart(dots, months, known, about, room) {
  const spans = months.map((row) => monthSpan(row.month));
  /** @type {[number, number]} */
  const domain = [Math.min(...spans.map(([first]) => first)), Math.max(...spans.map(([, last]) => last)) + 1];
  const steps = months.flatMap((row) => {
    const [first, last] = monthSpan(row.month);
    const y = known.includes(row) ? row.per_round : null;
    return [
      { x: first, y },
      { x: last + 1, y },
    ];
  });
  const curve = known.flatMap((row) => {
    const [first, last] = monthSpan(row.month);
    const at = (/** @type {number} */ x) => ({ x, y: row.per_round, low: row.per_round_low, high: row.per_round_high });
    return [at(first + 0.5), at(last + 0.5), { x: last + 0.5, y: null, low: null, high: null }];
  });
  const up = extent(
    [0, ...dots.map((one) => one.y), ...known.flatMap((row) => [row.per_round_low, row.per_round_high])],
    { least: 2 },
  );
  const years = new Set(months.map((row) => row.month.slice(0, 4)));
  const marks = months.map((row) => ({
    value: (monthSpan(row.month)[0] + monthSpan(row.month)[1]) / 2,
    words: monthWords(row.month, 'short'),
  }));
  const span =
    years.size === 1
      ? [...years][0]
      : `${Math.min(...[...years].map(Number))} to ${Math.max(...[...years].map(Number))}`;
  return curveChart(
    [{ curve, steps, dots, tone: 'one', label: 'mean of the month', dotLabel: 'one round' }],
    { domain, marks, words: String },
    { domain: up, words: signed, zero: true, zeroLabel: 'the baseline' },
    { ...about, x: span, y: 'strokes gained for 18 holes' },
    room,
  );
}

/** @param {any[]} counting the rounds that count @param {any} total */
function roundsTable(counting, total) {
  const rows = [...counting]
    .sort((a, b) => b.round.localeCompare(a.round))
    .map((row) => [`${day(row.round.slice(0, 10))}${row.round.slice(10)}`, gained(row.strokes_gained), row.shots]);
  return h(
    'details',
    null,
    h('summary', null, 'Every round in numbers'),
    table('Strokes gained by round, ball 1', ['round', 'strokes gained', 'shots'], rows),
    total.short_rounds ? h('p', { class: 'hint' }, `${roundCount(total)}. ${shortRounds(total)}`) : null,
  );
}
