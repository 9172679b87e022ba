/**
 * A green in the words of the trade: front, middle and back from anywhere, and a pin so far on and so far from an edge. Pure, in
 * the map's yards.
 *
 * @typedef {import('./hole-maps.js').Point} Point
 * @typedef {import('./hole-maps.js').Feature} Feature
 * @typedef {{ring: Point[], middle: Point, along: Point, right: Point, front: number, depth: number}} Green `along`: unit vector
 * in which the green is approached; `front`: of the frontmost edge on it, from the map's origin; `depth` yards
 * @typedef {{on: number, left: number, right: number, wide: number}} Pin yards on from the front edge, from the left and the right edge, and across the green there
 */
const NEAR_YD = 40;
const FAR_YD = 150; // the fairway between these two from the green is where it is approached from: a choice of this tool
const WALK_YD = 5;
const MOST_PARTS = 200; // of one side of a ring
export const THIRDS = /** @type {const} */ ([1 / 6, 1 / 2, 5 / 6]); // the middles of front, middle and back: a choice of this tool
const LEAST_YD = 1; // of a pin from an edge: the hole is cut in the green

/** @param {Point} a @param {Point} b */
const dot = (a, b) => a[0] * b[0] + a[1] * b[1];
/** @param {Point} a @param {Point} b @returns {Point} */
const minus = (a, b) => [a[0] - b[0], a[1] - b[1]];

/** The centre of a ring's area. @param {Point[]} ring closed @returns {Point} */
export function middleOf(ring) {
  const [ox, oy] = ring[0];
  let [area, x, y] = [0, 0, 0];
  for (let side = 1; side < ring.length; side += 1) {
    const [ax, ay] = minus(ring[side - 1], ring[0]);
    const [bx, by] = minus(ring[side], ring[0]);
    const twice = ax * by - bx * ay;
    area += twice;
    x += (ax + bx) * twice;
    y += (ay + by) * twice;
  }
  return area ? [ox + x / (3 * area), oy + y / (3 * area)] : ring[0];
}

/** Twice the area of a ring. @param {Point[]} ring closed */
function twiceArea(ring) {
  return Math.abs(ring.slice(1).reduce((sum, [x, y], place) => sum + ring[place][0] * y - x * ring[place][1], 0));
}

/** Points every few yards along a ring. @param {Point[]} ring closed @returns {Point[]} */
function walked(ring) {
  return ring.slice(1).flatMap(([toX, toY], before) => {
    const [x, y] = ring[before];
    const parts = Math.min(MOST_PARTS, Math.max(1, Math.ceil(Math.hypot(toX - x, toY - y) / WALK_YD)));
    return Array.from(
      { length: parts },
      (_, part) => /** @type {Point} */ ([x + ((toX - x) * part) / parts, y + ((toY - y) * part) / parts]),
    );
  });
}

/** The largest green of a map, or null. @param {Feature[]} features @returns {Green|null} */
export function greenOf(features) {
  const greens = features.filter((one) => one.properties.golf === 'green').map((one) => one.geometry.coordinates[0]);
  if (!greens.length) return null;
  const ring = greens.reduce((largest, one) => (twiceArea(one) > twiceArea(largest) ? one : largest));
  const middle = middleOf(ring);
  const fairway = features
    .filter((one) => one.properties.golf === 'fairway')
    .flatMap((one) => walked(one.geometry.coordinates[0]));
  const near = fairway.filter((point) => {
    const away = Math.hypot(...minus(point, middle));
    return away >= NEAR_YD && away <= FAR_YD;
  });
  const from = near.length
    ? /** @type {Point} */ ([0, 1].map((axis) => near.reduce((sum, point) => sum + point[axis], 0) / near.length))
    : /** @type {Point} */ ([0, 0]);
  const far = Math.hypot(...minus(middle, from));
  /** @type {Point} */
  const along = far < 1 ? [0, 1] : [(middle[0] - from[0]) / far, (middle[1] - from[1]) / far];
  const depths = ring.map((point) => dot(point, along));
  const front = Math.min(...depths);
  return { ring, middle, along, right: [along[1], -along[0]], front, depth: Math.max(...depths) - front };
}

/** Where a line crosses a ring, yards along it. @param {Point[]} ring @param {Point} from @param {Point} along unit @returns {number[]} in order */
export function crossings(ring, from, along) {
  /** @type {Point} */
  const aside = [along[1], -along[0]];
  /** @type {number[]} */
  const found = [];
  for (let side = 1; side < ring.length; side += 1) {
    const [a, b] = [minus(ring[side - 1], from), minus(ring[side], from)];
    const [offA, offB] = [dot(a, aside), dot(b, aside)];
    if (offA > 0 !== offB > 0) found.push(dot(a, along) + (offA / (offA - offB)) * (dot(b, along) - dot(a, along)));
  }
  return found.sort((a, b) => a - b);
}

/** The left and the right edge at so many yards on, yards right of the middle. @param {Green} green @param {number} on @returns {[number, number]|null} */
function edges({ ring, along, right, front }, on) {
  const deep = front + on;
  /** @type {Point} */
  const start = [along[0] * deep, along[1] * deep];
  const found = crossings(ring, start, right);
  return found.length ? [found[0], found[found.length - 1]] : null;
}

/** Yards across the green so far on. @param {Green} green @param {number} on @returns {number} */
export function widthAt(green, on) {
  const found = edges(green, on);
  return found ? found[1] - found[0] : 0;
}

/** What a pin may be: yards on from the front edge, and from an edge there. @param {Green} green @param {number} on @returns {{on: [number, number], side: [number, number]}} */
export function pinRange(green, on) {
  return {
    on: [LEAST_YD, Math.max(LEAST_YD, green.depth - LEAST_YD)],
    side: [LEAST_YD, Math.max(LEAST_YD, widthAt(green, on) - LEAST_YD)],
  };
}

/** The pin so far on and so far from an edge. @param {Green} green @param {number} on yards @param {'left'|'right'} edge @param {number} from yards @returns {Point} */
export function pinAt(green, on, edge, from) {
  const { along, right, front } = green;
  const [left, far] = edges(green, on) ?? [0, 0];
  const aside = edge === 'left' ? left + from : far - from;
  const deep = front + on;
  return [along[0] * deep + right[0] * aside, along[1] * deep + right[1] * aside];
}

/** The pin in a third of the green. @param {Green} green @param {number} deep 0 front, 1 middle, 2 back @param {number} across 0 left, 1 centre, 2 right @returns {Point} */
export function pinInThird(green, deep, across) {
  const on = green.depth * THIRDS[deep];
  return pinAt(green, on, 'left', widthAt(green, on) * THIRDS[across]);
}

/** A pin in words: null where it is not on the green. @param {Green} green @param {Point} pin @returns {Pin|null} */
export function pinOn(green, pin) {
  const on = dot(pin, green.along) - green.front;
  const found = on > 0 && on < green.depth ? edges(green, on) : null;
  if (!found) return null;
  const aside = dot(pin, green.right);
  const [left, right] = [aside - found[0], found[1] - aside];
  return left > 0 && right > 0 ? { on, left, right, wide: found[1] - found[0] } : null;
}

/**
 * Front, middle and back from a place, yards; along the line to the green's middle. Null on the green, where there is no front.
 * @param {Green} green @param {Point} from @returns {{front: number, middle: number, back: number}|null}
 */
export function frontMiddleBack({ ring, middle }, from) {
  const far = Math.hypot(...minus(middle, from));
  if (far < 1) return null;
  const [x, y] = minus(middle, from);
  const ahead = crossings(ring, from, [x / far, y / far]);
  if (ahead.length < 2 || ahead[0] <= 0) return null;
  return { front: ahead[0], middle: far, back: ahead[ahead.length - 1] };
}
