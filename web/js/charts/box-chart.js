/**
 * One row a group: its middle, its middle half as a box, its tenth to ninetieth as a whisker; between two rows, where something
 * stands out, a bracket that says so.
 *
 * @typedef {object} BoxRow
 * @property {string} label @property {string} aside such as the count
 * @property {number|null} middle @property {[number, number]|null} box @property {[number, number]|null} whisker
 * @property {string|null} [few] said in place of the marks where there is not even a middle
 * @property {{from: number, to: number, words: string}|null} [after] what stands between this row and the next
 *
 * @typedef {{title: string, description: string, left: string, right: string, number: (value: number, decimals: number) => string, holds?: number[]}} BoxWords
 * `holds`: values that the axis must reach
 */
import { extent, linearScale, picture, svg, text, ticks, whisker } from './drawing.js';
import { LETTER, labelsOf, rowLabel } from './row-labels.js';
import { TOO_FEW } from './whisker-chart.js';

const LABEL_SHARE = 0.45; // of the width, at most, for labels beside the rows
const BOX = 0.36; // of the row: half the height of the box

/** @param {BoxRow[]} rows @param {BoxWords} words @param {import('./whisker-chart.js').Room} room @returns {SVGElement} */
export function boxChart(rows, words, { width, rem, id }) {
  const labels = labelsOf(rows, LABEL_SHARE, { width, rem });
  const edge = edgeOf(rem);
  /** @type {[number, number]} */
  const frame = [labels.gutter + edge, width - edge];
  const domain = extent(
    [...(words.holds ?? []), ...rows.flatMap((row) => [row.middle, ...(row.box ?? []), ...(row.whisker ?? [])])],
    { room: 0.03 },
  );
  const x = linearScale(domain, frame);
  const markHeight = Math.max(24, 1.5 * rem);
  const rowHeight = labels.above + markHeight;
  const top = 1.7 * rem;
  let bottom = top;
  const marks = rows.map((row) => {
    const middle = bottom + labels.above + markHeight / 2;
    bottom += rowHeight;
    const between = row.after ? bracket(row.after, x, bottom + 0.75 * rem, frame, rem) : [];
    if (row.after) bottom += 1.5 * rem;
    return svg(
      'g',
      { class: 'row-marks' },
      rowLabel(row, middle, markHeight / 2, labels),
      ...rowMarks(row, x, middle, markHeight, frame[0], rem),
      ...between,
    );
  });
  return picture(
    { width, height: bottom + 1.8 * rem, title: words.title, description: words.description, id },
    ...axis(domain, x, { top, bottom, frame, rem, words }),
    ...marks,
  );
}

/** Room beside the frame: half an axis number stands out beyond it. @param {number} rem */
function edgeOf(rem) {
  return 1.6 * rem;
}

/** @param {BoxRow} row @param {import('./drawing.js').Scale} x @param {number} y @param {number} height @param {number} left @param {number} rem */
function rowMarks(row, x, y, height, left, rem) {
  if (row.middle === null) return [text(left, y + 0.33 * rem, row.few ?? TOO_FEW, 'start', 'few')];
  const half = BOX * height;
  return [
    row.whisker ? whisker(x(row.whisker[0]), x(row.whisker[1]), y) : null,
    row.box
      ? svg('rect', {
          x: x(row.box[0]),
          y: y - half,
          width: Math.max(1, x(row.box[1]) - x(row.box[0])),
          height: 2 * half,
          class: 'box-mark',
        })
      : null,
    svg('path', {
      d: `M${x(row.middle).toFixed(2)},${(y - half - 0.1 * rem).toFixed(2)} V${(y + half + 0.1 * rem).toFixed(2)}`,
      class: 'tick-mark',
    }),
  ].filter((mark) => mark !== null);
}

/** A bracket with its words beside it, on the side that has more room. @param {{from: number, to: number, words: string}} after @param {import('./drawing.js').Scale} x @param {number} y @param {[number, number]} frame @param {number} rem */
function bracket({ from, to, words }, x, y, frame, rem) {
  const [left, right] = [x(Math.min(from, to)), x(Math.max(from, to))];
  const onLeft = left - frame[0] > frame[1] - right;
  const long = words.length * LETTER * 0.95 * rem; // what it may need at the most; it never leaves the picture
  return [
    svg('path', {
      d: `M${left.toFixed(2)},${(y - 4).toFixed(2)} v8 m0,-4 H${right.toFixed(2)} m0,-4 v8`,
      class: 'bracket',
    }),
    text(
      onLeft ? Math.max(left - 0.5 * rem, long) : Math.min(right + 0.5 * rem, frame[1] + edgeOf(rem) - long),
      y + 0.3 * rem,
      words,
      onLeft ? 'end' : 'start',
      'flag',
    ),
  ];
}

/**
 * @param {[number, number]} domain @param {import('./drawing.js').Scale} x
 * @param {{top: number, bottom: number, frame: [number, number], rem: number, words: BoxWords}} at
 */
function axis(domain, x, { top, bottom, frame, rem, words }) {
  const wanted = Math.max(2, Math.floor((frame[1] - frame[0]) / (3.4 * rem)));
  const { values, decimals } = ticks(domain[0], domain[1], wanted);
  const lines = values.map((value) =>
    svg('path', {
      d: `M${x(value).toFixed(2)},${(top - 0.2 * rem).toFixed(2)} V${bottom.toFixed(2)}`,
      class: value === 0 ? 'zero-line' : 'grid-line',
    }),
  );
  const numbers = values.map((value) =>
    text(x(value), bottom + 1.2 * rem, words.number(value, decimals), 'middle', 'axis-number'),
  );
  const fits = (words.left.length + words.right.length + 2) * LETTER * rem * 0.9 < frame[1] - frame[0];
  const ends = [
    text(frame[0], 1.1 * rem, words.left, 'start', 'axis-words'),
    fits ? text(frame[1], 1.1 * rem, words.right, 'end', 'axis-words') : null,
  ].filter((end) => end !== null);
  return [...ends, ...lines, ...numbers];
}
