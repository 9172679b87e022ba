/** Two spans of days side by side: each group in both, and the difference with its interval where it is sound. */
import { button, choices, h } from '../ui/elements.js';
import { method } from '../ui/fold.js';
import { counted, gained } from '../ui/words.js';
import { asked, queryOf } from './address.js';
import { figure, table, valueCell } from '../charts/figure.js';
import { TOO_FEW, clearTone, whiskerChart } from '../charts/whisker-chart.js';
import { bandPlace, day, fullName, groupName, interval, percent, roundCount, shortRounds, signed } from './words.js';

export const name = 'Two periods side by side';

const GROUPINGS = /** @type {[string, string][]} */ ([
  ['club', 'club'],
  ['category', 'category'],
  ['distance', 'distance'],
  ['lie', 'lie'],
]);
const MEASURES = /** @type {[string, string][]} */ ([
  ['shot', 'per shot'],
  ['round', 'per round'],
]);
const DAY_MS = 86_400_000;

/** @typedef {import('./page.js').Context} Context @typedef {{from: string|undefined, to: string|undefined}} Span */

/** @param {import('./address.js').Filters} filters */
function grouping({ by }) {
  return GROUPINGS.some(([one]) => one === by) ? by : 'club';
}

/** Whether the address says two spans. @param {import('./address.js').Filters} filters */
function spansChosen({ from, to, beside_from, beside_to }) {
  return Boolean((from || to) && (beside_from || beside_to));
}

/** @param {Context} context */
export function paths({ player, filters }) {
  const of = `/api/players/${encodeURIComponent(player)}`;
  if (!spansChosen(filters)) return { needed: [`${of}/choices`] };
  return {
    needed: [
      `${of}/compared${queryOf([['by', grouping(filters)], ['beside_from', filters.beside_from], ['beside_to', filters.beside_to], ...asked(filters)])}`,
    ],
  };
}

/** @param {import('./asking.js').Answer[]} answers @param {Context} context */
export function build([answer], context) {
  const { filters, change } = context;
  if (!spansChosen(filters)) return chooser(answer.value, context);
  const found = answer.value;
  const by = grouping(filters);
  const per = filters.per === 'round' ? 'round' : 'shot';
  return [
    fullRound(found),
    spans(found),
    h(
      'section',
      { 'aria-label': 'Where it differs' },
      choices('Grouping', GROUPINGS, by, (value) => change({ by: value ?? '' }), { id: 'by' }),
      choices('Measure', MEASURES, per, (value) => change({ per: value === 'round' ? 'round' : '' }), { id: 'per' }),
      differences(found, by, per),
    ),
    method(basis(found), h('p', { class: 'hint' }, found.words)),
  ];
}

/** Nothing chosen yet: two ways to cut the season, or one's own days in the filters. @param {any} known the choices @param {Context} context */
function chooser(known, { change }) {
  if (known.days.length < 4)
    return [h('p', { class: 'empty' }, 'Two periods need rounds on at least four days: two in each.')];
  const offers = [
    ['Later half of the rounds compared with the earlier half', halves(known.days)],
    ['Last 60 days compared with the time before', lastDays(known.days, 60)],
  ].filter(([, cut]) => cut);
  return [
    h('p', { class: 'lead' }, 'Choose two periods in the filters below, or start with one of these.'),
    h(
      'div',
      { class: 'bottom-actions' },
      offers.map(([words, cut], index) =>
        button(`${words}: ${spanWords(/** @type {any} */ (cut))}`, () => change(/** @type {any} */ (cut)), {
          id: `cut-${index}`,
        }),
      ),
    ),
  ];
}

/** @param {{from: string, beside_to: string}} cut */
function spanWords({ from, beside_to }) {
  return `period 1 to ${day(beside_to)}, period 2 from ${day(from)}`;
}

/** The later half of the days against the earlier half. @param {string[]} days in order */
function halves(days) {
  const cut = Math.ceil(days.length / 2);
  return days[cut] > days[cut - 1] ? { from: days[cut], to: '', beside_from: '', beside_to: days[cut - 1] } : null;
}

/** @param {string[]} days in order @param {number} count */
function lastDays(days, count) {
  const from = new Date(Date.parse(`${days[days.length - 1]}T00:00:00Z`) - (count - 1) * DAY_MS)
    .toISOString()
    .slice(0, 10);
  const before = days.filter((one) => one < from);
  return before.length > 1 ? { from, to: '', beside_from: '', beside_to: before[before.length - 1] } : null;
}

/** Both spans, in their marks. @param {any} found */
function spans({ first, second }) {
  const one = (/** @type {any} */ span, /** @type {string} */ title) =>
    h(
      'div',
      null,
      h('dt', null, title),
      h(
        'dd',
        null,
        span.from ? `${day(span.from)} to ${day(span.to)}` : 'no round',
        h('span', { class: 'list-under' }, span.empty ?? `${roundCount(span)}, ${counted(span.shots, 'shot')}`),
      ),
    );
  return h('dl', { class: 'facts' }, one(second, 'Period 1'), one(first, 'Period 2'));
}

/** How to read a difference. @param {any} found */
function basis({ first, second, baseline }) {
  return [
    h(
      'p',
      { class: 'hint' },
      `Change is period 2 minus period 1: + means that period 2 was better. Against the baseline “${baseline.id}”, version ${baseline.version}. ${shortRounds({ short_rounds: first.short_rounds + second.short_rounds })}A round is 18 holes: nine weigh half.`,
    ),
  ];
}

/** The full round: what is left of the difference without courses and days, and below it the difference as played. @param {any} found */
function fullRound({ total, level, verdict, courses }) {
  const { per_round, per_round_low, per_round_high, lacking_per_round: lacking, adjusted } = total.difference;
  if (per_round_low === null)
    return h('p', { class: 'verdict small' }, `No interval for the whole round: ${lacking ?? TOO_FEW}.`);
  const played = `${gained(per_round)}, ${percent(level)} interval ${interval(per_round_low, per_round_high)}`;
  return [
    h('p', { class: adjusted === null ? 'verdict small' : 'verdict' }, verdict),
    h('p', { class: 'hint' }, `${courses} With the courses as they were played: ${played}.`),
  ];
}

/** @param {any} found @param {string} by @param {'shot'|'round'} per */
function differences(found, by, per) {
  const taken = per === 'round' && found.groups_adjusted > 0;
  const key = taken ? 'adjusted' : `per_${per}`;
  const lacking = taken ? 'lacking_adjusted' : per === 'round' ? 'lacking_per_round' : 'lacking';
  const rows = ordered(found.rows, by, key).map((row) => ({
    label: groupName(by, row[by]),
    aside: row.first && row.second ? `${row.second.shots} / ${row.first.shots}` : '',
    value: row.difference[key],
    low: row.difference[`${key}_low`],
    high: row.difference[`${key}_high`],
    few: row.difference[lacking],
    row,
  }));
  const without = taken ? ', adjusted for courses and days' : '';
  const title = `Strokes gained per ${per} by ${by}: change from period 1 to period 2${without}`;
  const numbers = table(
    `Strokes gained per ${per} by ${by} in both periods, with the ${percent(found.level)} interval`,
    [by, 'change', 'period 1', 'period 2'],
    rows.map(({ row, value, low, high, few }) => [
      fullName(by, row[by]),
      low === null
        ? h('span', { class: 'few' }, few ?? TOO_FEW)
        : valueCell(gained(value), interval(low, high), clearTone(value, low, high)),
      side(row.second, per),
      side(row.first, per),
    ]),
  );
  numbers.classList.add('club-table');
  if (!rows.some((row) => row.low !== null))
    return [h('p', { class: 'verdict small' }, 'No group can be compared with an interval.'), numbers];
  const description = `${title}: a dot for each change on its ${percent(found.level)} interval, filled where zero is outside. The table has both periods and every number.`;
  return figure(
    (room) =>
      whiskerChart(
        rows,
        {
          title,
          description,
          left: '← worse in period 2',
          right: 'better in period 2 →',
          signed,
          zero: 'no change',
          marks: { clear: `change, ${percent(found.level)} interval`, open: 'could be either' },
        },
        room,
      ),
    numbers,
    h('p', { class: 'hint' }, 'Next to each name its shots in period 1 and period 2.'),
  );
}

/** @param {any[]} rows @param {string} by @param {string} key of the difference @returns {any[]} what has an interval first, the greatest gain on top */
function ordered(rows, by, key) {
  if (by === 'distance') return [...rows].sort((a, b) => bandPlace(a.distance) - bandPlace(b.distance));
  const silent = (/** @type {any} */ row) => Number(row.difference[`${key}_low`] === null);
  return [...rows].sort((a, b) => silent(a) - silent(b) || (b.difference[key] ?? 0) - (a.difference[key] ?? 0));
}

/** A group in one span. @param {any} row of the summary, or null @param {string} per */
function side(row, per) {
  if (!row) return h('span', { class: 'few' }, 'no shot');
  const known = row[`per_${per}_low`] !== null;
  const under = known ? interval(row[`per_${per}_low`], row[`per_${per}_high`]) : (row.too_few ?? TOO_FEW);
  return known
    ? valueCell(
        gained(row[`per_${per}`]),
        under,
        clearTone(row[`per_${per}`], row[`per_${per}_low`], row[`per_${per}_high`]),
      )
    : h('span', { class: 'few' }, under);
}
