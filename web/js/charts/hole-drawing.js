/**
 * A hole drawn to scale from its polygons, standing (the tee below, the green above) or lying (the tee left, the green right).
 *
 * @typedef {import('../game/hole-maps.js').Feature} Feature
 * @typedef {[number, number, number, number]} Window left, near, right, far in yards
 * @typedef {{width: number, height: number, scale: number, place: (x: number, y: number) => [number, number], window: Window}} Frame
 * `scale`: pixels a yard
 */
import { PAINTED, boundsOf } from '../game/hole-maps.js';
import { place as rounded, svg, text } from './drawing.js';

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
const HATCHED = ['trees', 'bunker', 'water_hazard', 'lateral_water_hazard', 'out_of_bounds'];
const TILE = 8; // pixels of a pattern
const STROKES = /** @type {Record<string, string>} */ ({
  trees: 'M1,5 a1.6,1.6 0 0 1 3.2,0 M5,1.8 a1.4,1.4 0 0 1 2.8,0',
  bunker: 'M1.5,1.5 h.01 M5.5,4 h.01 M2.5,6.5 h.01',
  water_hazard: 'M0,3 q2,-2.5 4,0 t4,0',
  lateral_water_hazard: 'M0,3 q2,-2.5 4,0 t4,0 M0,7 q2,-2.5 4,0 t4,0',
  out_of_bounds: 'M-1,9 L9,-1 M-1,1 L1,-1 M7,9 L9,7',
});

/**
 * What a drawing of the whole hole shows: tee to green with some room, and so far aside as a ball is found.
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

/** The ground of a hole, cut to the frame. @param {Feature[]} features @param {Frame} frame @param {string} id of the picture */
export function ground(features, frame, id) {
  const { width, height } = frame;
  const patterns = HATCHED.map((kind) =>
    svg(
      'pattern',
      { id: `${id}-${kind}`, width: TILE, height: TILE, patternUnits: 'userSpaceOnUse' },
      svg('rect', { width: TILE, height: TILE, class: `ground-${kind}` }),
      svg('path', { d: STROKES[kind], class: `mark-${kind}` }),
    ),
  );
  const clip = svg('clipPath', { id: `${id}-clip` }, svg('rect', { width, height }));
  const ordered = [...features].sort((a, b) => PAINTED.indexOf(a.properties.golf) - PAINTED.indexOf(b.properties.golf));
  const shapes = ordered.map((one) => {
    const kind = one.properties.golf;
    return svg('path', {
      d: ringsOf(one, frame),
      'fill-rule': 'evenodd',
      class: `edge-${kind} ${HATCHED.includes(kind) ? '' : `ground-${kind}`}`.trim(),
      fill: HATCHED.includes(kind) ? `url(#${id}-${kind})` : null,
    });
  });
  return svg(
    'g',
    { class: 'ground' },
    svg('defs', null, ...patterns, clip),
    svg('g', { 'clip-path': `url(#${id}-clip)` }, svg('rect', { width, height, class: 'ground-rough' }), ...shapes),
    svg('rect', { x: 0.5, y: 0.5, width: width - 1, height: height - 1, class: 'frame-line' }),
  );
}

/** @param {Feature} feature @param {Frame} frame @returns {string} */
function ringsOf(feature, { place }) {
  return feature.geometry.coordinates
    .map((ring) => `M${ring.map(([x, y]) => place(x, y).map(rounded).join(',')).join(' L')} Z`)
    .join(' ');
}

/** Which kinds of ground stand in the frame, in words for a legend; rough is everything else. @param {Feature[]} features */
export function kindsOf(features) {
  const kinds = new Set(features.map((one) => one.properties.golf));
  return PAINTED.filter((kind) => kinds.has(kind) && kind !== 'tee' && kind !== 'rough');
}

/** A small square of a kind of ground, for a legend. @param {string} kind @param {string} id of its own */
export function swatch(kind, id) {
  const hatched = HATCHED.includes(kind);
  return svg(
    'svg',
    { width: 26, height: 18, 'aria-hidden': 'true' },
    hatched
      ? svg(
          'defs',
          null,
          svg(
            'pattern',
            { id: `${id}-${kind}`, width: TILE, height: TILE, patternUnits: 'userSpaceOnUse' },
            svg('rect', { width: TILE, height: TILE, class: `ground-${kind}` }),
            svg('path', { d: STROKES[kind], class: `mark-${kind}` }),
          ),
        )
      : null,
    svg('rect', {
      x: 1,
      y: 1,
      width: 24,
      height: 16,
      class: `edge-${kind} ${hatched ? '' : `ground-${kind}`}`.trim(),
      fill: hatched ? `url(#${id}-${kind})` : null,
    }),
  );
}

/** The flag in the hole. @param {number} x @param {number} y @param {Frame} frame */
export function flag(x, y, { place }) {
  const [px, py] = place(x, y).map(rounded);
  return svg('path', { d: `M${px},${py} v-15 l9,4 l-9,4`, class: 'flag' });
}

/**
 * Arcs of equal distance around a place, with their yards at the frame's left or lower edge.
 * @param {[number, number]} start @param {number} step in yards @param {Frame} frame @param {number} rem @param {string} id
 * @param {(yards: number) => string} words
 */
export function arcs([x, y], step, frame, rem, id, words) {
  const [left, , right, far] = frame.window;
  const centre = frame.place(x, y);
  const reach = Math.hypot(Math.max(x - left, right - x), far - y);
  const count = Math.min(12, Math.floor(reach / step));
  const marks = [];
  for (let number = 1; number <= count; number += 1) {
    const radius = number * step;
    marks.push(svg('circle', { cx: centre[0], cy: centre[1], r: radius * frame.scale, class: 'arc' }));
    const across = x - left - 1;
    const up = Math.sqrt(radius ** 2 - across ** 2);
    if (radius <= across || y + up > far) continue;
    const [, py] = frame.place(left, y + up);
    if (py > 1.2 * rem && py < frame.height - 0.3 * rem)
      marks.push(text(0.35 * rem, py - 0.25 * rem, words(radius), 'start', 'arc-words'));
  }
  return svg(
    'g',
    { class: 'arcs' },
    svg('g', { 'clip-path': `url(#${id}-clip)` }, ...marks.filter((one) => one.tagName === 'circle')),
    ...marks.filter((one) => one.tagName !== 'circle'),
  );
}
