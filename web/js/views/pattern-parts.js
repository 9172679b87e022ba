/** The pattern of one club in its parts: what it says in a sentence, the plot, the facts, shares, every figure. */
import { plain } from '../game/numbers.js';
import { h } from '../ui/elements.js';
import { counted } from '../ui/words.js';
import { boxChart } from '../charts/box-chart.js';
import { countCell, figure, table, valueCell } from '../charts/figure.js';
import { LENGTH, NOTHING, SIDE, sideRange, toSide } from './lengths.js';
import { patternPlot } from '../charts/pattern-plot.js';
import { TOO_FEW } from '../charts/whisker-chart.js';
import { percent } from './words.js';

/** @typedef {import('./lengths.js').Lengths} Lengths */

const QUANTILES = /** @type {[string, string][]} */ ([
  ['0.1', '10th percentile'],
  ['0.25', 'quarter'],
  ['0.5', 'middle shot'],
  ['0.75', 'three quarters'],
  ['0.9', '90th percentile'],
]);
const SHARES = ['short', 'long', 'left', 'right', 'playable'];

/** Yards in the player's unit; null stays. @param {Lengths} lengths @param {number|null|undefined} yards */
function inUnit(lengths, yards) {
  return yards === null || yards === undefined ? null : lengths.of(yards);
}

/** The side on which the middle clearly lies; null when the interval holds the target. @param {any} centre @param {[string, string]} sides @param {Lengths} lengths */
function clearly({ value, low, high }, sides, lengths) {
  if (low === null || (low <= 0 && high >= 0)) return null;
  return `${lengths.words(Math.abs(value))} ${sides[value < 0 ? 0 : 1]}`;
}

/** The sentence, the one figure, and how far shots spread. @param {any} row @param {string} group its name @param {Lengths} lengths @param {HTMLElement|null} big */
export function verdict(row, group, lengths, big) {
  const name = group ? `, ${group}` : '';
  const head = (/** @type {string} */ words) => h('p', { class: 'verdict' }, words);
  if (row.long.centre.low === null) return head(`Not enough shots to show where the ${row.club}${name} finishes.`);
  const groups = row.groups ?? [];
  const where = [
    clearly(row.long.centre, LENGTH, lengths),
    row.right.centre.low === null ? null : clearly(row.right.centre, SIDE, lengths),
  ].filter(Boolean);
  const words = groups.length
    ? `The ${row.club} finishes in two groups: ${groups.map((/** @type {any} */ one) => groupWords(one, lengths)).join(', ')}. Few finish between them, where the average is.`
    : where.length
      ? `On average the ${row.club} finishes ${where.join(' and ')} of the target.`
      : `No clear bias in ${counted(row.shots, 'shot')}.`;
  const [side, length] = [row.right.quantiles, row.long.quantiles];
  const spread = [
    side['0.1'] === undefined ? null : between(side, SIDE, lengths),
    length['0.1'] === undefined ? null : between(length, LENGTH, lengths),
  ].filter(Boolean);
  return h(
    'div',
    { class: 'pattern-verdict' },
    head(words),
    big,
    spread.length ? h('p', { class: 'lead' }, `Eight in ten finish ${spread.join(', and ')}.`) : null,
    withoutFar(row, lengths),
  );
}

/** One of two groups: "55 % around 18 yd right". @param {any} group @param {Lengths} lengths */
function groupWords({ share, right_yd: right }, lengths) {
  return `${percent(share)} around ${toSide(lengths.of(right), SIDE, 0, ` ${lengths.unit}`)}`;
}

/** @param {Record<string, number>} quantiles @param {[string, string]} sides @param {Lengths} lengths */
function between(quantiles, sides, lengths) {
  const end = (/** @type {string} */ share) => toSide(lengths.of(quantiles[share]), sides, 0, ` ${lengths.unit}`);
  return `between ${end('0.1')} and ${end('0.9')}`;
}

/** Where the centre lies when the shots far out do not count. @param {any} row @param {Lengths} lengths */
function withoutFar({ robust }, lengths) {
  if (!robust?.set_aside) return null;
  const places = [
    toSide(lengths.of(robust.long_yd), LENGTH, 0, ` ${lengths.unit}`),
    toSide(lengths.of(robust.right_yd), SIDE, 0, ` ${lengths.unit}`),
  ].filter((words) => !words.startsWith('0 '));
  return h(
    'p',
    null,
    `Without ${counted(robust.set_aside, 'outlier')} its centre is ${places.length ? `${places.join(' and ')} of the target` : `within half a ${lengths.unit === 'm' ? 'metre' : 'yard'} of the target each way`}.`,
  );
}

/** @param {any} row @param {Lengths} lengths @param {number} level */
export function plot(row, lengths, level) {
  const numbers = h('div', null, plotTable(row, lengths, level));
  const shots = row.finishes?.shots ?? [];
  if (!shots.length)
    return [
      h(
        'p',
        { class: 'few' },
        row.from_distances
          ? 'No finish recorded for these shots: only their length is known, from the distances before and after.'
          : 'No finish recorded.',
      ),
      numbers,
    ];
  const finishes = shots.map((/** @type {any} */ one) => ({
    right: lengths.of(one.right_yd),
    long: lengths.of(one.long_yd),
    aside: one.set_aside,
  }));
  const { right, long } = row;
  const groups = row.groups ?? [];
  const ovals = (groups.length ? groups.map((/** @type {any} */ one) => one.ellipse) : [row.ellipse]).filter(Boolean);
  const ellipses = ovals.map((/** @type {any} */ one) => ({
    right: lengths.of(one.right_yd),
    long: lengths.of(one.long_yd),
    halfLong: lengths.of(one.half_long_yd),
    halfShort: lengths.of(one.half_short_yd),
    turned: one.turned_deg,
  }));
  const holds = ovals.length ? percent(ovals[0].holds_next_shot) : '';
  const oval = groups.length
    ? `and an ellipse around each of two groups that contains ${holds} of its next shots`
    : `and the ellipse that contains ${holds} of next shots`;
  const known = right.centre.low !== null && long.centre.low !== null;
  const three = (/** @type {any} */ one) =>
    /** @type {[number, number, number]} */ ([lengths.of(one.low), lengths.of(one.value), lengths.of(one.high)]);
  const centre = known && !groups.length ? { right: three(right.centre), long: three(long.centre) } : null;
  const words = {
    title: `Finishes of the ${row.club} against the target, ${lengths.unit}`,
    description: `${counted(shots.length, 'tapped finish', 'tapped finishes')} as dots around the target, drawn to scale with straight ahead up${ovals.length ? `, ${oval}` : ''}. The table has the numbers.`,
    left: `← left ${percent(row.shares.left.value)}`,
    right: `right ${percent(row.shares.right.value)} →`,
    long: `↑ long ${percent(row.shares.long.value)}`,
    short: `↓ short ${percent(row.shares.short.value)} · ${lengths.unit}`,
    unit: lengths.unit,
    shares: {
      left: row.shares.left.value,
      right: row.shares.right.value,
      short: row.shares.short.value,
      long: row.shares.long.value,
    },
    keys: ['a stroke: 5 %', ...(finishes.some((/** @type {any} */ one) => one.aside) ? ['open dot: outlier'] : [])],
    centre: 'centre',
    oval: holds ? `${holds} of next shots` : '',
  };
  const out = row.finishes.left_out
    ? h(
        'p',
        { class: 'hint' },
        `The latest ${shots.length} finishes; ${row.finishes.left_out} earlier ones count in the numbers but are not drawn.`,
      )
    : null;
  return figure((room) => patternPlot({ finishes, ellipses, centre }, words, room), numbers, out);
}

/** @param {any} row @param {Lengths} lengths @param {number} level */
function plotTable(row, lengths, level) {
  const { right, long, ellipse, robust } = row;
  const centre = (/** @type {any} */ one, /** @type {[string, string]} */ sides) =>
    one.value === null
      ? NOTHING
      : valueCell(
          toSide(inUnit(lengths, one.value), sides, 1),
          one.low === null ? TOO_FEW : sideRange(inUnit(lengths, one.low), inUnit(lengths, one.high), sides, 1),
        );
  const spread = (/** @type {any} */ one) =>
    one.value === null
      ? NOTHING
      : valueCell(
          lengths.number(one.value, 1),
          one.low === null ? TOO_FEW : `${lengths.number(one.low, 1)} to ${lengths.number(one.high, 1)}`,
        );
  const rows = [
    ['centre', centre(right.centre, SIDE), centre(long.centre, LENGTH)],
    ['spread', spread(right.spread), spread(long.spread)],
  ];
  if (robust?.set_aside)
    rows.push(
      [
        `centre without ${counted(robust.set_aside, 'outlier')}`,
        toSide(lengths.of(robust.right_yd), SIDE, 1),
        toSide(lengths.of(robust.long_yd), LENGTH, 1),
      ],
      ['spread without them', lengths.number(robust.right_spread_yd, 1), lengths.number(robust.long_spread_yd, 1)],
    );
  if (ellipse)
    rows.push([
      `${percent(ellipse.holds_next_shot)} ellipse, centre`,
      toSide(lengths.of(ellipse.right_yd), SIDE, 1),
      toSide(lengths.of(ellipse.long_yd), LENGTH, 1),
    ]);
  for (const [place, one] of (row.groups ?? []).entries())
    rows.push([
      `${place ? 'right' : 'left'} group, ${counted(one.shots, 'shot')}`,
      toSide(lengths.of(one.right_yd), SIDE, 1),
      one.ellipse ? toSide(lengths.of(one.ellipse.long_yd), LENGTH, 1) : NOTHING,
    ]);
  rows.push(['shots', row.tapped, row.shots]);
  return [
    table(
      `The pattern against a target of ${lengths.words(row.target_yd)}, in ${lengths.unit}, with the ${percent(level)} interval`,
      ['figure', 'side', 'length'],
      rows,
    ),
    h('p', { class: 'hint' }, 'Centre: the mean. Spread: the standard deviation.'),
  ];
}

/** @param {any} row @param {Lengths} lengths @param {number} level */
export function facts(row, lengths, level) {
  const fact = (/** @type {string} */ title, /** @type {string} */ value, /** @type {string} */ under) =>
    h('div', null, h('dt', null, title), h('dd', null, value, h('span', { class: 'list-under' }, under)));
  const {
    ellipse,
    offline_deg: offline,
    shares: { playable },
  } = row;
  const ranged = (/** @type {any} */ one, /** @type {(value: number) => string} */ words) =>
    one.low === null ? TOO_FEW : `${words(one.low)} to ${words(one.high)} with ${percent(level)} confidence`;
  const degrees = (/** @type {number} */ value) => `${value.toFixed(1)}°`;
  return h(
    'dl',
    { class: 'facts' },
    row.median_from_target_yd === null
      ? null
      : fact(
          'Half of the shots finish within',
          lengths.words(row.median_from_target_yd),
          `of the target at ${lengths.words(row.target_yd)}`,
        ),
    ellipse
      ? fact(
          `Ellipse for ${percent(ellipse.holds_next_shot)} of next shots`,
          `${lengths.number(2 * ellipse.half_long_yd)} by ${lengths.words(2 * ellipse.half_short_yd)}`,
          `its long axis points ${turned(ellipse.turned_deg)}`,
        )
      : null,
    offline.centre.value === null
      ? null
      : fact(
          'Average direction',
          toSide(offline.centre.value, SIDE, 1, '°'),
          offline.centre.low === null
            ? TOO_FEW
            : `${sideRange(offline.centre.low, offline.centre.high, SIDE, 1, '°')} with ${percent(level)} confidence`,
        ),
    offline.spread.value === null
      ? null
      : fact('Spread of direction', degrees(offline.spread.value), ranged(offline.spread, degrees)),
    playable.value === null ? null : fact('Playable', percent(playable.value), ranged(playable, percent)),
  );
}

/** @param {number} degrees of the longer axis from straight ahead */
function turned(degrees) {
  const size = Math.abs(degrees);
  if (size <= 10) return 'straight ahead';
  if (size >= 80) return 'across the line';
  return `${size.toFixed(0)}° ${degrees < 0 ? 'left' : 'right'} of straight ahead`;
}

/** @param {any} row @param {number} level */
export function shares(row, level) {
  const rows = SHARES.map((name) => {
    const { value, low, high, n } = row.shares[name];
    return {
      label: name,
      aside: counted(n, 'shot'),
      middle: value,
      box: null,
      whisker: /** @type {[number, number]|null} */ (low === null ? null : [low, high]),
      few: 'not known',
      figure: row.shares[name],
    };
  });
  const numbers = table(
    `Share of shots, with the ${percent(level)} interval`,
    ['side', 'share', 'shots'],
    rows.map(({ label, figure: { value, low, high, n } }) => [
      label,
      value === null
        ? NOTHING
        : valueCell(percent(value), low === null ? TOO_FEW : `${percent(low)} to ${percent(high)}`),
      n,
    ]),
  );
  const words = {
    title: `Shares short, long, left, right and playable of the ${row.club}`,
    description: `A mark for each share on its ${percent(level)} interval. The table has the numbers.`,
    left: 'none',
    right: 'all',
    number: (/** @type {number} */ value) => percent(value),
    holds: [0, 1],
    marks: { whisker: `${percent(level)} interval` },
  };
  return figure(
    (room) => boxChart(rows, words, room),
    numbers,
    h(
      'p',
      { class: 'hint' },
      'Short, long, left and right are against the target; a shot exactly on it is neither. Playable: no penalty, and not in a recovery lie.',
    ),
  );
}

/** @param {any} row @param {Lengths} lengths */
export function directions(row, lengths) {
  const columns = [
    { of: row.right, sides: SIDE, mark: '', unit: lengths.of },
    { of: row.long, sides: LENGTH, mark: '', unit: lengths.of },
    { of: row.offline_deg, sides: SIDE, mark: '°', unit: (/** @type {number} */ value) => value },
  ];
  const rows = [
    ...QUANTILES.map(([key, words]) => [
      words,
      ...columns.map(({ of, sides, mark, unit }) =>
        of.quantiles[key] === undefined ? NOTHING : toSide(unit(of.quantiles[key]), sides, mark ? 1 : 0, mark),
      ),
    ]),
    ['skew', ...columns.map(({ of }) => (of.skew === null ? NOTHING : plain(of.skew, 2)))],
  ];
  return h(
    'div',
    { class: 'numbers' },
    table(`Side and length in ${lengths.unit}, and degrees offline`, ['shot', 'side', 'length', 'offline'], rows),
    h(
      'p',
      { class: 'hint' },
      'That share of the shots is left or short of each. Skew below zero: a tail to the left or the short side.',
    ),
  );
}

/** The groups of a split beside each other. @param {any[]} groups @param {(group: string) => string} words @param {Lengths} lengths @param {number} level */
export function groupsTable(groups, words, lengths, level) {
  const centre = (/** @type {any} */ one, /** @type {[string, string]} */ sides) =>
    one.value === null
      ? NOTHING
      : valueCell(
          toSide(lengths.of(one.value), sides, 1),
          one.low === null ? TOO_FEW : sideRange(lengths.of(one.low), lengths.of(one.high), sides, 1),
        );
  const rows = groups.map((row) => [
    words(row.group),
    countCell(row.shots),
    centre(row.right.centre, SIDE),
    lengths.number(row.right.spread.value, 1),
    centre(row.long.centre, LENGTH),
    lengths.number(row.long.spread.value, 1),
    percent(row.shares.playable.value),
  ]);
  return table(
    `The ${groups.length === 2 ? 'two ' : ''}groups, in ${lengths.unit}, with the ${percent(level)} interval`,
    ['group', 'shots', 'side', 'spread', 'length', 'spread', 'playable'],
    rows,
  );
}

/** What the marks of a box chart are. @type {import('../charts/box-chart.js').MarkNames} */
export const BOX_MARKS = { middle: 'middle shot', box: 'middle half', whisker: ['10th', '90th percentile'] };
