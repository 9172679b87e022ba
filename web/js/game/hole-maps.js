/**
 * Maps of holes: polygons in local yards, x right of the tee line, y along it; GeoJSON (RFC 7946) with the property `golf`.
 *
 * @typedef {[number, number]} Point
 * @typedef {{type: 'Feature', properties: {golf: string}, geometry: {type: 'Polygon', coordinates: Point[][]}}} Feature
 */

/** What a feature may be, in the order in which a drawing lays them over each other. */
export const PAINTED = [
  'rough',
  'trees',
  'tee',
  'fairway',
  'bunker',
  'green',
  'water_hazard',
  'lateral_water_hazard',
  'out_of_bounds',
];

/** A hundredth of a yard; halves go to the even one, as the server rounds. @param {number} x @returns {number} */
export function rounded(x) {
  const eighths = x * 8; // only odd eighths are halves of a hundredth in binary
  if (!Number.isInteger(eighths) || eighths % 2 === 0) return Number(x.toFixed(2));
  const below = Math.floor(x * 100);
  return (below % 2 === 0 ? below : below + 1) / 100;
}

/**
 * A feature from the points of one ring, closed and anticlockwise. @param {string} golf @param {Point[]} ring @returns {Feature}
 */
export function feature(golf, ring) {
  /** @type {Point[]} */
  const points = ring.map(([x, y]) => [rounded(x), rounded(y)]);
  const same = (/** @type {Point} */ a, /** @type {Point} */ b) => a[0] === b[0] && a[1] === b[1];
  if (!same(points[0], points[points.length - 1])) points.push(points[0]);
  const distinct = points.filter((point, place) => place === 0 || !same(point, points[place - 1]));
  const turn = distinct
    .slice(1)
    .reduce((sum, b, place) => sum + distinct[place][0] * b[1] - b[0] * distinct[place][1], 0);
  if (turn < 0) distinct.reverse();
  return { type: 'Feature', properties: { golf }, geometry: { type: 'Polygon', coordinates: [distinct] } };
}

/**
 * Points of an ellipse around (x, y), anticlockwise, with the ellipse's own area.
 * @param {number} x @param {number} y @param {number} halfWidth @param {number} halfDepth @returns {Point[]}
 */
export function oval(x, y, halfWidth, halfDepth) {
  const count = 32;
  const turn = (2 * Math.PI) / count;
  const wider = Math.sqrt(turn / Math.sin(turn));
  return Array.from(
    { length: count },
    (_, step) =>
      /** @type {Point} */ ([
        x + wider * halfWidth * Math.cos(step * turn),
        y + wider * halfDepth * Math.sin(step * turn),
      ]),
  );
}

/** The box around features: left, near, right, far. @param {Feature[]} features @returns {[number, number, number, number]} */
export function boundsOf(features) {
  const points = features.flatMap((one) => one.geometry.coordinates[0]);
  const xs = points.map(([x]) => x);
  const ys = points.map(([, y]) => y);
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}
