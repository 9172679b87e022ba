/**
 * Places on the WGS84 ellipsoid: the geodesic between two, and a hole's own yards and back. The server reckons the same
 * (geodesy.py); shared vectors hold both to it.
 *
 * @typedef {number[]} Position longitude, latitude (degrees) and, where it is known, accuracy in metres
 * @typedef {import('./hole-maps.js').Point} Point
 * @typedef {{lon: number, lat: number, turned_deg: number}} Frame a plane in yards that touches the ellipsoid at `lon`, `lat`; its y
 * points `turned_deg` clockwise from north
 */
import { METRES_PER_YARD } from './units.js';

export const SEMI_MAJOR_M = 6_378_137; // WGS84 (NIMA TR8350.2)
export const FLATTENING = 1 / 298.257223563;
export const FARTHEST_LOCAL_M = 5000; // beyond this a place does not belong to a hole's frame
const E2 = FLATTENING * (2 - FLATTENING);
const MOST_STEPS = 200;
const FARTHEST_FRAME = { lon: 180, lat: 89, turned_deg: 360 }; // nearer to a pole the plane of a hole runs over it

/** @param {number} degrees */
const radians = (degrees) => (degrees * Math.PI) / 180;
/** @param {number} angle in radians */
const degrees = (angle) => (angle * 180) / Math.PI;

/** Metres X, Y, Z from the earth's centre. @param {number} lon radians @param {number} lat radians @returns {[number, number, number]} */
function earthCentred(lon, lat) {
  const normal = SEMI_MAJOR_M / Math.sqrt(1 - E2 * Math.sin(lat) ** 2);
  return [
    normal * Math.cos(lat) * Math.cos(lon),
    normal * Math.cos(lat) * Math.sin(lon),
    normal * (1 - E2) * Math.sin(lat),
  ];
}

/** Where a hole's map lies on the earth; null when it does not say so, or says what is no place. @param {any} body of the map's record @returns {Frame|null} */
export function frameOf(body) {
  const frame = body?.frame;
  const sound = Object.entries(FARTHEST_FRAME).every(
    ([name, most]) => typeof frame?.[name] === 'number' && Math.abs(frame[name]) <= most,
  );
  return sound ? { lon: frame.lon, lat: frame.lat, turned_deg: frame.turned_deg } : null;
}

/** A place in a hole's yards; null for one farther than 5 km. @param {Frame} frame @param {Position} place @returns {Point|null} */
export function toYards(frame, [lon, lat]) {
  const origin = earthCentred(radians(frame.lon), radians(frame.lat));
  const away = earthCentred(radians(lon), radians(lat)).map((metres, axis) => metres - origin[axis]);
  if (Math.hypot(...away) > FARTHEST_LOCAL_M) return null;
  const [east, north] = [radians(frame.lon), radians(frame.lat)];
  const toEast = -Math.sin(east) * away[0] + Math.cos(east) * away[1];
  const toNorth = -Math.sin(north) * (Math.cos(east) * away[0] + Math.sin(east) * away[1]) + Math.cos(north) * away[2];
  const turn = radians(frame.turned_deg);
  return [
    (toEast * Math.cos(turn) - toNorth * Math.sin(turn)) / METRES_PER_YARD,
    (toEast * Math.sin(turn) + toNorth * Math.cos(turn)) / METRES_PER_YARD,
  ];
}

/**
 * The place of a point in a hole's yards: the inverse of `toYards`, by Newton's steps with the radii of curvature at the origin.
 * @param {Frame} frame @param {Point} point within 5 km @returns {[number, number]} longitude, latitude
 */
export function toPlace(frame, [x, y]) {
  const sine = Math.sin(radians(frame.lat));
  const normal = SEMI_MAJOR_M / Math.sqrt(1 - E2 * sine ** 2);
  const meridian = (normal * (1 - E2)) / (1 - E2 * sine ** 2);
  const turn = radians(frame.turned_deg);
  /** @type {[number, number]} */
  const place = [frame.lon, frame.lat];
  for (let step = 0; step < 6; step += 1) {
    const [atX, atY] = toYards(frame, place) ?? [0, 0];
    const [dx, dy] = [(x - atX) * METRES_PER_YARD, (y - atY) * METRES_PER_YARD];
    place[0] += degrees((dx * Math.cos(turn) + dy * Math.sin(turn)) / (normal * Math.cos(radians(frame.lat))));
    place[1] += degrees((dy * Math.cos(turn) - dx * Math.sin(turn)) / meridian);
  }
  return place;
}

/**
 * The shortest line between two places: its length in metres and its azimuth at the first in degrees, by Vincenty's inverse formula
 * (Survey Review 23 (1975) 88-93), good to 0.5 mm. Null for two so nearly opposite each other on the earth that it does not settle.
 * @param {Position} from @param {Position} to @returns {{metres: number, azimuth: number}|null}
 */
export function geodesic([lon1, lat1], [lon2, lat2]) {
  if (lon1 === lon2 && lat1 === lat2) return { metres: 0, azimuth: 0 };
  const [u1, u2] = [lat1, lat2].map((lat) => Math.atan((1 - FLATTENING) * Math.tan(radians(lat))));
  const turns = Math.round((lon2 - lon1) / 360);
  const apart = radians(lon2 - lon1 - 360 * turns);
  let over = apart;
  for (let step = 0; step < MOST_STEPS; step += 1) {
    const east = Math.cos(u2) * Math.sin(over);
    const north = Math.cos(u1) * Math.sin(u2) - Math.sin(u1) * Math.cos(u2) * Math.cos(over);
    const sinArc = Math.hypot(east, north);
    const cosArc = Math.sin(u1) * Math.sin(u2) + Math.cos(u1) * Math.cos(u2) * Math.cos(over);
    const arc = Math.atan2(sinArc, cosArc);
    const sinEquator = (Math.cos(u1) * Math.cos(u2) * Math.sin(over)) / sinArc;
    const cos2 = 1 - sinEquator ** 2;
    const middle = cos2 > 1e-15 ? cosArc - (2 * Math.sin(u1) * Math.sin(u2)) / cos2 : 0;
    const c = (FLATTENING / 16) * cos2 * (4 + FLATTENING * (4 - 3 * cos2));
    const bent = middle + c * cosArc * (2 * middle ** 2 - 1);
    const following = apart + (1 - c) * FLATTENING * sinEquator * (arc + c * sinArc * bent);
    const settled = Math.abs(following - over) < 1e-13;
    over = following;
    if (settled)
      return {
        metres: lengthOf(arc, sinArc, cosArc, middle, cos2),
        azimuth: (degrees(Math.atan2(east, north)) + 360) % 360,
      };
  }
  return null;
}

/** The last step of Vincenty's inverse formula. @param {number} arc @param {number} sinArc @param {number} cosArc @param {number} middle @param {number} cos2 */
function lengthOf(arc, sinArc, cosArc, middle, cos2) {
  const polar = SEMI_MAJOR_M * (1 - FLATTENING);
  const u = (cos2 * (SEMI_MAJOR_M ** 2 - polar ** 2)) / polar ** 2;
  const a = 1 + (u / 16384) * (4096 + u * (-768 + u * (320 - 175 * u)));
  const b = (u / 1024) * (256 + u * (-128 + u * (74 - 47 * u)));
  const inner = cosArc * (2 * middle ** 2 - 1) - (b / 6) * middle * (4 * sinArc ** 2 - 3) * (4 * middle ** 2 - 3);
  return polar * a * (arc - b * sinArc * (middle + (b / 4) * inner));
}
