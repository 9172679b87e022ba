/** The patterns of a whole bag: degrees left and right, club by club. */
import { h } from '../ui/elements.js';
import { counted } from '../ui/words.js';
import { boxChart } from '../charts/box-chart.js';
import { figure, table, valueCell } from '../charts/figure.js';
import { LENGTH, NOTHING, SIDE, sideRange, toSide } from './lengths.js';
import { boxLegend } from './pattern-parts.js';
import { TOO_FEW } from '../charts/whisker-chart.js';

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
  const said = where
    .map(([side, lies]) => [side, full.filter(lies).map((row) => row.club)])
    .filter(([, clubs]) => clubs.length);
  if (!said.length) return h('p', { class: 'verdict small' }, 'No club clearly misses to one side.');
  return [
    h(
      'ul',
      { class: 'verdict small clearly' },
      said.map(([side, clubs]) => h('li', null, `On average ${side}: ${/** @type {string[]} */ (clubs).join(', ')}.`)),
    ),
  ];
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
    const said = at['0.5'] !== undefined;
    return {
      label: row.club,
      aside: counted(row.tapped, 'shot'),
      middle: said ? at['0.5'] : null,
      box: said ? [at['0.25'], at['0.75']] : null,
      whisker: said ? [at['0.1'], at['0.9']] : null,
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
  };
  return figure((room) => boxChart(rows, words, room), numbers, boxLegend());
}

/** @param {any} found @param {import('./lengths.js').Lengths} lengths @param {(row: any) => string} address */
export function bagTable(found, lengths, address) {
  const [full, part] = ['full', 'part'].map((swing) =>
    found.patterns.filter((/** @type {any} */ row) => row.swing === swing),
  );
  const said = (/** @type {string} */ swing) =>
    `Where ${swing} swings finish, in ${lengths.unit}: the average against the target with its interval, and the spread`;
  return {
    full: swings(full, said('full'), lengths, address),
    part: part.length ? swings(part, said('part'), lengths, address) : null,
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
  const rows = patterns.map((/** @type {any} */ row) => [
    h('a', { href: address(row), class: 'cell-link' }, row.club),
    row.shots,
    lengths.number(row.target_yd),
    centre(row.right.centre, SIDE),
    lengths.number(row.right.spread.value, 1),
    centre(row.long.centre, LENGTH),
    lengths.number(row.long.spread.value, 1),
  ]);
  return table(caption, ['club', 'shots', 'target', 'side', 'spread', 'length', 'spread'], rows);
}
