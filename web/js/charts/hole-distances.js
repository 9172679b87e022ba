/**
 * Distances on the drawing of a hole: arcs where they cross the line of play, what has to be carried, front, middle and back of
 * the green. The line of play goes from the ball to the aim, and from there to the pin.
 *
 * @typedef {import('../game/hole-maps.js').Point} Point
 * @typedef {import('./hole-drawing.js').Frame} Frame
 * @typedef {import('../views/lengths.js').Lengths} Lengths
 * @typedef {{left: number, top: number, right: number, bottom: number}} Box
 */
import { frontMiddleBack, greenOf } from '../game/greens.js';
import { toYards } from '../game/units.js';
import { place as rounded, svg, text } from './drawing.js';
import { aimPoint } from './plan-places.js';

const STEP = 50; // between arcs, in the reader's unit
const MOST_ARCS = 14;
const HALF_ARC_YD = 30;
export const WIDE = 0.6; // of a letter, as a share of its height; a wider serif than most, so that words stay in the frame
const BUSY = ['trees', 'water_hazard', 'lateral_water_hazard', 'out_of_bounds']; // words are rather put beside them
const CERTAIN = 0.99; // a hazard that so many balls carry, or stay short of, is no matter
const ACROSS = /** @type {Record<string, string>} */ ({ water: 'water', sand: 'sand', out_of_bounds: 'out' });

/**
 * Where the line of play is so far from the ball: on the line of aim as far as the aim, beyond it on the line from there to the
 * pin. Null where it never is so far. @param {Point} from @param {Point} aim @param {Point} pin @param {number} away yards @returns {Point|null}
 */
export function onLineOfPlay(from, aim, pin, away) {
  const reach = Math.hypot(aim[0] - from[0], aim[1] - from[1]);
  if (away <= reach)
    return [from[0] + ((aim[0] - from[0]) * away) / reach, from[1] + ((aim[1] - from[1]) * away) / reach];
  const [dx, dy] = [pin[0] - aim[0], pin[1] - aim[1]];
  const [ax, ay] = [aim[0] - from[0], aim[1] - from[1]];
  const a = dx * dx + dy * dy;
  const b = ax * dx + ay * dy;
  const c = reach * reach - away * away;
  const under = b * b - a * c;
  if (a === 0 || under < 0) return null;
  const share = (-b + Math.sqrt(under)) / a;
  return share >= 0 && share <= 1 ? [aim[0] + dx * share, aim[1] + dy * share] : null;
}

/** The hazards on the line that some balls may not carry and some may reach. @param {any} option @returns {{kind: string, from_yd: number, to_yd: number}[]} */
export function carriesThatMatter({ carries }) {
  return (carries ?? []).filter((/** @type {any} */ one) => one.over < CERTAIN && one.short < CERTAIN);
}

/** Front, middle and back from the aim, or from the ball where the shot is for the green; null without a green. @param {any} plan @param {any} option */
export function greenDistances(plan, option) {
  const green = greenOf(plan.features);
  if (!green) return null;
  const aim = aimPoint(plan, option);
  const fromAim = frontMiddleBack(green, aim);
  const fromBall = frontMiddleBack(green, plan.from);
  if (!fromBall) return null;
  const short = fromAim && option.reach_yd < fromBall.front - 5;
  return short ? { ...fromAim, of: 'aim', green } : { ...fromBall, of: 'ball', green };
}

/** The same in a sentence. @param {any} plan @param {any} option @param {Lengths} lengths @returns {string|null} */
export function greenWords(plan, option, lengths) {
  const found = greenDistances(plan, option);
  return found
    ? `Green from ${found.of === 'aim' ? 'the aim' : 'the ball'}: front ${lengths.number(found.front)}, middle ${lengths.number(found.middle)}, back ${lengths.words(found.back)}.`
    : null;
}

/**
 * All distances of a drawing; a label that would leave the frame or lie on another is left out.
 * @param {any} plan @param {any} option @param {Frame} frame @param {number} rem @param {Lengths} lengths
 * @param {Box[]} taken where words stand: its labels are added to them @returns {SVGElement}
 */
export function distances(plan, option, frame, rem, lengths, taken) {
  const [from, pin] = [plan.from, plan.pin];
  const aim = aimPoint(plan, option);
  const [aimX, aimY] = frame.place(...aim);
  taken.push({ left: aimX - 10, right: aimX + 10, top: aimY - 10, bottom: aimY + 10 });
  const reach = {
    left: aimX - 13,
    right: aimX + 13,
    y: aimY + 0.35 * rem,
    words: `aim ${lengths.words(option.reach_yd)}`,
  };
  const labels = [
    sided({ ...reach, tone: 'aim-words' }, frame, rem, taken),
    ...greenLabels(plan, option, frame, rem, lengths, taken),
  ];
  const ticks = [];
  for (const one of carriesThatMatter(option)) {
    const spot = onLineOfPlay(from, aim, pin, one.to_yd);
    if (!spot || !within(frame.place(...spot), frame)) continue;
    const [x, y] = frame.place(...spot);
    ticks.push(svg('path', { d: `M${rounded(x - 7)},${rounded(y)} h14`, class: 'carry-tick' }));
    const words = `${lengths.number(one.to_yd)} over ${ACROSS[one.kind]}`;
    const label = {
      left: x - 0.7 * rem,
      right: x + 0.7 * rem,
      y: y + 0.3 * rem,
      words,
      tone: 'carry-words',
      before: true,
    };
    labels.push(sided(label, frame, rem, taken));
  }
  const arcs = [];
  const step = toYards(STEP, lengths.unit);
  for (let number = 1; number <= MOST_ARCS; number += 1) {
    const spot = onLineOfPlay(from, aim, pin, number * step);
    if (!spot) break;
    arcs.push(arc(from, spot, number * step, frame));
    const [x, y] = frame.place(...spot);
    const label = {
      left: x - 0.35 * rem,
      right: x + 0.35 * rem,
      y: y - 0.25 * rem,
      words: `${number * STEP}`,
      tone: 'arc-words',
    };
    if (within([x, y], frame)) labels.push(sided(label, frame, rem, taken));
  }
  return svg('g', { class: 'distances' }, ...arcs, ...ticks, ...labels);
}

/** @param {[number, number]} spot @param {Frame} frame */
function within([x, y], { width, height }) {
  return x >= 0 && y >= 0 && x <= width && y <= height;
}

/** A part of a circle around the ball, across the line of play, within the frame. @param {Point} from @param {Point} spot @param {number} away @param {Frame} frame */
function arc(from, spot, away, frame) {
  const bearing = Math.atan2(spot[0] - from[0], spot[1] - from[1]);
  const half = Math.min(0.5, HALF_ARC_YD / away);
  const count = 24;
  let drawn = '';
  let pen = false;
  for (let step = 0; step <= count; step += 1) {
    const turn = bearing - half + (2 * half * step) / count;
    const at = frame.place(from[0] + Math.sin(turn) * away, from[1] + Math.cos(turn) * away);
    if (within(at, frame)) drawn += `${pen ? 'L' : 'M'}${at.map(rounded).join(',')}`;
    pen = within(at, frame);
  }
  return drawn ? svg('path', { d: drawn, class: 'arc' }) : null;
}

/**
 * A label on one side of its place, on the other where there is no room, or none.
 * @param {{left: number, right: number, y: number, words: string, tone: string, before?: boolean}} label it ends at `left` or begins at
 * `right`, rather at `left` with `before` @param {Frame} frame @param {number} rem @param {Box[]} taken it is added to them @returns {SVGElement|null}
 */
function sided({ left, right, y, words, tone, before = false }, frame, rem, taken) {
  const size = (tone === 'aim-words' ? 1.1 : 0.9) * rem;
  const wide = words.length * WIDE * size;
  const [top, bottom] = [y - 0.75 * size, y + 0.2 * size];
  const ways = /** @type {['start'|'end', number, Box][]} */ ([
    ['start', right, { left: right, right: right + wide, top, bottom }],
    ['end', left, { left: left - wide, right: left, top, bottom }],
  ]);
  if (before) ways.reverse();
  const free = ways.find(([, , box]) => fits(box, frame) && !taken.some((one) => overlap(one, box)));
  if (!free) return null;
  taken.push(free[2]);
  return text(free[1], y, words, free[0], tone);
}

/** @param {Box} box @param {Frame} frame */
export function fits({ left, right, top, bottom }, { width, height }) {
  return left >= 3 && top >= 3 && right <= width - 3 && bottom <= height - 3;
}

/** @param {Box} a @param {Box} b */
export function overlap(a, b) {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

/** Back, middle and front under each other beside the green. @param {any} plan @param {any} option @param {Frame} frame @param {number} rem @param {Lengths} lengths @param {Box[]} taken */
function greenLabels(plan, option, frame, rem, lengths, taken) {
  const found = greenDistances(plan, option);
  if (!found) return [];
  const ring = /** @type {any} */ ({ geometry: { coordinates: [found.green.ring] } });
  const box = boxOf(ring, frame);
  const { left, right } = box;
  const middle = (box.top + box.bottom) / 2;
  taken.push(box);
  const rows = /** @type {[string, number][]} */ ([
    ['back', found.back],
    ['middle', found.middle],
    ['front', found.front],
  ]);
  const beside = { left: right + 8, right: right + 6 * rem, top: middle - 1.5 * rem, bottom: middle + 1.5 * rem };
  const before = plan.features.some(
    (/** @type {any} */ one) => BUSY.includes(one.properties.golf) && overlap(boxOf(one, frame), beside),
  );
  return rows.map(([name, yards], row) => {
    const y = middle + (row - 0.7) * 1.05 * rem;
    const words = `${name} ${lengths.number(yards)}`;
    return sided({ left: left - 8, right: right + 8, y, words, tone: 'green-words', before }, frame, rem, taken);
  });
}

/** @param {import('../game/hole-maps.js').Feature} feature @param {Frame} frame @returns {Box} */
export function boxOf(feature, frame) {
  const spots = feature.geometry.coordinates[0].map(([x, y]) => frame.place(x, y));
  const [xs, ys] = [spots.map(([x]) => x), spots.map(([, y]) => y)];
  return { left: Math.min(...xs), right: Math.max(...xs), top: Math.min(...ys), bottom: Math.max(...ys) };
}
