/**
 * One row a group: its mean as a dot on its interval, left of the zero line lost, right of it gained.
 *
 * @typedef {object} WhiskerRow
 * @property {string} label @property {string} aside such as the count in words @property {number} [count] drawn as a tally where it is small @property {number|null} value @property {number|null} low
 * @property {number|null} high @property {number|null} [shrunk] @property {string|null} [few] shown in place of the mark
 *
 * @typedef {{width: number, rem: number, id: string}} Room pixels, pixels of the reader's text size, and an id of this picture
 */
import { tone } from '../ui/words.js';
import { dot, extent, linearScale, picture, svg, text, tickMark, ticks, whisker } from './drawing.js';
import { LETTER, labelsOf, rowLabel } from './row-labels.js';

const LABEL_SHARE = 0.34; // of the width, at most, for labels beside the rows
export const TOO_FEW = 'not enough data';
const FAR_OUT = 2.5; // whiskers longer than this times the usual one end in an arrow

/** How the ends of a picture's axis are named. @typedef {{title: string, description: string, left: string, right: string, signed: (value: number, decimals: number) => string, zone?: number, zero?: string, marks?: {clear?: string, open?: string, shrunk?: string}}} Words
 * `zone`: half the width of a shaded middle; `zero`: what the zero line is; `marks`: what the marks are, written beside one of each kind */

/** True when the interval does not hold zero. @param {{low: number|null, high: number|null}} row */
export function isClear({ low, high }) {
  return low !== null && high !== null && (low > 0 || high < 0);
}

/**
 * The tone of a drawn mean: which side it lies on, none where its interval holds zero.
 * @param {{value: number|null, low: number|null, high: number|null}} row @returns {string}
 */
export function side(row) {
  if (!isClear(row)) return '';
  return (row.value ?? 0) < 0 ? 'lost' : 'gained';
}

/**
 * The class that colours a mean in a table: as in a picture, none where its interval holds zero.
 * @param {number|null|undefined} value @param {number|null|undefined} low @param {number|null|undefined} high @returns {string}
 */
export function clearTone(value, low, high) {
  return isClear({ low: low ?? null, high: high ?? null }) ? tone(value) : '';
}

/**
 * The range of the axis: every mean and zero, whiskers too unless they are far longer than usual.
 * @param {WhiskerRow[]} rows @param {number} [zone] @returns {[number, number]}
 */
export function whiskerExtent(rows, zone = 0) {
  const shown = rows.filter((row) => row.value !== null && row.low !== null && row.high !== null);
  const lengths = shown
    .map((row) => /** @type {number} */ (row.high) - /** @type {number} */ (row.low))
    .sort((a, b) => a - b);
  const typical = lengths[Math.floor(lengths.length / 2)] ?? 0;
  const reach = (typical * FAR_OUT) / 2;
  const ends = shown.flatMap((row) => {
    const value = /** @type {number} */ (row.value);
    return [
      value,
      row.shrunk ?? value,
      Math.max(/** @type {number} */ (row.low), value - reach),
      Math.min(/** @type {number} */ (row.high), value + reach),
    ];
  });
  return extent([0, -zone, zone, ...ends], { least: 0.1 });
}

/**
 * @param {WhiskerRow[]} rows @param {Words} words @param {Room} room @returns {SVGElement}
 */
export function whiskerChart(rows, words, { width, rem, id }) {
  const labels = labelsOf(rows, LABEL_SHARE, { width, rem });
  const edge = 1.2 * rem; // half an axis number stands out beyond the frame
  /** @type {[number, number]} */
  const frame = [labels.gutter + edge, width - edge];
  const domain = whiskerExtent(rows, words.zone);
  const x = linearScale(domain, frame);
  const markHeight = Math.max(26, 1.7 * rem);
  const rowHeight = labels.above + markHeight;
  const top = 1.7 * rem;
  const bottom = top + rows.length * rowHeight;
  const height = bottom + (words.zero ? 2.8 : 1.8) * rem;
  const marks = rows.map((row, index) => {
    const middle = top + index * rowHeight + labels.above + markHeight / 2;
    return svg(
      'g',
      { class: 'row-marks' },
      ...rowLabel(row, middle, markHeight / 2, labels),
      ...rowMarks(row, x, middle, frame, rem),
    );
  });
  return picture(
    { width, height, title: words.title, description: words.description, id },
    words.zone
      ? svg('rect', {
          x: x(-words.zone),
          y: top - 0.2 * rem,
          width: x(words.zone) - x(-words.zone),
          height: bottom - top + 0.2 * rem,
          class: 'zone',
        })
      : null,
    ...axis(domain, x, { top, bottom, frame, rem, words }),
    ...marks,
    ...directLabels(
      rows.map((row, index) => ({ row, y: top + index * rowHeight + labels.above + markHeight / 2 })),
      words.marks ?? {},
      x,
      frame,
      rem,
    ),
  );
}

/**
 * What a mark is, written beside the one of its kind that has the most room; not at all where none has enough.
 * @param {{row: WhiskerRow, y: number}[]} placed @param {{clear?: string, open?: string, shrunk?: string}} names
 * @param {import('./drawing.js').Scale} x @param {[number, number]} frame @param {number} rem
 */
function directLabels(placed, names, x, frame, rem) {
  const known = placed.filter(({ row }) => row.value !== null && row.low !== null && row.high !== null);
  const kinds = [
    { words: names.clear, of: known.filter(({ row }) => isClear(row)) },
    { words: names.open, of: known.filter(({ row }) => !isClear(row)) },
    { words: names.shrunk, of: known.filter(({ row }) => typeof row.shrunk === 'number') },
  ];
  /** @type {Set<number>} */
  const taken = new Set();
  return kinds.flatMap(({ words, of }) => {
    const free = of.filter(({ y }) => !taken.has(y)).map(({ row, y }) => ({ ...roomBeside(row, x, frame), y }));
    if (!words || !free.length) return [];
    const best = free.reduce((one, other) => (other.room > one.room ? other : one));
    if (best.room < words.length * LETTER * 0.875 * rem + 0.6 * rem) return [];
    taken.add(best.y);
    const at = best.right ? best.end + 0.6 * rem : best.end - 0.6 * rem;
    return [text(at, best.y + 0.3 * rem, words, best.right ? 'start' : 'end', 'direct')];
  });
}

/** The wider side of a row's marks, how much room it has, and where it begins. @param {WhiskerRow} row @param {import('./drawing.js').Scale} x @param {[number, number]} frame */
function roomBeside(row, x, frame) {
  const ends = [row.low, row.high, row.value, row.shrunk ?? row.value].map((value) => x(/** @type {number} */ (value)));
  const [left, right] = [Math.min(...ends), Math.max(...ends)];
  return frame[1] - right >= left - frame[0]
    ? { right: true, room: frame[1] - right, end: right }
    : { right: false, room: left - frame[0], end: left };
}

/** @param {WhiskerRow} row @param {import('./drawing.js').Scale} x @param {number} y @param {[number, number]} frame @param {number} rem */
function rowMarks(row, x, y, frame, rem) {
  if (row.value === null || row.low === null || row.high === null)
    return [text(frame[0], y + 0.33 * rem, row.few ?? TOO_FEW, 'start', 'few')];
  const colour = side(row);
  return [
    whisker(x(row.low), x(row.high), y, { at: x(row.value), frame, tone: colour }),
    dot(x(row.value), y, { open: !isClear(row), tone: colour }),
    row.shrunk === null || row.shrunk === undefined ? null : tickMark(x(row.shrunk), y),
  ].filter((mark) => mark !== null);
}

/**
 * @param {[number, number]} domain @param {import('./drawing.js').Scale} x
 * @param {{top: number, bottom: number, frame: [number, number], rem: number, words: Words}} at
 */
function axis(domain, x, { top, bottom, frame, rem, words }) {
  const wanted = Math.max(2, Math.floor((frame[1] - frame[0]) / (4.5 * rem)));
  const few = ticks(domain[0], domain[1], wanted);
  const { values, decimals } = few.values.length > 2 ? few : ticks(domain[0], domain[1], 2 * wanted); // one number is no scale
  const zero = x(0);
  const sides = [
    zero > words.left.length * LETTER * rem + 0.5 * rem
      ? text(zero - 0.5 * rem, 1.1 * rem, words.left, 'end', 'axis-words')
      : null,
    frame[1] + 1.2 * rem - zero > words.right.length * LETTER * rem + 0.5 * rem
      ? text(zero + 0.5 * rem, 1.1 * rem, words.right, 'start', 'axis-words')
      : null,
  ].filter((side) => side !== null);
  const lines = values.map((value) =>
    svg('path', {
      d: `M${x(value).toFixed(2)},${top - 0.2 * rem} V${bottom}`,
      class: value === 0 ? 'zero-line' : 'grid-line',
    }),
  );
  const numbers = values.map((value) =>
    text(x(value), bottom + 1.2 * rem, words.signed(value, decimals), 'middle', 'axis-number'),
  );
  return [...sides, ...lines, ...numbers, ...(words.zero ? zeroLabel(words.zero, zero, { bottom, frame, rem }) : [])];
}

/** What the zero line is, under its number. @param {string} words @param {number} zero @param {{bottom: number, frame: [number, number], rem: number}} at */
function zeroLabel(words, zero, { bottom, frame, rem }) {
  const half = (words.length * LETTER * 0.875 * rem) / 2;
  const middle = Math.min(Math.max(zero, frame[0] + half - rem), frame[1] - half + rem);
  return [text(middle, bottom + 2.3 * rem, words, 'middle', 'direct')];
}
