/**
 * A hole's map from places that were marked by position: tee, corners of the green, edges of the fairway, bunkers, water. What was not
 * walked stays as the form or the imported map has it. The map's frame is where it lies on the earth, so that later positions fit.
 *
 * @typedef {import('./hole-maps.js').Feature} Feature @typedef {import('./hole-maps.js').Point} Point
 * @typedef {import('./geodesy.js').Frame} Frame @typedef {import('./geodesy.js').Position} Position
 * @typedef {{golf: string, side?: 'left'|'right'|null, corners: Position[]}} Walked in the order of walking; `side` of a fairway's edge
 * @typedef {{form?: import('./map-form.js').HoleForm|null, features?: any[], frame?: any}} Held the map that there is
 */
import { frameOf, toYards } from './geodesy.js';
import { greenOf, middleOf } from './greens.js';
import { feature, oval } from './hole-maps.js';
import { BUNKER_YD, TEE_BOX, WIDE_YD, formFaults, mapFromForm } from './map-form.js';

export const WALKED = ['tee', 'green', 'fairway', 'bunker', 'water_hazard', 'lateral_water_hazard'];
export const MOST_WALKED = 60; // shapes of a map, and corners of a shape
const GREEN_YD = [24, 28]; // width and depth of a green of which one or two places were marked, as the form draws one
const ONCE = ['tee', 'green', 'fairway']; // there is one of each: a walked one takes the place of another
const FARTHEST_GREEN_YD = 800; // server/game/hole_maps.py
const FARTHEST_ASIDE_YD = 300;
const LEAST_AREA_YD2 = 0.1;

/** @param {Walked[]} shapes @param {string} golf @returns {Position|null} the middle of its marks */
function middleMark(shapes, golf) {
  const corners = shapes.filter((one) => one.golf === golf).flatMap((one) => one.corners);
  if (!corners.length) return null;
  return [0, 1].map((axis) => corners.reduce((sum, corner) => sum + corner[axis], 0) / corners.length);
}

/** @param {Walked[]} shapes @returns {Frame|null} from the tee towards the green; null until both are marked */
function frameFrom(shapes) {
  const [tee, green] = ['tee', 'green'].map((golf) => middleMark(shapes, golf));
  if (!tee || !green) return null;
  const flat = { lon: tee[0], lat: tee[1], turned_deg: 0 };
  const towards = toYards(flat, green);
  if (!towards || Math.hypot(...towards) < 1) return null;
  return { ...flat, turned_deg: ((Math.atan2(towards[0], towards[1]) * 180) / Math.PI + 360) % 360 };
}

/** The name of a shape for the player. @param {Walked[]} shapes @param {number} place @returns {string} */
export function nameOf(shapes, place) {
  const { golf, side } = shapes[place];
  if (golf === 'fairway') return `fairway, ${side} edge`;
  if (ONCE.includes(golf)) return golf;
  const number = shapes.slice(0, place + 1).filter((one) => one.golf === golf).length;
  const words = { bunker: 'bunker', water_hazard: 'yellow water', lateral_water_hazard: 'red water' }[golf];
  return `${words} ${number}`;
}

/**
 * The map as far as it was walked. `frame` null until it can lie anywhere; `faults` in words, each naming its shape.
 * @param {Walked[]} shapes @param {Held|null} held @returns {{features: Feature[], frame: Frame|null, faults: string[]}}
 */
export function walkedMap(shapes, held) {
  const kept = (held?.form ? [] : (held?.features ?? [])).filter((one) => !one.properties.walked);
  const frame = (kept.length ? frameOf(held) : null) ?? frameFrom(shapes);
  if (!frame) return { features: [], frame: null, faults: ['Mark the tee and the green first.'] };
  /** @type {string[]} */
  const faults = [];
  /** @type {Feature[]} */
  const walked = [];
  const add = (/** @type {string} */ golf, /** @type {string} */ name, /** @type {Point[]|string} */ ring) => {
    if (typeof ring === 'string') faults.push(`${name}: ${ring}.`);
    else {
      const made = feature(golf, ring);
      const fault = ringFault(made.geometry.coordinates[0]);
      if (fault) faults.push(`${name}: ${fault}.`);
      else walked.push({ ...made, properties: /** @type {any} */ ({ golf, walked: true }) });
    }
  };
  const points = shapes.map(({ corners }) => corners.map((corner) => toYards(frame, corner)));
  shapes.forEach(({ golf }, place) => {
    const name = nameOf(shapes, place);
    if (points[place].includes(null)) faults.push(`${name}: a corner is more than 5 km from the hole.`);
    else if (golf !== 'fairway' && points[place].length)
      add(golf, name, ringOf(golf, /** @type {Point[]} */ (points[place])));
  });
  const fairway = (/** @type {string} */ side) =>
    shapes.flatMap((one, place) => (one.golf === 'fairway' && one.side === side ? points[place] : []));
  const edges = [fairway('left'), fairway('right')];
  if (edges.some((edge) => edge.length) && !edges.flat().includes(null))
    add('fairway', 'fairway', fairwayRing(/** @type {Point[][]} */ (edges)));
  const base = held?.form ? fromForm(held.form, frame, shapes) : kept;
  const replaced = ONCE.filter((golf) => walked.some((one) => one.properties.golf === golf));
  const features = [...base.filter((one) => !replaced.includes(one.properties.golf)), ...walked];
  return { features, frame, faults: [...faults, ...farFaults(features)] };
}

/** What the form says of the hole, as long as the walk has it. @param {import('./map-form.js').HoleForm} form @param {Frame} frame @param {Walked[]} shapes @returns {Feature[]} */
function fromForm(form, frame, shapes) {
  const green = toYards(frame, middleMark(shapes, 'green') ?? []);
  const long = { ...form, length_yd: green ? Math.hypot(...green) : form.length_yd };
  return formFaults(long).length ? [] : mapFromForm(long);
}

/** @param {string} golf @param {Point[]} points at least one @returns {Point[]|string} a ring, or what is missing */
function ringOf(golf, points) {
  const [x, y] = [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length);
  if (points.length > 2) return inOrder(points);
  const apart = points.length === 2 ? Math.hypot(points[0][0] - points[1][0], points[0][1] - points[1][1]) : 0;
  if (golf === 'tee') {
    const [wide, deep] = TEE_BOX;
    return [
      [x - wide, y - deep],
      [x + wide, y - deep],
      [x + wide, y + deep],
      [x - wide, y + deep],
    ];
  }
  if (golf === 'green') return oval(x, y, GREEN_YD[0] / 2, (apart || GREEN_YD[1]) / 2);
  if (golf === 'bunker') return oval(x, y, (apart || BUNKER_YD) / 2, (apart || BUNKER_YD) / 2);
  if (!apart) return 'mark a second place on the edge';
  const away = x < 0 ? -WIDE_YD : WIDE_YD; // two places are its edge towards the hole
  return [...points, ...[...points].reverse().map(([ex, ey]) => /** @type {Point} */ ([ex + away, ey]))];
}

/** Corners as they were walked; around their middle where that crosses itself. @param {Point[]} points @returns {Point[]} */
function inOrder(points) {
  if (!crossesItself([...points, points[0]])) return points;
  const [x, y] = [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length);
  return [...points].sort((a, b) => Math.atan2(a[1] - y, a[0] - x) - Math.atan2(b[1] - y, b[0] - x));
}

/** @param {Point[][]} edges left and right @returns {Point[]|string} */
function fairwayRing([left, right]) {
  if (!left.length || !right.length || left.length + right.length < 3)
    return 'needs three or more marks, on both edges';
  const along = (/** @type {Point[]} */ edge) => [...edge].sort((a, b) => a[1] - b[1]);
  return [...along(right), ...along(left).reverse()];
}

/** @param {Point[]} ring closed @returns {string|null} */
function ringFault(ring) {
  const [ox, oy] = ring[0];
  const twice = ring
    .slice(1)
    .reduce((sum, [x, y], place) => sum + (ring[place][0] - ox) * (y - oy) - (x - ox) * (ring[place][1] - oy), 0);
  if (ring.length < 4 || Math.abs(twice) / 2 < LEAST_AREA_YD2) return 'its corners are on one line or in one place';
  return crossesItself(ring) ? 'its edges cross; delete the corner that is out of place' : null;
}

/** @param {Point[]} ring closed */
function crossesItself(ring) {
  const side = (/** @type {Point} */ a, /** @type {Point} */ b, /** @type {Point} */ c) =>
    Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
  const sides = ring.length - 1;
  for (let one = 0; one < sides; one += 1)
    for (let two = one + 2; two < sides; two += 1) {
      if (one === 0 && two === sides - 1) continue;
      const [a, b, c, d] = [ring[one], ring[one + 1], ring[two], ring[two + 1]];
      if (side(a, b, c) * side(a, b, d) <= 0 && side(c, d, a) * side(c, d, b) <= 0) return true;
    }
  return false;
}

/** What lies in another place than the hole. @param {Feature[]} features @returns {string[]} */
function farFaults(features) {
  const green = greenOf(features)?.middle;
  if (!green) return ['There is no green yet: mark its corners.'];
  const far = Math.hypot(...green);
  if (far > FARTHEST_GREEN_YD) return [`green: it is ${Math.round(far)} yd from the tee, too far for a hole.`];
  return features.flatMap(({ properties: { golf, .../** @type {any} */ more }, geometry }) => {
    const middle = middleOf(geometry.coordinates[0]);
    const share = far ? Math.min(Math.max((middle[0] * green[0] + middle[1] * green[1]) / far ** 2, 0), 1) : 0;
    const aside = Math.hypot(middle[0] - share * green[0], middle[1] - share * green[1]);
    return /** @type {any} */ (more).walked && aside > FARTHEST_ASIDE_YD
      ? [`${golf.replaceAll('_', ' ')}: it is ${Math.round(aside)} yd from the hole.`]
      : [];
  });
}
