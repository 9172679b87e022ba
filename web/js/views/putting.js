/** Putting: the make-rate by length with what was counted, strokes gained by length, three putts, and two putters compared. */
import { h } from '../ui/elements.js';
import { folded } from '../ui/fold.js';
import { counted, gained } from '../ui/words.js';
import { asked, queryOf } from './address.js';
import { curveChart } from '../charts/curve-chart.js';
import { countCell, figure, table, valueCell } from '../charts/figure.js';
import { lengthsTaken } from './lengths-taken.js';
import { differencePaths, practiceCounted, puttingAgainstCourse } from './practice-difference.js';
import { putterChooser, puttersCompared, puttersOf } from './putters.js';
import { clearTone, whiskerChart } from '../charts/whisker-chart.js';
import { bandName, bigFigure, interval, percent, signed } from './words.js';

export const name = 'Putting';

const LONGEST_FT = 60;

/** @param {import('./page.js').Context} context */
export function paths(context) {
  const { player, filters } = context;
  const { club, against } = filters;
  const of = `/api/players/${encodeURIComponent(player)}`;
  const report = (/** @type {string|undefined} */ putter, /** @type {string|undefined} */ other) =>
    `${of}/putting${queryOf([['club', putter], ['against', other], ...asked(filters)])}`;
  return {
    needed: [report(club, club && against), `${of}/strokes-gained?by=setup`],
    wished: [...(club && against ? [report(against, undefined)] : []), ...differencePaths(context)],
  };
}

/** @param {import('./asking.js').Answer[]} answers @param {import('./page.js').Context} context */
export function build([mine, setups, ...rest], context) {
  const found = mine.value;
  const { club, against, source } = context.filters;
  const other = club && against ? rest[0] : null;
  const beside = source ? rest[rest.length - 1] : null;
  return [
    found.comparison
      ? h('p', { class: 'verdict', 'data-code': found.verdict.code, 'aria-live': 'polite' }, found.verdict.words)
      : headline(found),
    putterChooser(puttersOf(found, setups.value.rows), context),
    found.comparison ? puttersCompared(found) : null,
    practiceCounted(found),
    makeRate(found, other?.value ?? null, context.filters),
    folded('Strokes gained by length', byLength(found)),
    folded('Three putts or more', threePutts(found)),
    folded('First putts', firstPutts(found)),
    folded('Practice green against the course', puttingAgainstCourse(beside?.value)),
    folded('Speed', speed(found)),
    lengthsTaken(found.lengths),
  ];
}

/** @param {any} found */
function headline(found) {
  if (found.lacking) return h('p', { class: 'verdict small' }, found.lacking);
  const putts = found.source === 'practice' ? 'practice putts' : 'putts';
  const half =
    found.half_ft === null
      ? `The length from which you hole half your ${putts} is outside the curve`
      : `You hole half your ${putts} from ${Number(found.half_ft.toFixed(1))} ft`;
  const sentence = h(
    'p',
    { class: 'verdict' },
    `${half}; tour players from ${Number(found.tour_half_ft.toFixed(1))} ft.`,
  );
  const { half_low_ft: low, half_high_ft: high } = found;
  if (found.half_ft === null || low === null || high === null) return sentence;
  const [figure, least, most] = [found.half_ft, low, high].map((feet) => Number(feet.toFixed(1)));
  return [
    sentence,
    bigFigure(
      `${figure} ft`,
      ` is where half your ${putts} are holed`,
      `between ${least} and ${most} ft with ${percent(found.level)} confidence`,
    ),
  ];
}

/** @param {any} found @param {any} other @param {import('./address.js').Filters} filters */
function makeRate(found, other, filters) {
  if (!found.curve.length && !found.bands.length) return null;
  const level = percent(found.level);
  const whose = other ? `${filters.club} and ${filters.against}` : 'all putts';
  const title = `Make-rate by length, ${filters.club && !other ? filters.club : whose}`;
  const description = `The share holed falls with length: the fitted curve with its ${level} band, a mark for what was counted in each length, larger where there were more putts. The tables have the numbers.`;
  const series = [
    {
      ...seriesOf(found, 'one', 'circle'),
      label: other ? filters.club : `fitted curve, ${level} band`,
      dotLabel: 'counted',
    },
    ...(other ? [{ ...seriesOf(other, 'two', 'square'), label: filters.against }] : []),
  ];
  const tour = {
    curve: found.curve.map((/** @type {any} */ row) => ({ x: row.feet, y: row.tour, low: null, high: null })),
    dots: [],
    tone: 'reference',
    label: 'tour',
  };
  const draw = (/** @type {any} */ room) =>
    curveChart(
      [tour, ...series],
      { domain: [0, LONGEST_FT], words: String },
      { domain: [0, 1], wanted: 5, words: (value) => percent(value) },
      { title, description, x: 'feet to the hole', y: 'share holed' },
      room,
    );
  const counts = h(
    'details',
    null,
    h('summary', null, 'What was counted'),
    [found, ...(other ? [other] : [])].map((one, index) =>
      countedTable(one, index ? filters.against : filters.club, level),
    ),
  );
  return h('section', null, figure(draw, curveTable(found, other, filters, level), counts));
}

/** @param {any} found @param {string} tone_ @param {import('../charts/drawing.js').Shape} shape */
function seriesOf(found, tone_, shape) {
  return {
    curve: found.curve.map((/** @type {any} */ row) => ({ x: row.feet, y: row.rate, low: row.low, high: row.high })),
    dots: found.bands
      .filter((/** @type {any} */ row) => row.feet <= LONGEST_FT)
      .map((/** @type {any} */ row) => ({ x: row.feet, y: row.share, low: row.low, high: row.high, count: row.putts })),
    tone: tone_,
    shape,
  };
}

/** @param {any} found @param {any} other @param {import('./address.js').Filters} filters @param {string} level */
function curveTable(found, other, filters, level) {
  if (!found.curve.length) return h('p', { class: 'few' }, found.lacking);
  const cell = (/** @type {any} */ row) =>
    row
      ? [
          ...valueCell(percent(row.rate), `${percent(row.low)} to ${percent(row.high)}`),
          row.leans_on_tour ? h('span', { class: 'list-under' }, 'mostly tour') : null,
        ]
      : '–';
  const rows = found.curve.map((/** @type {any} */ row, /** @type {number} */ index) => [
    `${row.feet} ft`,
    cell(row),
    ...(other ? [cell(other.curve[index])] : [row.putts_near]),
    percent(row.tour),
  ]);
  const titles = other ? ['length', filters.club, filters.against, 'tour'] : ['length', 'holed', 'putts near', 'tour'];
  return table(`Share holed by length, with the ${level} interval`, titles, rows);
}

/** @param {any} found @param {string|undefined} putter @param {string} level */
function countedTable(found, putter, level) {
  const rows = found.bands.map((/** @type {any} */ row) => [
    bandName(row.band).replace(' putts', ''),
    `${row.holed} of ${row.putts}`,
    valueCell(percent(row.share), `${percent(row.low)} to ${percent(row.high)}`),
    percent(row.tour),
  ]);
  return table(
    `Putts holed by length, ${putter ?? 'all putters'}, with the ${level} interval`,
    ['length', 'holed', 'share', 'tour'],
    rows,
  );
}

/** @param {any} found */
function byLength({ gained: { rows: given, total }, level }) {
  if (!given.length) return null;
  const title = 'Strokes gained putting a round by length';
  const rows = given.map((/** @type {any} */ row) => ({
    label: bandName(row.distance).replace(' putts', ''),
    aside: counted(row.shots, 'putt'),
    count: row.shots,
    value: row.per_round,
    low: row.per_round_low,
    high: row.per_round_high,
    few: row.too_few,
  }));
  const words = {
    title,
    description: `A dot for the mean of each length on its ${percent(level)} interval, the shortest first. The table has every number.`,
    left: '← loses',
    right: 'gains →',
    signed,
    zero: 'the baseline',
  };
  const cells = rows.map((/** @type {any} */ row) => [
    row.label,
    row.low === null
      ? h('span', { class: 'few' }, row.few)
      : valueCell(gained(row.value), interval(row.low, row.high), clearTone(row.value, row.low, row.high)),
    countCell(row.count),
  ]);
  const together =
    total.per_round_low === null || total.per_round_low === undefined
      ? null
      : h(
          'p',
          null,
          `All lengths together: ${gained(total.per_round)} a round, ${interval(total.per_round_low, total.per_round_high)} with ${percent(level)} confidence.`,
        );
  const numbers = table(`${title}, with the ${percent(level)} interval`, ['length', 'per round', 'putts'], cells);
  const known = rows.some((/** @type {any} */ row) => row.low !== null);
  return h('section', null, together, known ? figure((room) => whiskerChart(rows, words, room), numbers) : numbers);
}

/** @param {any} found */
function threePutts({ three_putts: three, level }) {
  const value = three.lacking
    ? h('p', { class: 'few' }, three.lacking)
    : h('p', { class: 'big-score' }, h('span', { class: 'number' }, percent(three.share)), ' of greens');
  const under = three.lacking
    ? null
    : h(
        'p',
        null,
        `${three.three_putts} of ${counted(three.holes, 'hole')}; between ${percent(three.low)} and ${percent(three.high)} with ${percent(level)} confidence`,
      );
  return h('section', { class: 'three-putts' }, value, under);
}

/** @param {any} found */
function firstPutts({ first_putts: first }) {
  if (!first.holes) return null;
  const rows = first.bands.map((/** @type {any} */ row) => [
    bandName(row.band).replace(' putts', ''),
    countCell(row.putts),
    percent(row.share),
  ]);
  return h(
    'section',
    null,
    h(
      'p',
      null,
      `Half of the first putts are longer than ${first.median_ft.toFixed(0)} ft, on ${counted(first.holes, 'green')}.`,
    ),
    table('First putts by length', ['length', 'putts', 'share'], rows),
  );
}

/** @param {any} found */
function speed({ speed: found }) {
  if (!found.misses) return null;
  const feet = (/** @type {number|null} */ value) => (value === null ? '–' : `${value.toFixed(1)} ft`);
  const row = (/** @type {string} */ label, /** @type {any} */ one) => [
    label,
    countCell(one.misses),
    feet(one.median_ft),
    percent(one.close),
  ];
  const rows = [
    ...found.bands.map((/** @type {any} */ one) => row(bandName(one.band).replace(' putts', ''), one)),
    row('20 ft and more', found.far),
  ];
  const short = found.told
    ? h('p', null, `${found.short} of ${counted(found.told, 'miss', 'misses')} with a tapped finish ended short.`)
    : null;
  return h(
    'section',
    null,
    h('p', { class: 'hint' }, 'What missed putts leave: the median, and the share left within 3 ft.'),
    short,
    table('What missed putts leave, by length', ['length', 'misses', 'middle', 'within 3 ft'], rows),
  );
}
