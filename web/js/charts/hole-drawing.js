/**
 * A hole drawn to scale from its polygons, standing (the tee below, the green above) or lying (the tee left, the green right).
 *
 * @typedef {import('../game/hole-maps.js').Feature} Feature
 * @typedef {[number, number, number, number]} Window left, near, right, far in yards
 * @typedef {{width: number, height: number, scale: number, place: (x: number, y: number) => [number, number], window: Window}} Frame
 * `scale`: pixels a yard
 */
import { PAINTED, boundsOf } from '../game/hole-maps.js';
import { place as rounded, svg } from './drawing.js';
import { crowns, dots, exact, outline, rows, seeded, strokes, tufts, waves } from './ink.js';

export const KIND_WORDS = /** @type {Record<string, string>} */ ({
  tee: 'tee',
  fairway: 'fairway',
  green: 'green',
  bunker: 'bunker',
  rough: 'rough',
  trees: 'trees',
  water_hazard: 'yellow water',
  lateral_water_hazard: 'red water',
  out_of_bounds: 'out of bounds',
});
const FROM_PLAY = 0.5; // radians between the mowing lines and the line of play
const HATCH = -Math.PI / 4;
const CROWN_YD = 13; // a tree across
const [LEAST_CROWN, MOST_CROWN] = [8, 24]; // pixels

/**
 * What a drawing of the full hole shows: tee to green with some room, and so far aside as a ball is found.
 * @param {Feature[]} features @param {{aside?: number, before?: number, behind?: number}} [room] yards @returns {Window}
 */
export function wholeHole(features, { aside = 60, before = 15, behind = 35 } = {}) {
  const played = features.filter((one) => ['tee', 'fairway', 'green'].includes(one.properties.golf));
  const [left, near, right, far] = boundsOf(played);
  const middle = (left + right) / 2;
  const half = Math.max(aside, (right - left) / 2 + 25);
  return [middle - half, Math.min(near, 0) - before, middle + half, far + behind];
}

/** The tee below. @param {Window} window @param {number} width @param {number} most height in pixels @returns {Frame} */
export function standing(window, width, most) {
  const [left, near, right, far] = window;
  const scale = Math.min(width / (right - left), most / (far - near));
  const aside = (width - (right - left) * scale) / 2;
  return {
    width,
    height: (far - near) * scale,
    scale,
    window: [left - aside / scale, near, right + aside / scale, far],
    place: (x, y) => [aside + (x - left) * scale, (far - y) * scale],
  };
}

/** The tee left; what lies left of the hole is above. @param {Window} window @param {number} width @param {number} most height @returns {Frame} */
export function lying(window, width, most) {
  const [left, near, right, far] = window;
  const scale = width / (far - near);
  const height = Math.min((right - left) * scale, most);
  const middle = (left + right) / 2;
  const half = height / scale / 2;
  return {
    width,
    height,
    scale,
    window: [middle - half, near, middle + half, far],
    place: (x, y) => [(y - near) * scale, height / 2 + (x - middle) * scale],
  };
}

/**
 * The ground of a hole in ink, cut to the frame: every shape covers what lies under it, and has its own marks and outline.
 * @param {Feature[]} features @param {Frame} frame @param {string} id of the picture @param {{small?: boolean}} [more] `small`: without the marks of rough
 */
export function ground(features, frame, id, { small = false } = {}) {
  const { width, height } = frame;
  const clip = svg('clipPath', { id: `${id}-clip` }, svg('rect', { width, height }));
  const ordered = [...features].sort((a, b) => PAINTED.indexOf(a.properties.golf) - PAINTED.indexOf(b.properties.golf));
  /** @type {import('./ink.js').Spot[]} */
  const sheet = [
    [0, 0],
    [width, 0],
    [width, height],
    [0, height],
    [0, 0],
  ];
  const random = seeded(JSON.stringify(features.map((one) => one.geometry.coordinates[0][0])));
  const grass = small ? null : inked(tufts(rows([sheet], 0, 21, frame), random, 34), 'ink-mark mark-rough');
  return svg(
    'g',
    { class: 'ground' },
    svg('defs', null, clip),
    svg(
      'g',
      { 'clip-path': `url(#${id}-clip)` },
      svg('rect', { width, height, class: 'ground-paper' }),
      grass,
      ...ordered.flatMap((one) => sketched(one, frame)),
    ),
    inked(
      outline(
        sheet.map(([x, y]) => [x ? x - 1.5 : 1.5, y ? y - 1.5 : 1.5]),
        random,
        0.4,
      ),
      'frame-line',
    ),
  );
}

/** A shape: the paper that it covers, its marks, its outline. @param {Feature} feature @param {Frame} frame @returns {(SVGElement|null)[]} */
function sketched(feature, frame) {
  const kind = feature.properties.golf;
  if (kind === 'rough') return [];
  const rings = feature.geometry.coordinates.map((ring) => ring.map(([x, y]) => frame.place(x, y)));
  const random = seeded(JSON.stringify(feature.geometry.coordinates[0].slice(0, 4)));
  return [
    svg('path', { d: exact(rings), 'fill-rule': 'evenodd', class: `ground-paper edge-${kind}` }),
    inked(MARKS[kind]?.(rings, frame, random) ?? '', `ink-mark mark-${kind}`),
    inked(
      kind === 'tee' ? exact(rings) : rings.map((ring) => outline(ring, random)).join(' '),
      `ink-line line-${kind}`,
    ), // a tee is small, and keeps its corners
  ];
}

/** @param {string} d @param {string} classes */
function inked(d, classes) {
  return d ? svg('path', { d, class: classes }) : null;
}

/** The direction of play on the sheet, radians. @param {Frame} frame @returns {number} */
function ofPlay({ place }) {
  const [[x, y], [toX, toY]] = [place(0, 0), place(0, 1)];
  return Math.atan2(toY - y, toX - x);
}

/** @typedef {import('./ink.js').Spot} Spot */
/** What fills a kind of ground. @type {Record<string, (rings: Spot[][], frame: Frame, random: () => number) => string>} */
const MARKS = {
  fairway: (rings, frame, random) => strokes(rows(rings, ofPlay(frame) + FROM_PLAY, 7, frame), random, 2.5),
  bunker: (rings, frame, random) => dots(rows(rings, 0, 3.2, frame), random, 3.4),
  trees: (rings, frame, random) => {
    const size = Math.min(MOST_CROWN, Math.max(LEAST_CROWN, CROWN_YD * frame.scale));
    return crowns(rows(rings, 0, size * 1.2, frame), random, size);
  },
  water_hazard: (rings, frame, random) => waves(rows(rings, 0, 7, frame), random),
  lateral_water_hazard: (rings, frame, random) => waves(rows(rings, 0, 4.2, frame), random),
  out_of_bounds: (rings, frame, random) => strokes(rows(rings, HATCH, 8, frame), random, 1),
};

/** The flag in the hole. @param {number} x @param {number} y @param {Frame} frame @param {number} [high] pixels */
export function flag(x, y, { place }, high = 15) {
  const [px, py] = place(x, y).map(rounded);
  const [deep, out] = [rounded(high * 0.27), rounded(high * 0.6)];
  return svg('path', { d: `M${px},${py} v${-high} l${out},${deep} l-${out},${deep}`, class: 'flag' });
}
