/**
 * A hole's map from a few numbers that can be entered in a minute: how wide the fairway is at two distances, what trouble
 * lies on which side and where it begins, how deep and wide the green is. Everything in yards. The server says the same
 * (map_form.py); shared vectors hold both to it.
 *
 * @typedef {import('./hole-maps.js').Feature} Feature @typedef {import('./hole-maps.js').Point} Point
 * @typedef {{kind: string, side: string, begins_yd: number|null, from_yd?: number|null, to_yd?: number|null}} Trouble
 * `begins_yd` from the middle of the fairway (left, right) or the edge of the green (short, long); `from_yd` to `to_yd` along
 * the hole from the tee, all of it when left out
 * @typedef {{length_yd: number|null, green_depth_yd: number|null, green_width_yd: number|null, fairway?: [number|null, number|null][], trouble?: Trouble[], bend_yd?: number}} HoleForm
 * `fairway`: up to two distances from the tee, each with its width; `bend_yd`: how far the middle swings out, right positive
 *
 * @typedef {{field: string, value?: number|string|null, low?: number, high?: number, words?: string}} Fault a number outside
 * its range (null: missing), or words
 */
import { feature, oval } from './hole-maps.js';
import { FARTHEST_YD } from './ranges.js';

export const LEFT = 'left';
export const RIGHT = 'right';
export const SHORT = 'short';
export const LONG = 'long';
export const SIDES = [LEFT, RIGHT, SHORT, LONG];

/** What may be given, and the feature it becomes. @type {Record<string, string>} */
export const TROUBLE = {
  out_of_bounds: 'out_of_bounds',
  'red water': 'lateral_water_hazard',
  'yellow water': 'water_hazard',
  trees: 'trees',
  bunker: 'bunker',
};

export const WIDE_YD = 100;
export const BUNKER_YD = 10;
export const FAIRWAY_BEFORE_YD = 100;
export const SHORTEST_STRETCH_YD = 1;
export const PAST_GREEN_YD = 40;
export const STEP_YD = 20;
export const TEE_BOX = [3, 5];
const FAIRWAY_FROM_YD = 20;
const TROUBLE_BEHIND_YD = 20; // trouble along the hole begins so far behind the tee

/** @param {HoleForm} form @returns {Fault[]} what is wrong, in order */
export function formFaults(form) {
  /** @type {Fault[]} */
  const found = [];
  const within = (
    /** @type {string} */ field,
    /** @type {any} */ value,
    /** @type {number} */ low,
    /** @type {number} */ high,
  ) => {
    if (typeof value !== 'number' || !(value >= low && value <= high)) found.push({ field, value, low, high });
  };
  const { fairway = [], trouble = [], bend_yd = 0 } = form;
  within('length_yd', form.length_yd, 50, FARTHEST_YD);
  within('green_depth_yd', form.green_depth_yd, 5, 80);
  within('green_width_yd', form.green_width_yd, 5, 80);
  within('bend_yd', bend_yd, -150, 150);
  const known = !found.length;
  const holeEnd = known ? Number(form.length_yd) : FARTHEST_YD;
  const end = known ? mapEnd(form) : FARTHEST_YD;
  if (fairway.length > 2) found.push({ field: 'fairway', words: `${fairway.length} widths are more than 2` });
  fairway.forEach(([at, width], place) => {
    within(`fairway ${place + 1}, distance`, at, 50, holeEnd);
    within(`fairway ${place + 1}, width`, width, 5, 120);
  });
  const [first, second] = fairway.map(([at]) => at);
  if (fairway.length === 2 && first !== null && second !== null && first >= second)
    found.push({ field: 'fairway', words: 'the second distance must be greater than the first' });
  for (const [place, one] of trouble.entries()) found.push(...troubleFaults(one, `trouble ${place + 1}`, end));
  return found;
}

/** @param {Trouble} one @param {string} name @param {number} end @returns {Fault[]} */
function troubleFaults(one, name, end) {
  /** @type {Fault[]} */
  const found = [];
  if (!(one.kind in TROUBLE))
    found.push({ field: `${name}, kind`, words: `'${one.kind}' is not one of ${Object.keys(TROUBLE).join(', ')}` });
  if (!SIDES.includes(one.side))
    found.push({ field: `${name}, side`, words: `'${one.side}' is not one of ${SIDES.join(', ')}` });
  const from = one.from_yd ?? 0;
  const to = one.to_yd ?? FARTHEST_YD;
  const along = one.side === LEFT || one.side === RIGHT;
  const stretch =
    along && !(from >= 0 && from < end && to - from >= SHORTEST_STRETCH_YD)
      ? [{ field: name, words: `from ${from} to ${to} yd is not a valid range` }]
      : [];
  return [...found, ...beginning(one, name), ...stretch];
}

/** @param {Trouble} one @param {string} name @returns {Fault[]} */
function beginning({ begins_yd: value }, name) {
  const sound = typeof value === 'number' && value >= 0 && value <= 150;
  return sound ? [] : [{ field: `${name}, begins_yd`, value, low: 0, high: 150 }];
}

/** A fault in words, in yards. @param {Fault} fault @returns {string} */
export function faultWords({ field, value, low, high, words }) {
  if (words) return `${field}: ${words}`;
  return value === null || value === undefined
    ? `${field}: is missing (${low} to ${high} yd)`
    : `${field}: ${value} is outside ${low} to ${high} yd`;
}

/**
 * The features of the hole: tee, fairway, green, trouble. The hole is in the middle of the green, at (0, length_yd). Only for
 * a form without a fault. @param {HoleForm} form @returns {Feature[]}
 */
export function mapFromForm(form) {
  const length = Number(form.length_yd);
  const halfWidth = Number(form.green_width_yd) / 2;
  const halfDepth = Number(form.green_depth_yd) / 2;
  const [box, deep] = TEE_BOX;
  return [
    feature('tee', [
      [-box, -deep],
      [box, -deep],
      [box, deep],
      [-box, deep],
    ]),
    ...(form.fairway?.length ? [fairwayOf(form, length - halfDepth)] : []),
    feature('green', oval(0, length, halfWidth, halfDepth)),
    ...(form.trouble ?? []).map((one) => troubleOf(form, one)),
  ];
}

/** y where trouble without an end stops. @param {HoleForm} form */
function mapEnd(form) {
  return Number(form.length_yd) + Number(form.green_depth_yd) / 2 + PAST_GREEN_YD;
}

/** x of the middle of the fairway: a parabola through tee and green. @param {HoleForm} form @param {number} y @returns {number} */
export function middleLine(form, y) {
  const along = Math.min(Math.max(y / Number(form.length_yd), 0), 1);
  return 4 * (form.bend_yd ?? 0) * along * (1 - along);
}

/** @param {number} first @param {number} last @returns {number[]} */
function stations(first, last) {
  const found = [first];
  for (let y = first + STEP_YD; y < last - STEP_YD / 2; y += STEP_YD) found.push(y);
  return [...found, last];
}

/** @param {HoleForm} form @param {number} greenFront @returns {Feature} */
function fairwayOf(form, greenFront) {
  const widths = /** @type {[number, number][]} */ (form.fairway);
  const near = widths[0];
  const far = widths[widths.length - 1];
  const start = Math.max(FAIRWAY_FROM_YD, near[0] - FAIRWAY_BEFORE_YD);
  const width = (/** @type {number} */ y) => {
    if (near[0] === far[0]) return near[1];
    return near[1] + Math.min(Math.max((y - near[0]) / (far[0] - near[0]), 0), 1) * (far[1] - near[1]);
  };
  const edge = (/** @type {number} */ side) => (/** @type {number} */ y) =>
    /** @type {Point} */ ([middleLine(form, y) + (side * width(y)) / 2, y]);
  const ys = stations(Math.min(start, greenFront - 1), greenFront);
  return feature('fairway', [...ys.map(edge(1)), ...[...ys].reverse().map(edge(-1))]);
}

/** @param {HoleForm} form @param {Trouble} trouble @returns {Feature} */
function troubleOf(form, trouble) {
  const kind = TROUBLE[trouble.kind];
  const wide = kind === 'bunker' ? BUNKER_YD : WIDE_YD;
  const begins = Number(trouble.begins_yd);
  if (trouble.side === SHORT || trouble.side === LONG) {
    const sign = trouble.side === LONG ? 1 : -1;
    const near = Number(form.length_yd) + sign * (Number(form.green_depth_yd) / 2 + begins);
    const far = near + sign * (trouble.side === SHORT || kind === 'bunker' ? BUNKER_YD : wide);
    const aside = kind === 'bunker' ? Number(form.green_width_yd) / 2 : wide;
    return feature(kind, [
      [-aside, near],
      [aside, near],
      [aside, far],
      [-aside, far],
    ]);
  }
  const sign = trouble.side === RIGHT ? 1 : -1;
  const ys = stations(trouble.from_yd ?? -TROUBLE_BEHIND_YD, trouble.to_yd ?? mapEnd(form));
  const edge = (/** @type {number} */ away) => (/** @type {number} */ y) =>
    /** @type {Point} */ ([middleLine(form, y) + sign * away, y]);
  return feature(kind, [...ys.map(edge(begins)), ...[...ys].reverse().map(edge(begins + wide))]);
}
