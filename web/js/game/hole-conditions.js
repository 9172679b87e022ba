/**
 * Conditions of a hole as the player saw them: wind, and where the hole was cut. Wind goes on from hole to hole until another
 * is recorded; where the hole was cut does not. Twin of `server/game/hole_conditions.py`.
 *
 * @typedef {object} HoleConditions null or missing: not recorded
 * @property {string|null} [wind] one of WINDS @property {number|null} [wind_from_deg] clockwise from north
 * @property {string|null} [pin_depth] one of PIN_DEPTHS @property {string|null} [pin_side] one of PIN_SIDES
 *
 * @typedef {HoleConditions & {hole: number}} RecordedConditions
 */

export const NO_WIND = 'none';
export const WINDS = [NO_WIND, 'light', 'fresh', 'strong'];
export const PIN_DEPTHS = ['front', 'middle', 'back'];
export const PIN_SIDES = ['left', 'centre', 'right'];
export const GREEN_SPEEDS_FT = [3, 20];
/** Points of the compass, 45 degrees apart from north on. */
export const POINTS = ['N', 'NE', 'E', 'SE', 'S', 'SW', 'W', 'NW'];
const POINT_DEG = 45;

/**
 * Conditions of each of the holes, with wind carried on; no wind has no direction.
 * @param {number[]} holes @param {RecordedConditions[]|null|undefined} recorded @returns {Map<number, HoleConditions>}
 */
export function conditionsByHole(holes, recorded) {
  const ofHole = new Map((recorded ?? []).map((one) => [one.hole, one]));
  const wanted = new Set(holes);
  const found = new Map();
  /** @type {string|null} */
  let wind = null;
  /** @type {number|null} */
  let from = null;
  for (const hole of [...new Set([...wanted, ...ofHole.keys()])].sort((a, b) => a - b)) {
    const here = ofHole.get(hole);
    wind = here?.wind ?? wind;
    from = here?.wind_from_deg ?? from;
    if (wind === NO_WIND) from = null;
    if (wanted.has(hole))
      found.set(hole, {
        wind,
        wind_from_deg: from,
        pin_depth: here?.pin_depth ?? null,
        pin_side: here?.pin_side ?? null,
      });
  }
  return found;
}

/**
 * What a round records after something was changed on a hole; what is null again is not recorded, and what the app does not
 * know stays.
 * @param {RecordedConditions[]|null|undefined} recorded @param {number} hole @param {HoleConditions} change
 * @returns {RecordedConditions[]|null} by hole; null when nothing is recorded
 */
export function withConditions(recorded, hole, change) {
  const before = recorded ?? [];
  const here = { hole, ...before.find((one) => one.hole === hole), ...change };
  const kept = Object.entries(here).filter(([, value]) => value !== null && value !== undefined);
  const rest = before.filter((one) => one.hole !== hole);
  const found = /** @type {RecordedConditions[]} */ (kept.length > 1 ? [...rest, Object.fromEntries(kept)] : rest);
  return found.length ? found.sort((a, b) => a.hole - b.hole) : null;
}

/** The point of the compass nearest to a direction. @param {number} degrees @returns {string} */
export function pointOf(degrees) {
  return POINTS[Math.round(degrees / POINT_DEG) % POINTS.length];
}

/** @param {string} point @returns {number} degrees */
export function degreesOf(point) {
  return POINTS.indexOf(point) * POINT_DEG;
}

/** "light wind from SW", "no wind"; empty when nothing is recorded. @param {HoleConditions} conditions */
export function windWords({ wind, wind_from_deg: from }) {
  if (wind === NO_WIND) return 'no wind';
  const point = typeof from === 'number' ? ` from ${pointOf(from)}` : '';
  if (!wind && !point) return '';
  return `${wind ? `${wind} ` : ''}wind${point}`;
}

/** The same as short as can be, for the head of a hole: "light SW". @param {HoleConditions} conditions */
export function shortWind({ wind, wind_from_deg: from }) {
  if (wind === NO_WIND) return 'no wind';
  const point = typeof from === 'number' ? pointOf(from) : '';
  return wind ? `${wind} ${point}`.trim() : point && `wind ${point}`;
}

/** "pin back left"; empty when nothing is recorded. @param {HoleConditions} conditions */
export function pinWords({ pin_depth: depth, pin_side: side }) {
  const words = [depth, side].filter(Boolean).join(' ');
  return words && `pin ${words}`;
}

/**
 * Conditions in words, holes that agree together: "1 to 4: light wind from SW".
 * @param {Map<number, HoleConditions>} byHole in the order of the holes @returns {string[]} one a group
 */
export function conditionsLines(byHole) {
  /** @type {{first: number, last: number, words: string}[]} */
  const groups = [];
  for (const [hole, one] of byHole) {
    const words = [windWords(one), pinWords(one)].filter(Boolean).join(', ');
    const before = groups[groups.length - 1];
    if (before && before.words === words && before.last === hole - 1) before.last = hole;
    else groups.push({ first: hole, last: hole, words });
  }
  return groups
    .filter((one) => one.words)
    .map(({ first, last, words }) => `${first === last ? `Hole ${first}` : `Holes ${first} to ${last}`}: ${words}`);
}
