/**
 * What a position of the ball says on a hole whose map lies on the earth: distances, and nothing else. All are straight lines over
 * level ground: no slope, no wind, no club (rule 4.3a).
 *
 * @typedef {import('./geodesy.js').Position} Position @typedef {import('./geodesy.js').Frame} Frame
 * @typedef {import('./hole-maps.js').Point} Point @typedef {import('./hole-maps.js').Feature} Feature
 * @typedef {{features: Feature[], frame: Frame}} EarthMap
 * @typedef {{kind: string, side: 'left'|'right'|'across', reach_yd: number, carry_yd: number|null}} Between trouble on the way: yards to reach it and to
 * carry it, null where it goes on past the hole
 * @typedef {{hole_yd: number, to: 'flag'|'green', green: {front: number, middle: number, back: number}|null, between: Between[]}} Figures
 */
import { FAIRWAY, ROUGH, SAND } from './lies.js';
import { FARTHEST_OFFLINE_YD, FARTHEST_ON_GREEN_YD, FARTHEST_YD } from './ranges.js';
import { geodesic, toPlace, toYards } from './geodesy.js';
import { crossings, frontMiddleBack, greenOf } from './greens.js';
import { METRES_PER_YARD } from './units.js';

export const MOST_ACCURACY_M = 10; // a position that may be farther off is shown and not used: a choice of this tool
export const BESIDE_YD = 25; // trouble this near the straight line to the hole is listed: a choice of this tool
const MOST_BETWEEN = 8;
const FRINGE_YD = 4; // no lie is given this near to the green: a choice of this tool
const LIES_MAPPED = ['bunker', 'fairway', 'green'];

/** What is listed between ball and hole, in the words of the trade. @type {Record<string, string>} */
const TROUBLE = { bunker: 'bunker', water_hazard: 'water', lateral_water_hazard: 'water' };

/** @param {Position} position @returns {boolean} whether it is good enough to be used */
export function isUsable([, , accuracy]) {
  return accuracy <= MOST_ACCURACY_M;
}

/** Yards between two places, null where there is no line. @param {Position} a @param {Position} b @returns {number|null} */
export function yardsBetween(a, b) {
  const found = geodesic(a, b);
  return found && found.metres / METRES_PER_YARD;
}

/** The hole to play to: the flag where it was marked, else the middle of the mapped green. @param {EarthMap|null} map @param {Position|null|undefined} flag @returns {{place: Position, to: 'flag'|'green'}|null} */
export function holeOf(map, flag) {
  if (flag) return { place: flag, to: 'flag' };
  const green = map && greenOf(map.features);
  return green ? { place: toPlace(/** @type {EarthMap} */ (map).frame, green.middle), to: 'green' } : null;
}

/**
 * Distances from a ball. Null where neither flag nor green is known, or the hole is farther than any hole is long.
 * @param {EarthMap|null} map @param {Position|null|undefined} flag @param {Position} ball @returns {Figures|null}
 */
export function figuresFrom(map, flag, ball) {
  const hole = holeOf(map, flag);
  const yards = hole && yardsBetween(ball, hole.place);
  if (!hole || yards === null || yards > FARTHEST_YD) return null;
  const at = map && toYards(map.frame, ball);
  const end = map && toYards(map.frame, hole.place);
  const green = map && at ? greenOf(map.features) : null;
  return {
    hole_yd: yards,
    to: hole.to,
    green: green && at ? frontMiddleBack(green, at) : null,
    between: map && at && end ? between(map.features, at, end) : [],
  };
}

/**
 * Whether a position is farther than any hole is long from the mapped green or, without one, from where a ball was last marked on the hole.
 * @param {EarthMap|null} map @param {Position} position @param {Position[]} marked @returns {boolean}
 */
export function isElsewhere(map, position, marked) {
  const near = holeOf(map, null)?.place ?? marked[marked.length - 1];
  return Boolean(near) && (yardsBetween(position, near) ?? Infinity) > FARTHEST_YD;
}

/**
 * Where a ball lies that was guessed to be on the green, or null where it may be there: on the mapped green or nearer to it than the
 * position is accurate; without a map within the length of the longest green of the flag.
 * @param {EarthMap|null} map @param {Position|null|undefined} flag @param {Position} ball @returns {string|null} a lie, as the map has it
 */
export function lieOffGreen(map, flag, ball) {
  const at = map && toYards(map.frame, ball);
  const green = map && at ? greenOf(map.features) : null;
  if (!map || !at || !green) return flag && (yardsBetween(ball, flag) ?? 0) > FARTHEST_ON_GREEN_YD ? FAIRWAY : null;
  const shifted = green.ring.map(([x, y]) => /** @type {Point} */ ([x - at[0], y - at[1]]));
  if (holds(green.ring, at) || nearest(shifted) * METRES_PER_YARD <= ball[2]) return null;
  const on = (/** @type {string} */ golf) =>
    map.features.some((one) => one.properties.golf === golf && holds(one.geometry.coordinates[0], at));
  return on('bunker') ? SAND : on('fairway') ? FAIRWAY : ROUGH;
}

/**
 * The lie that the map gives a ball off the green, or null: only where the ball is farther from every edge that matters than its position
 * is accurate. Rough is what lies off a mapped fairway and in no other area of the map; the fringe is not mapped, so beside the
 * green none is given. @param {EarthMap|null} map @param {Position} ball @returns {string|null}
 */
export function lieOn(map, ball) {
  const at = map && toYards(map.frame, ball);
  if (!map || !at) return null;
  const sure = ball[2] / METRES_PER_YARD;
  const areas = map.features
    .filter((one) => one.geometry.type === 'Polygon')
    .map(({ properties: { golf }, geometry: { coordinates } }) => {
      const ring = coordinates[0];
      const away = nearest(ring.map(([x, y]) => /** @type {Point} */ ([x - at[0], y - at[1]])));
      return { golf, inside: holds(ring, at), near: away <= sure + (golf === 'green' ? FRINGE_YD : 0) };
    });
  if (areas.some(({ golf, near }) => near && LIES_MAPPED.includes(golf))) return null;
  const inside = areas.filter((one) => one.inside).map(({ golf }) => golf);
  if (inside.includes('bunker')) return SAND;
  if (inside.includes('fairway')) return inside.includes('green') ? null : FAIRWAY;
  return inside.length || !areas.some(({ golf }) => golf === 'fairway') ? null : ROUGH;
}

/** Whether a point lies in a ring. @param {Point[]} ring @param {Point} point */
function holds(ring, point) {
  return crossings(ring, point, [0, 1]).filter((on) => on > 0).length % 2 === 1;
}

/** @param {Feature[]} features @param {Point} ball @param {Point} hole @returns {Between[]} the nearest first */
export function between(features, ball, hole) {
  const far = Math.hypot(hole[0] - ball[0], hole[1] - ball[1]);
  if (far < 1) return [];
  /** @type {Point} */
  const along = [(hole[0] - ball[0]) / far, (hole[1] - ball[1]) / far];
  return features
    .flatMap((one) => {
      const kind = TROUBLE[one.properties.golf];
      const found = kind ? onTheWay(one.geometry.coordinates[0], ball, along, far) : null;
      return found ? [{ kind, ...found }] : [];
    })
    .sort((a, b) => a.reach_yd - b.reach_yd)
    .slice(0, MOST_BETWEEN);
}

/** A ring on the way to the hole, or null. @param {Point[]} ring @param {Point} ball @param {Point} along unit @param {number} far yards to the hole */
function onTheWay(ring, ball, along, far) {
  const seen = ring.map(
    ([x, y]) =>
      /** @type {Point} */ ([
        (x - ball[0]) * along[1] - (y - ball[1]) * along[0],
        (x - ball[0]) * along[0] + (y - ball[1]) * along[1],
      ]),
  );
  const near = clipped(clipped(clipped(clipped(seen, 0, 1, -BESIDE_YD), 0, -1, -BESIDE_YD), 1, 1, 0), 1, -1, -far);
  if (near.length < 3) return null;
  const asides = near.map(([aside]) => aside);
  const farther = Math.max(...seen.map(([, on]) => on)) > far;
  const across = crossings(ring, ball, along).filter((on) => on > 0);
  const isIn = across.length % 2 === 1;
  if (across.length && (isIn || across[0] < far))
    return {
      side: /** @type {const} */ ('across'),
      reach_yd: isIn ? 0 : across[0],
      carry_yd: across[across.length - 1] > far ? null : across[across.length - 1],
    };
  const aways = near.map((point) => Math.hypot(...point));
  return {
    side: /** @type {'left'|'right'} */ (Math.max(...asides) + Math.min(...asides) < 0 ? 'left' : 'right'),
    reach_yd: nearest(near),
    carry_yd: farther ? null : Math.max(...aways),
  };
}

/** The part of a ring where sign * coordinate is at least `least` (Sutherland and Hodgman, 1974). @param {Point[]} ring @param {0|1} axis @param {1|-1} sign @param {number} least @returns {Point[]} */
function clipped(ring, axis, sign, least) {
  return ring.flatMap((point, place) => {
    const before = ring[(place + ring.length - 1) % ring.length];
    const [a, b] = [sign * before[axis] - least, sign * point[axis] - least];
    const inside = b >= 0 ? [point] : [];
    if (a >= 0 === b >= 0) return inside;
    const share = a / (a - b);
    /** @type {Point} */
    const crossing = [before[0] + share * (point[0] - before[0]), before[1] + share * (point[1] - before[1])];
    return [crossing, ...inside];
  });
}

/** How near a ring comes to the origin. @param {Point[]} ring */
function nearest(ring) {
  return Math.min(
    ...ring.map(([x, y], place) => {
      const [px, py] = ring[(place + ring.length - 1) % ring.length];
      const [dx, dy] = [x - px, y - py];
      const length2 = dx * dx + dy * dy;
      const share = length2 ? Math.min(Math.max(-(px * dx + py * dy) / length2, 0), 1) : 0;
      return Math.hypot(px + share * dx, py + share * dy);
    }),
  );
}

/**
 * Where a shot finished against its target, from two positions: the target lies on the straight line from ball to hole, at the intended
 * distance, or is the hole. Null where it cannot be known or lies outside what a shot may hold.
 * @param {Position} from @param {Position} hole @param {Position} end @param {number|null|undefined} targetYd
 * @returns {{right_yd: number, long_yd: number, within_m: number}|null} `within_m`: the two accuracies together, root of the sum of squares
 */
export function finishOf(from, hole, end, targetYd) {
  const toHole = geodesic(from, hole);
  const frame = { lon: from[0], lat: from[1], turned_deg: toHole?.azimuth ?? 0 };
  const at = toHole?.metres ? toYards(frame, end) : null;
  if (!at || !toHole) return null;
  const long_yd = at[1] - (targetYd ?? toHole.metres / METRES_PER_YARD);
  if (Math.abs(at[0]) > FARTHEST_OFFLINE_YD || long_yd > FARTHEST_OFFLINE_YD || long_yd < -FARTHEST_YD) return null;
  return { right_yd: at[0], long_yd, within_m: Math.hypot(from[2] ?? 0, end[2] ?? 0) };
}
