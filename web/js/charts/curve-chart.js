/**
 * Curves with bands, and dots where something was counted, over one axis: make rates by length, strokes gained by round.
 *
 * @typedef {{x: number, y: number|null, low: number|null, high: number|null}} CurvePoint
 * @typedef {{x: number, y: number, low?: number|null, high?: number|null, count?: number}} Dot
 * @typedef {{curve: CurvePoint[], dots: Dot[], shape?: import('./drawing.js').Shape, tone: string, steps?: {x: number, y: number|null}[], label?: string, dotLabel?: string}} Series
 * `steps`: the line, where it is not through the points of the curve; `label`, `dotLabel`: what the curve and a dot are, written beside them
 * @typedef {{title: string, description: string, x: string, y: string}} Words
 * @typedef {{domain: [number, number], wanted?: number, marks?: {value: number, words: string}[], words: (value: number, decimals: number) => string, zero?: boolean, zeroLabel?: string}} Axis
 */
import { band, dot, line, linearScale, picture, standingWhisker, svg, text, ticks } from './drawing.js';
import { cut } from './row-labels.js';

const HEIGHT_SHARE = 0.6; // of the width
const LETTER = 0.55; // of the text size

/**
 * @param {Series[]} series @param {Axis} across @param {Axis} up @param {Words} words
 * @param {import('./whisker-chart.js').Room} room @returns {SVGElement}
 */
export function curveChart(series, across, up, words, { width, rem, id }) {
  const height = Math.max(13 * rem, Math.min(width * HEIGHT_SHARE, 22 * rem)) + 1.5 * rem;
  const upMarks = marksOf(up, Math.max(3, Math.floor((height - 5 * rem) / (3 * rem))));
  const gutter = Math.max(...upMarks.map((mark) => mark.words.length), 1) * LETTER * rem + 0.6 * rem;
  const frame = { left: gutter, right: width - 0.8 * rem, top: 1.9 * rem, bottom: height - 3.1 * rem };
  const x = linearScale(across.domain, [frame.left, frame.right]);
  const y = linearScale(up.domain, [frame.bottom, frame.top]);
  const acrossMarks = thinned(marksOf(across, Math.max(2, Math.floor((frame.right - frame.left) / (4 * rem)))), x, rem);
  return picture(
    { width, height, title: words.title, description: words.description, id },
    text(0, 1.1 * rem, cut(words.y, width / (LETTER * rem)), 'start', 'axis-words'),
    text((frame.left + frame.right) / 2, height - 0.4 * rem, words.x, 'middle', 'axis-words'),
    ...upMarks.map((mark) =>
      svg('path', {
        d: `M${frame.left},${y(mark.value).toFixed(2)} H${frame.right}`,
        class: up.zero && mark.value === 0 ? 'zero-line' : 'grid-line',
      }),
    ),
    ...upMarks.map((mark) => text(frame.left - 0.4 * rem, y(mark.value) + 0.3 * rem, mark.words, 'end', 'axis-number')),
    ...acrossMarks.map((mark) =>
      svg('path', { d: `M${x(mark.value).toFixed(2)},${frame.bottom} v5`, class: 'grid-line' }),
    ),
    ...acrossMarks.map((mark) => text(x(mark.value), frame.bottom + 1.3 * rem, mark.words, 'middle', 'axis-number')),
    ...series.flatMap((one) => bandAndCurve(one, x, y)),
    ...series.flatMap((one) => dots(one, x, y)),
    ...directLabels(series, up, x, y, frame, rem),
  );
}

/** @param {Axis} axis @param {number} wanted */
function marksOf(axis, wanted) {
  if (axis.marks) return axis.marks;
  const { values, decimals } = ticks(axis.domain[0], axis.domain[1], axis.wanted ?? wanted);
  return values.map((value) => ({ value, words: axis.words(value, decimals) }));
}

/** Leaves out marks whose words would touch the one before. @param {{value: number, words: string}[]} marks @param {(value: number) => number} x @param {number} rem */
function thinned(marks, x, rem) {
  let end = -Infinity;
  return marks.filter((mark) => {
    const half = (mark.words.length * LETTER * rem) / 2;
    if (x(mark.value) - half < end + 0.4 * rem) return false;
    end = x(mark.value) + half;
    return true;
  });
}

/** @param {Series} series @param {(v: number) => number} x @param {(v: number) => number} y */
function bandAndCurve({ curve, steps, tone }, x, y) {
  const place = (/** @type {number|null} */ value) => (value === null ? null : y(value));
  return [
    band(
      curve.map((point) => ({ x: x(point.x), low: place(point.low), high: place(point.high) })),
      tone,
    ),
    line(
      (steps ?? curve).map((point) => ({ x: x(point.x), y: place(point.y) })),
      tone,
    ),
  ].filter((mark) => mark !== null);
}

/** Dots; larger where more was counted. @param {Series} series @param {(v: number) => number} x @param {(v: number) => number} y */
function dots({ dots: given, shape, tone }, x, y) {
  const most = Math.max(1, ...given.map((one) => one.count ?? 1));
  return given.flatMap((one) => {
    const radius = one.count === undefined ? 3.5 : 3 + 5 * Math.sqrt(one.count / most);
    const reach =
      Number.isFinite(one.low) && Number.isFinite(one.high)
        ? standingWhisker(x(one.x), y(/** @type {number} */ (one.high)), y(/** @type {number} */ (one.low)), { tone })
        : null;
    return [reach, dot(x(one.x), y(one.y), { shape, radius, open: true, tone })].filter((mark) => mark !== null);
  });
}

/**
 * What each curve, a dot and the zero line are, written beside them: each where it is farthest from what is drawn and written
 * already. @param {Series[]} series @param {Axis} up @param {(v: number) => number} x @param {(v: number) => number} y
 * @param {{left: number, right: number, top: number, bottom: number}} frame @param {number} rem
 */
function directLabels(series, up, x, y, frame, rem) {
  const drawn = series.flatMap((one) => [
    ...(one.steps ?? one.curve).flatMap((point) => (point.y === null ? [] : [[x(point.x), y(point.y)]])),
    ...one.dots.map((point) => [x(point.x), y(point.y)]),
  ]);
  /** @type {number[][]} */
  const written = [];
  const crowd = (/** @type {number[]} */ at, /** @type {number} */ half) =>
    [...drawn, ...written].filter(([px, py]) => Math.abs(px - at[0]) < half && Math.abs(py - at[1]) < 0.7 * rem)
      .length +
    10 * written.filter(([px, py]) => Math.abs(px - at[0]) < 2 * half && Math.abs(py - at[1]) < 1.2 * rem).length;
  const write = (/** @type {string} */ words, /** @type {number[][]} */ beside) => {
    const half = (words.length * LETTER * 0.875 * rem) / 2;
    const places = beside
      .flatMap(([px, py]) => [1, -1].map((side) => [px, py - side * 0.9 * rem]))
      .map(([px, py]) => [Math.min(Math.max(px, frame.left + half), frame.right - half), py])
      .filter(([, py]) => py > frame.top + 0.5 * rem && py < frame.bottom - 0.5 * rem);
    if (!places.length || 2 * half > frame.right - frame.left) return [];
    const best = places.reduce((one, other) => (crowd(other, half) < crowd(one, half) ? other : one));
    written.push(best);
    return [text(best[0], best[1] + 0.3 * rem, words, 'middle', 'direct')];
  };
  const points = (/** @type {{x: number, y: number|null}[]} */ given) =>
    given.flatMap((point) => (point.y === null ? [] : [[x(point.x), y(point.y)]]));
  const zero = up.zeroLabel
    ? write(
        up.zeroLabel,
        [0.9, 0.5, 0.1].map((share) => [frame.left + share * (frame.right - frame.left), y(0)]),
      )
    : [];
  return [
    ...zero,
    ...series.flatMap((one) => [
      ...(one.label ? write(one.label, points(one.steps ?? one.curve)) : []),
      ...(one.dotLabel ? write(one.dotLabel, points(one.dots)) : []),
    ]),
  ];
}
