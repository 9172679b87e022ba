/** The patterns of a full bag: degrees left and right, club by club. */
import { h } from '../ui/elements.js';
import { counted } from '../ui/words.js';
import { boxChart } from '../charts/box-chart.js';
import { countCell, figure, table, valueCell } from '../charts/figure.js';
import { LENGTH, NOTHING, SIDE, sideRange, toSide } from './lengths.js';
import { BOX_MARKS } from './pattern-parts.js';
import { TOO_FEW } from '../charts/whisker-chart.js';
import { bigFigure, percent } from './words.js';

const FAR_YD = 300;

/** Which clubs clearly lie to a side, full swings. @param {any[]} patterns */
export function bagVerdict(patterns) {
  const full = patterns.filter((row) => row.swing === 'full');
  const where = /** @type {[string, (row: any) => boolean][]} */ ([
    ['short', (row) => row.long.centre.high !== null && row.long.centre.high < 0],
    ['long', (row) => row.long.centre.low !== null && row.long.centre.low > 0],
    ['left', (row) => row.right.centre.high !== null && row.right.centre.high < 0],
    ['right', (row) => row.right.centre.low !== null && row.right.centre.low > 0],
  ]);
  const missed = where
    .map(([side, lies]) => [side, full.filter(lies).map((row) => row.club)])
    .filter(([, clubs]) => clubs.length);
  if (!missed.length) return h('p', { class: 'verdict small' }, 'No club clearly misses to one side.');
  const words = missed.map(([side, clubs]) => `${side} with ${listed(/** @type {string[]} */ (clubs))}`);
  return h('p', { class: 'verdict', id: 'clearly' }, `On average ${words.join('; ')}.`);
}

/** @param {string[]} names such as "driver, 3 wood and 5 iron" */
function listed(names) {
  return names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}`;
}

/** The widest clear miss of the bag with its interval; without one the club with the most shots. @param {any[]} patterns @param {import('./lengths.js').Lengths} lengths @param {number} level */
export function bagHeadline(patterns, lengths, level) {
  const full = patterns.filter((row) => row.swing === 'full' && row.right.centre.low !== null);
  if (!full.length) return null;
  const size = (/** @type {any} */ row) => Math.abs(farther(row).centre.value);
  const clear = full.filter((row) => clearOf(farther(row).centre));
  const row = clear.length
    ? clear.reduce((one, other) => (size(other) > size(one) ? other : one))
    : full.reduce((one, other) => (other.shots > one.shots ? other : one));
  return centreFigure(row, lengths, level);
}

/** @param {any} centre */
function clearOf({ low, high }) {
  return low !== null && (low > 0 || high < 0);
}

/** Of side and length the centre that lies clearly off the target, the farther of two; the side where neither does. @param {any} row */
function farther(row) {
  const ways = [
    { centre: row.right.centre, sides: SIDE },
    { centre: row.long.centre, sides: LENGTH },
  ].filter(({ centre }) => centre.value !== null);
  const clear = ways.filter(({ centre }) => clearOf(centre));
  return (clear.length ? clear : ways).reduce((one, other) =>
    clear.length && Math.abs(other.centre.value) > Math.abs(one.centre.value) ? other : one,
  );
}

/** How far off the target a club finishes on average, with its interval. @param {any} row @param {import('./lengths.js').Lengths} lengths @param {number} level */
export function centreFigure(row, lengths, level) {
  if (row.long.centre.low === null || row.groups?.length) return null;
  const { centre, sides } = farther(row);
  const side = sides[centre.value < 0 ? 0 : 1];
  return bigFigure(
    Math.abs(lengths.of(centre.value)).toFixed(1),
    ` ${lengths.unit} ${side} on average with the ${row.club}`,
    centre.low === null ? null : `${rangeWords(centre, sides, lengths)} with ${percent(level)} confidence`,
  );
}

/** Both ends of an interval, the nearer first where they lie on one side. @param {any} centre @param {[string, string]} sides @param {import('./lengths.js').Lengths} lengths */
function rangeWords({ low, high }, sides, lengths) {
  const ends = [low, high].sort((a, b) => Math.abs(a) - Math.abs(b)).map((end) => Math.abs(lengths.of(end)).toFixed(1));
  if (low * high > 0) return `between ${ends.join(' and ')} ${lengths.unit} ${sides[low < 0 ? 0 : 1]}`;
  const end = (/** @type {number} */ value) => toSide(lengths.of(value), sides, 1, ` ${lengths.unit}`);
  return `between ${end(low)} and ${end(high)}`;
}

/** Which shots are drawn, and how often a club is named by chance. @param {import('./lengths.js').Lengths} lengths */
export function bagMethod(lengths) {
  return h(
    'p',
    { class: 'hint' },
    `Listed: clubs whose interval excludes the target. By chance alone about one club in ten would be listed, in each direction. Full swings from tee, fairway and fringe with a recorded finish. Four degrees are ${lengths.words(FAR_YD * Math.tan((4 * Math.PI) / 180))} aside at ${lengths.words(FAR_YD)}.`,
  );
}

/** @param {any} found @param {HTMLElement} numbers */
export function bagFigure(found, numbers) {
  const full = found.patterns.filter((/** @type {any} */ row) => row.swing === 'full');
  const rows = full.map((/** @type {any} */ row) => {
    const at = row.offline_deg.quantiles;
    const known = at['0.5'] !== undefined;
    return {
      label: row.club,
      aside: counted(row.tapped, 'shot'),
      count: row.tapped,
      middle: known ? at['0.5'] : null,
      box: known ? [at['0.25'], at['0.75']] : null,
      whisker: known ? [at['0.1'], at['0.9']] : null,
      few: TOO_FEW,
    };
  });
  if (!rows.some((/** @type {any} */ row) => row.middle !== null))
    return [h('p', { class: 'verdict small' }, 'Not enough recorded finishes of each club yet.'), numbers];
  const words = {
    title: 'Degrees offline by club, full swings',
    description:
      'For each club, longest first, the median, the middle half and the 10th to 90th percentile, in degrees left or right of the line to the target. The table has the numbers.',
    left: '← left',
    right: 'right →',
    number: (/** @type {number} */ value, /** @type {number} */ decimals) => `${Math.abs(value).toFixed(decimals)}°`,
    holds: [0],
    zero: 'the target',
    marks: BOX_MARKS,
  };
  return figure((room) => boxChart(rows, words, room), numbers);
}

/** @param {any} found @param {import('./lengths.js').Lengths} lengths @param {(row: any) => string} address */
export function bagTable(found, lengths, address) {
  const [full, part] = ['full', 'part'].map((swing) =>
    found.patterns.filter((/** @type {any} */ row) => row.swing === swing),
  );
  const caption = (/** @type {string} */ swing) =>
    `Where ${swing} swings finish, in ${lengths.unit}: the average against the target with its interval, and the spread`;
  return {
    full: swings(full, caption('full'), lengths, address),
    part: part.length ? swings(part, caption('part'), lengths, address) : null,
  };
}

/** @param {any[]} patterns @param {string} caption @param {import('./lengths.js').Lengths} lengths @param {(row: any) => string} address */
function swings(patterns, caption, lengths, address) {
  const of = (/** @type {number|null} */ yards) => (yards === null ? null : lengths.of(yards));
  const centre = (/** @type {any} */ figure_, /** @type {[string, string]} */ sides) =>
    figure_.value === null
      ? NOTHING
      : valueCell(
          toSide(of(figure_.value), sides, 1),
          figure_.low === null ? TOO_FEW : sideRange(of(figure_.low), of(figure_.high), sides, 1),
        );
  const spread = (/** @type {any} */ way) =>
    way.spread.value === null
      ? null
      : h('span', { class: 'list-under' }, `spread ${lengths.number(way.spread.value, 1)}`);
  const rows = patterns.map((/** @type {any} */ row) => [
    [
      h('a', { href: address(row), class: 'cell-link' }, row.club),
      h('span', { class: 'list-under' }, countCell(row.shots, counted(row.shots, 'shot'))),
      h('span', { class: 'list-under' }, `to ${lengths.words(row.target_yd)}`),
    ],
    [centre(row.right.centre, SIDE), spread(row.right)],
    [centre(row.long.centre, LENGTH), spread(row.long)],
  ]);
  const found = table(caption, ['club', 'side', 'length'], rows);
  found.classList.add('bag-table');
  return found;
}
