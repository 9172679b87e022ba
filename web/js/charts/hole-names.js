/**
 * Names on the drawing of a plan, beside what they name: each kind of ground once, each kind of landing once, where they cover the
 * fewest balls. What finds no room stays without; the sentence under the drawing has its marks too.
 *
 * @typedef {import('./hole-drawing.js').Frame} Frame
 * @typedef {import('./hole-distances.js').Box} Box
 * @typedef {{x: number, y: number, kind: 'good'|'other'|'trouble', end: string}} Mark a landing, in pixels
 * @typedef {{x: number, y: number, anchor: 'start'|'middle'|'end', of?: {x: number, y: number}, far?: number}} Place `of`: what it stands off, `far` rem away
 */
import { place as rounded, svg, text } from './drawing.js';
import { KIND_WORDS } from './hole-drawing.js';
import { WIDE, boxOf as shapeBox, fits, overlap } from './hole-distances.js';

const SIZE = 0.875; // rem
const MOST = 14; // landings of a kind that a name is tried beside
const HEIGHTS = 9; // of a shape, at which its name is tried
const MARKED = ['bunker', 'water_hazard', 'lateral_water_hazard']; // the name of a landing is rather not written over them
const OVER = 4; // balls that this is worth
const UNNAMED = ['tee', 'rough', 'green']; // the green has its distances beside it

/**
 * @param {any} plan @param {Mark[]} marks @param {Frame} frame @param {number} rem @param {Box[]} taken it is added to them
 * @returns {SVGElement[]}
 */
export function names(plan, marks, frame, rem, taken) {
  const inside = marks.filter(({ x, y }) => x >= 0 && y >= 0 && x <= frame.width && y <= frame.height);
  const marked = plan.features
    .filter((/** @type {any} */ one) => MARKED.includes(one.properties.golf))
    .map((/** @type {any} */ one) => shapeBox(one, frame));
  const put = (/** @type {string} */ words, /** @type {Place[]} */ places, /** @type {string} */ tone) => {
    const free = places
      .map((place) => ({ place, box: boxOf(words, place, rem) }))
      .filter(({ box }) => fits(box, frame) && !taken.some((one) => overlap(one, box)))
      .map((one) => ({
        ...one,
        covered:
          (one.place.far ?? 0) +
          inside.filter((mark) => holds(one.box, mark)).length +
          (tone === 'mark-words'
            ? OVER * marked.filter((/** @type {Box} */ shape) => overlap(shape, one.box)).length
            : 0),
      }));
    if (!free.length) return [];
    const best = free.reduce((one, other) => (other.covered < one.covered ? other : one));
    taken.push(best.box);
    return [leader(best.place, rem), text(best.place.x, best.place.y, words, best.place.anchor, tone)];
  };
  const kinds = /** @type {Mark['kind'][]} */ (['trouble', 'other', 'good']);
  const landings = kinds.flatMap((kind) => {
    const of = inside.filter((mark) => mark.kind === kind);
    return of.length ? put(landingWords(kind, of), besides(of, rem), 'mark-words') : [];
  });
  const grounds = [...new Set(plan.features.map((/** @type {any} */ one) => one.properties.golf))]
    .filter((kind) => !UNNAMED.includes(kind))
    .flatMap((kind) => put(KIND_WORDS[kind], within(plan.features, kind, frame, rem), 'ground-words'));
  return [...landings, ...grounds].filter((one) => one !== null);
}

/** @param {Mark['kind']} kind @param {Mark[]} marks @returns {string} */
function landingWords(kind, marks) {
  if (kind !== 'good') return kind === 'other' ? 'in the rough' : 'in trouble';
  const ends = new Set(marks.map((one) => one.end));
  return ends.size > 1 ? 'fairway or green' : `on the ${[...ends][0]}`;
}

/** Off the outermost landings, near ones first: to both sides, level with them, above and below. @param {Mark[]} marks @param {number} rem @returns {Place[]} */
function besides(marks, rem) {
  const middle = marks.reduce((sum, one) => sum + one.x, 0) / marks.length;
  return [...marks]
    .sort((a, b) => Math.abs(b.x - middle) - Math.abs(a.x - middle))
    .slice(0, MOST)
    .flatMap((of) =>
      [0.5, 1.5, 3].flatMap((aside) =>
        [0, -1.1, 1.1, -2.2, 2.2].flatMap((down) =>
          (of.x < middle ? [-1, 1] : [1, -1]).map((side) => ({
            x: of.x + side * aside * rem,
            y: of.y + (0.28 + down) * rem,
            anchor: /** @type {'start'|'end'} */ (side > 0 ? 'start' : 'end'),
            of,
            far: aside + Math.abs(down) - 0.5,
          })),
        ),
      ),
    );
}

/** From a name that stands off to its mark. @param {Place} place @param {number} rem */
function leader({ x, y, anchor, of, far }, rem) {
  if (!of || !far) return null;
  const from = `${rounded(x + (anchor === 'start' ? -2 : 2))},${rounded(y - 0.28 * rem)}`;
  return svg('path', { d: `M${from} L${rounded(of.x)},${rounded(of.y)}`, class: 'name-line' });
}

/** In the middle of a shape of a kind, at several heights, the widest first. @param {any[]} features @param {string} kind @param {Frame} frame @param {number} rem @returns {Place[]} */
function within(features, kind, frame, rem) {
  const found = features
    .filter((one) => one.properties.golf === kind)
    .flatMap((one) => {
      const ring = /** @type {[number, number][]} */ (one.geometry.coordinates[0]).map(([x, y]) => frame.place(x, y));
      const ys = ring.map(([, y]) => y);
      const [top, bottom] = [Math.max(0, Math.min(...ys)), Math.min(frame.height, Math.max(...ys))];
      return Array.from({ length: HEIGHTS }, (_, place) => top + ((place + 0.5) / HEIGHTS) * (bottom - top)).flatMap(
        (y) => stretches(ring, y, frame.width).map(([from, to]) => ({ x: (from + to) / 2, y, wide: to - from })),
      );
    });
  return found
    .sort((a, b) => b.wide - a.wide)
    .flatMap(({ x, y, wide }) => [
      { x, y: y + 0.3 * rem, anchor: /** @type {const} */ ('middle') },
      { x: x + wide / 2 + 0.3 * rem, y: y + 0.3 * rem, anchor: /** @type {const} */ ('start') },
      { x: x - wide / 2 - 0.3 * rem, y: y + 0.3 * rem, anchor: /** @type {const} */ ('end') },
    ]);
}

/** Where a height lies inside a ring, cut to the frame. @param {[number, number][]} ring @param {number} y @param {number} width @returns {[number, number][]} */
function stretches(ring, y, width) {
  const crossings = ring
    .slice(1)
    .flatMap(([x2, y2], place) => {
      const [x1, y1] = ring[place];
      return y1 > y !== y2 > y ? [x1 + ((y - y1) / (y2 - y1)) * (x2 - x1)] : [];
    })
    .sort((a, b) => a - b);
  return crossings.flatMap((x, place) => {
    const [from, to] = [Math.max(0, x), Math.min(width, crossings[place + 1] ?? x)];
    return place % 2 === 0 && to > from ? [/** @type {[number, number]} */ ([from, to])] : [];
  });
}

/** @param {string} words @param {Place} place @param {number} rem @returns {Box} */
function boxOf(words, { x, y, anchor }, rem) {
  const wide = words.length * WIDE * SIZE * rem;
  const left = x - { start: 0, middle: wide / 2, end: wide }[anchor];
  return { left, right: left + wide, top: y - 0.75 * SIZE * rem, bottom: y + 0.25 * SIZE * rem };
}

/** @param {Box} box @param {Mark} mark */
function holds({ left, right, top, bottom }, { x, y }) {
  return x > left - 3 && x < right + 3 && y > top - 3 && y < bottom + 3;
}
