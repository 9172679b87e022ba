/**
 * One row a group: its middle, its middle half as a box, its tenth to ninetieth as a whisker; between two rows, where something
 * stands out, a bracket that says so.
 *
 * @typedef {object} BoxRow
 * @property {string} label @property {string} aside such as the count in words @property {number} [count] drawn as a tally where it is small
 * @property {number|null} middle @property {[number, number]|null} box @property {[number, number]|null} whisker
 * @property {string|null} [few] shown in place of the marks where there is not even a middle
 * @property {{from: number, to: number, words: string}|null} [after] what is between this row and the next
 *
 * @typedef {{title: string, description: string, left: string, right: string, number: (value: number, decimals: number) => string, holds?: number[], zero?: string, marks?: MarkNames}} BoxWords
 * `holds`: values that the axis must reach; `zero`: what its zero line is; `marks`: what the marks are, written at those of one row
 * @typedef {{middle?: string, box?: string, whisker?: string|[string, string]}} MarkNames `whisker`: of the stroke, or of its two ends
 */
import { extent, linearScale, picture, svg, text, ticks, whisker } from './drawing.js';
import { LETTER, labelsOf, rowLabel } from './row-labels.js';
import { TOO_FEW } from './whisker-chart.js';

const LABEL_SHARE = 0.45; // of the width, at most, for labels beside the rows
const NAME = 1.45; // rem: a line of names
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
  const named = namedRow(rows, words.marks, x, [0, width], rem);
  const top = 1.7 * rem;
  let bottom = top;
  const marks = rows.map((row) => {
    const names = row === named?.row ? named : null;
    const over = names?.over ? NAME * rem : 0;
    const middle = bottom + labels.above + over + markHeight / 2;
    bottom += labels.above + over + markHeight + (names?.under.length ? NAME * rem : 0);
    const between = row.after ? bracket(row.after, x, bottom + 0.75 * rem, frame, rem) : [];
    if (row.after) bottom += 1.5 * rem;
    return svg(
      'g',
      { class: 'row-marks' },
      ...rowLabel(row, labels.narrow ? middle - over : middle, markHeight / 2, labels),
      ...rowMarks(row, x, middle, markHeight, frame[0], rem),
      ...(names ? markNames(names, middle, markHeight, rem) : []),
      ...between,
    );
  });
  const keys = words.marks && !named ? keyLines(words.marks, width / (LETTER * 0.875 * rem)) : [];
  const end = bottom + (words.zero ? 2.8 : 1.8) * rem;
  return picture(
    { width, height: end + NAME * keys.length * rem, title: words.title, description: words.description, id },
    ...axis(domain, x, { top, bottom, frame, rem, words }),
    ...marks,
    ...keys.map((line, place) => text(0, end + (0.8 + NAME * place) * rem, line, 'start', 'direct')),
  );
}

/**
 * The row whose marks are named: the one with the longest stroke, and where each name goes; null where they find no room.
 * @typedef {{at: number, half: number, x: number, words: string}} Name `at`: of its mark; `x`: its own middle
 * @param {BoxRow[]} rows @param {MarkNames|undefined} marks @param {import('./drawing.js').Scale} x @param {[number, number]} room @param {number} rem
 * @returns {{row: BoxRow, over: Name|null, under: Name[]}|null}
 */
function namedRow(rows, marks, x, room, rem) {
  const long = (/** @type {BoxRow} */ { whisker: ends }) => (ends ? Math.abs(x(ends[1]) - x(ends[0])) : 0);
  const fit = rows.filter((row) => row.middle !== null && row.whisker && (row.box || !marks?.box));
  if (!marks || !fit.length) return null;
  const row = fit.reduce((best, other) => (long(other) > long(best) ? other : best));
  const [low, high] = /** @type {[number, number]} */ (row.whisker);
  const name = (/** @type {number} */ at, /** @type {string|undefined} */ words) =>
    words ? [{ at, half: (words.length * LETTER * 0.875 * rem) / 2, x: at, words }] : [];
  const ends = Array.isArray(marks.whisker) ? marks.whisker : null;
  const box = row.box ? name(x((row.box[0] + row.box[1]) / 2), marks.box) : [];
  const under = ends
    ? [...name(x(low), ends[0]), ...box, ...name(x(high), ends[1])]
    : [...box, ...name(x((low + high) / 2), /** @type {string|undefined} */ (marks.whisker))];
  const over = name(x(/** @type {number} */ (row.middle)), marks.middle);
  return apart(under, room, 0.5 * rem) && apart(over, room, 0) ? { row, over: over[0] ?? null, under } : null;
}

/** Moves names off each other and into the room; false where it is too small for them. @param {Name[]} names from left to right @param {[number, number]} room @param {number} gap */
function apart(names, [from, to], gap) {
  let free = from;
  for (const one of names) {
    one.x = Math.max(one.x, free + one.half);
    free = one.x + one.half + gap;
  }
  free = to;
  for (const one of [...names].reverse()) {
    one.x = Math.min(one.x, free - one.half);
    free = one.x - one.half - gap;
  }
  return names.every((one) => one.x - one.half >= from);
}

/** The names at their marks, each with a line to it. @param {{over: Name|null, under: Name[]}} names @param {number} y @param {number} height @param {number} rem */
function markNames({ over, under }, y, height, rem) {
  const half = BOX * height;
  const put = (
    /** @type {Name} */ one,
    /** @type {number} */ base,
    /** @type {number} */ from,
    /** @type {number} */ to,
  ) => [
    svg('path', {
      d: `M${one.at.toFixed(2)},${from.toFixed(2)} L${(one.x + (one.at - one.x) * 0.6).toFixed(2)},${to.toFixed(2)}`,
      class: 'leader',
    }),
    text(one.x, base, one.words, 'middle', 'direct'),
  ];
  const low = y + half + 0.2 * rem;
  const top = y - half - 0.15 * rem;
  return [
    ...(over ? put(over, top - 0.5 * rem, top, top - 0.35 * rem) : []),
    ...under.flatMap((one) =>
      put(
        one,
        low + 1.2 * rem,
        one.at === under[0].at || one.at === under[under.length - 1].at ? y + 0.2 * rem : low,
        low + 0.4 * rem,
      ),
    ),
  ];
}

/** The same in lines, where there is no room at the marks. @param {MarkNames} marks @param {number} letters that a line has room for @returns {string[]} */
function keyLines({ middle, box, whisker: stroke }, letters) {
  const ends = Array.isArray(stroke) ? `${stroke[0]} to ${stroke[1]}` : stroke;
  return [middle && `upright: ${middle}`, box && `box: ${box}`, ends && `stroke: ${ends}`]
    .filter((line) => line !== undefined)
    .flatMap((line) => inLines(line, letters));
}

/** Words in lines of so many letters; a longer word has a line to itself. @param {string} words @param {number} letters @returns {string[]} */
function inLines(words, letters) {
  /** @type {string[]} */
  const lines = [];
  for (const word of words.split(' ')) {
    const longer = `${lines[lines.length - 1]} ${word}`;
    if (lines.length && longer.length <= letters) lines[lines.length - 1] = longer;
    else lines.push(word);
  }
  return lines;
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
  const named =
    words.zero && domain[0] <= 0 && domain[1] >= 0
      ? [text(x(0), bottom + 2.3 * rem, words.zero, 'middle', 'direct')]
      : [];
  return [...ends, ...lines, ...numbers, ...named];
}
