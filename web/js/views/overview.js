/** Where strokes go: by club, category, distance, lie or setup, with intervals; and the trend by round. */
import { choices, h } from '../ui/elements.js';
import { folded, method } from '../ui/fold.js';
import { counted, gained } from '../ui/words.js';
import { addressOf, asked, isView, queryOf, sharedFilters } from './address.js';
import { figure, table, valueCell } from '../charts/figure.js';
import { trend } from '../charts/trend.js';
import { TOO_FEW, clearTone, whiskerChart } from '../charts/whisker-chart.js';
import { lengthsTaken } from './lengths-taken.js';
import {
  bandPlace,
  day,
  fullName,
  groupName,
  interval,
  percent,
  roundCount,
  setupWords,
  shortRounds,
  shots,
  signed,
} from './words.js';

export const name = 'Overview';

const GROUPINGS = /** @type {[string, string][]} */ ([
  ['club', 'club'],
  ['category', 'category'],
  ['distance', 'distance'],
  ['lie', 'lie'],
  ['setup', 'setup'],
]);
/** @type {Record<string, string>} */
const IN_THE_GAME = { approach: 'on approach shots', long_game: 'in the long game', short_game: 'in the short game' };
const MEASURES = /** @type {[string, string][]} */ ([
  ['shot', 'per shot'],
  ['round', 'per round'],
]);

/** @param {import('./page.js').Context} context */
export function paths({ player, filters }) {
  const summary = (/** @type {string} */ by) =>
    `/api/players/${encodeURIComponent(player)}/strokes-gained${queryOf([['by', by], ...asked(filters)])}`;
  return { needed: [summary(grouping(filters)), summary('round'), summary('month')] };
}

/** @param {import('./address.js').Filters} filters */
function grouping(filters) {
  return GROUPINGS.some(([by]) => by === filters.by) ? filters.by : 'club';
}

/** @param {import('./asking.js').Answer[]} answers @param {import('./page.js').Context} context */
export function build([groups, rounds, months], context) {
  const { filters, change } = context;
  const by = grouping(filters);
  const per = filters.per === 'round' ? 'round' : 'shot';
  if (!rounds.value.rows.length) return [h('p', { class: 'empty' }, 'No shot with a value in these rounds.')];
  return [
    headline(rounds.value, filters),
    answerWords(groups.value, by),
    h(
      'section',
      { 'aria-label': 'Where the strokes go' },
      choices('Grouping', GROUPINGS, by, (value) => change({ by: value ?? '' }), { id: 'by' }),
      choices('Measure', MEASURES, per, (value) => change({ per: value === 'round' ? 'round' : '' }), { id: 'per' }),
      groupsFigure(groups.value, by, per, context),
    ),
    folded('Trend by round', trend(rounds.value, months.value)),
    unfinished(rounds.value),
    method(scope(rounds.value), notes(by, shrinks(groups.value.rows, per)), lengthsTaken(groups.value.lengths)),
  ];
}

/**
 * The part with the largest clear loss, and the costliest of those that could cost as much: only where no interval
 * reaches into its own are most strokes lost with it. @param {any} summary @param {string} by
 */
export function answerWords({ rows }, by) {
  const [worst] = rows
    .filter((/** @type {any} */ row) => (row.per_round_high ?? 0) < 0)
    .sort((/** @type {any} */ a, /** @type {any} */ b) => a.per_round - b.per_round);
  if (!worst) return h('p', { class: 'verdict small', id: 'answer' }, 'No part clearly costs strokes yet.');
  const [rival, ...others] = rows
    .filter((/** @type {any} */ row) => row !== worst && (row.per_round_low ?? 0) < worst.per_round_high)
    .sort((/** @type {any} */ a, /** @type {any} */ b) => a.per_round - b.per_round);
  const more = others.length ? `, or ${counted(others.length, 'other')}` : '';
  const words = rival
    ? `Strokes are clearly lost ${whereLost(by, worst[by])}, ${gained(worst.per_round)} a round, but not clearly more than ${whereLost(by, rival[by])}, ${gained(rival.per_round)}${more}.`
    : `Most strokes are lost ${whereLost(by, worst[by])}, ${gained(worst.per_round)} a round.`;
  return h('p', { class: 'verdict small', id: 'answer' }, words);
}

/** A part as a sentence has it: "with the driver", "on approach shots". @param {string} by @param {any} key @returns {string} */
function whereLost(by, key) {
  const name = groupName(by, key);
  if (by === 'club') return `with the ${name}`;
  if (by === 'setup') return `with the ${name.replace(/: (.*)$/s, ' ($1)')}`;
  if (by === 'lie') return key === 'recovery' ? 'from recovery lies' : `from the ${name}`;
  if (by === 'distance') return name.endsWith(' putts') ? `on ${name}` : `from ${name}`;
  return IN_THE_GAME[key] ?? name;
}

/** @param {any[]} rows @param {'shot'|'round'} per whether shrunk means stand beside the raw ones */
function shrinks(rows, per) {
  return per === 'shot' && rows.some((row) => row.shrunk !== null && row.shrunk !== undefined);
}

/** @param {any} summary by round, the ball of record @param {import('./address.js').Filters} filters */
function headline({ total, level }, { lie, setup }) {
  const few = total.per_round_low === null || total.per_round_low === undefined;
  return h(
    'section',
    { class: 'headline' },
    few
      ? h('p', { class: 'verdict' }, 'Not enough rounds yet: strokes gained a round needs two of nine holes or more.')
      : h(
          'p',
          { class: 'big-score' },
          h(
            'span',
            { class: `number ${clearTone(total.per_round, total.per_round_low, total.per_round_high)}` },
            gained(total.per_round),
          ),
          ' strokes gained a round',
          lie || setup ? h('span', { class: 'incomplete' }, ` ${partWords(lie, setup)}`) : null,
        ),
    few
      ? null
      : h(
          'p',
          null,
          `between ${gained(total.per_round_low)} and ${gained(total.per_round_high)} with ${percent(level)} confidence`,
        ),
  );
}

/** Which rounds are in it, and against what. @param {any} summary by round */
function scope({ total, baseline, from, to, beside }) {
  return [
    h(
      'p',
      { class: 'hint' },
      `${roundCount(total)}, ${counted(total.shots, 'shot')} of record, ${day(from)} to ${day(to)}; against the baseline “${baseline.id}”, version ${baseline.version}. ${shortRounds(total)}A round is 18 holes: nine weigh half.`,
    ),
    beside ? h('p', { class: 'hint' }, beside.words) : null,
  ];
}

/** Which part of a round is shown. @param {string|undefined} lie @param {string|undefined} setup */
function partWords(lie, setup) {
  return [lie ? `from ${groupName('lie', lie)}` : '', setup ? `with ${setupWords(setup)}` : '']
    .filter(Boolean)
    .join(', ');
}

/** @param {any} summary @param {string} by @param {'shot'|'round'} per @param {import('./page.js').Context} context */
function groupsFigure(summary, by, per, context) {
  const given = ordered(summary.rows, by, `per_${per}`);
  const leans = shrinks(given, per);
  const rows = given.map((row) => ({
    label: groupName(by, row[by]),
    aside: shots(row),
    count: row.shots,
    value: row[`per_${per}`],
    low: row[`per_${per}_low`] ?? null,
    high: row[`per_${per}_high`] ?? null,
    shrunk: leans ? row.shrunk : null,
    few: row.too_few,
    row,
  }));
  const title = `Strokes gained per ${per} by ${by}`;
  const words = {
    title,
    description: description(rows, title, summary.level),
    left: '← loses',
    right: 'gains →',
    signed,
    zero: 'the baseline',
    marks: {
      clear: `mean, ${percent(summary.level)} interval`,
      open: 'could be either',
      shrunk: 'upright: adjusted for few shots',
    },
  };
  const shrunk = rows.some(({ row }) => row.shrunk !== null && row.shrunk !== undefined);
  const titles = [by, 'per shot', 'per round', ...(shrunk ? ['adjusted'] : [])];
  const cells = rows.map(({ row }) => [
    [
      rowName(by, row, context),
      h(
        'span',
        { class: 'list-under' },
        h('span', { class: 'parts' }, `${shots(row)} in`),
        ' ',
        h('span', { class: 'parts' }, counted(row.rounds, 'round')),
      ),
    ],
    measured(row, 'per_shot'),
    row.too_few ? '–' : measured(row, 'per_round'),
    ...(shrunk ? [row.too_few || row.shrunk === null ? '–' : measured(row, 'shrunk')] : []),
  ]);
  const numbers = table(`Strokes gained by ${by}, with the ${percent(summary.level)} interval`, titles, cells);
  numbers.classList.add('club-table');
  if (!rows.some((row) => row.low !== null))
    return [h('p', { class: 'verdict small' }, 'Not enough shots in each group yet.'), numbers];
  return figure((room) => whiskerChart(rows, words, room), numbers);
}

/** A mean over its interval, or that the evidence is too thin. @param {any} row @param {string} name */
function measured(row, name) {
  if (row[`${name}_low`] === null) return h('span', { class: 'few' }, row.too_few ?? TOO_FEW);
  const [value, low, high] = [row[name], row[`${name}_low`], row[`${name}_high`]];
  return valueCell(gained(value), interval(low, high), clearTone(value, low, high));
}

/** A club leads to its putts or its pattern. @param {string} by @param {any} row @param {import('./page.js').Context} context */
function rowName(by, row, { player, filters }) {
  const view = row[by] === 'putter' ? 'putting' : 'patterns';
  if (by !== 'club' || !isView(view)) return h('span', null, fullName(by, row[by]));
  return h(
    'a',
    { class: 'cell-link', href: `#/${addressOf(player, view, { ...sharedFilters(filters), club: row.club })}` },
    row.club,
  );
}

/**
 * Distances from far to near, the others from gain to loss; groups of which too little is known stand last.
 * @param {any[]} rows @param {string} by @param {string} measure @returns {any[]}
 */
function ordered(rows, by, measure) {
  if (by === 'distance') return [...rows].sort((a, b) => bandPlace(a.distance) - bandPlace(b.distance));
  return [...rows].sort((a, b) => Number(Boolean(a.too_few)) - Number(Boolean(b.too_few)) || b[measure] - a[measure]);
}

/** @param {{label: string, value: number, low: number|null, high: number|null}[]} rows @param {string} title @param {number} level */
function description(rows, title, level) {
  const known = rows.filter((row) => row.low !== null);
  const best = known.filter((row) => /** @type {number} */ (row.low) > 0).map((row) => row.label);
  const worst = known.filter((row) => /** @type {number} */ (row.high) < 0).map((row) => row.label);
  const list = (/** @type {string[]} */ names) => (names.length ? names.join(', ') : 'none');
  return `${title}: a dot for the mean on its ${percent(level)} interval. Clearly gaining: ${list(best)}. Clearly losing: ${list(worst)}. The table has every number.`;
}

/** @param {string} by @param {boolean} shrinks */
function notes(by, shrinks) {
  const balls =
    by === 'club' || by === 'setup' ? 'Per shot, extra balls count; per round, only ball 1.' : 'Only ball 1.';
  const shrunk = shrinks ? ' With few shots use the adjusted mean: the raw one is mostly chance.' : '';
  return h('p', { class: 'hint' }, `${balls}${shrunk}`);
}

/** @param {any} summary */
function unfinished({ incomplete }) {
  if (!incomplete.length) return null;
  return h(
    'details',
    null,
    h('summary', null, `${counted(incomplete.length, 'hole')} without a full value`),
    h(
      'ul',
      { class: 'list plain' },
      incomplete.map((/** @type {any} */ hole) => h('li', null, `${hole.round}, hole ${hole.hole}: ${hole.reason}`)),
    ),
  );
}
