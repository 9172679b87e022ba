/**
 * Penalty strokes and where the next ball is played (Rules of Golf 2023, rules 17, 18 and 19).
 *
 * A penalty stroke belongs to the shot that brought it. The Committee's local rules come first.
 */

export const OUT_OF_BOUNDS = 'out_of_bounds';
export const LOST = 'lost';
export const PENALTY_AREA = 'penalty_area';
export const UNPLAYABLE = 'unplayable';
export const OTHER = 'other';
export const REASONS = [OUT_OF_BOUNDS, LOST, PENALTY_AREA, UNPLAYABLE, OTHER];

/** Reasons after which rule 18.2b knows one way on: from where the previous stroke was made. */
export const STROKE_AND_DISTANCE_ONLY = [OUT_OF_BOUNDS, LOST];

/** Rule 4.1b: a counting round is played with no more than 14 clubs. */
export const MOST_CLUBS = 14;

/**
 * One way to go on after trouble. `same_spot`: the next shot starts exactly where this one did. `from_sand`: offered only
 * when the ball lies in sand.
 * @typedef {{name: string, rule: string, strokes: 0|1|2, same_spot: boolean, words: string, from_sand?: boolean}} WayOn
 */

const AGAIN = 'again from the same spot';
const FAIRWAY_DROP = {
  name: 'fairway_drop',
  rule: 'model local rule E-5',
  strokes: /** @type {2} */ (2),
  same_spot: false,
  words: 'fairway drop, if the local rule is in force',
};

/**
 * @param {string} rule @returns {WayOn}
 */
function sameSpot(rule) {
  return { name: 'same_spot', rule, strokes: 1, same_spot: true, words: AGAIN };
}

/** @type {Record<string, WayOn[]>} */
export const WAYS_ON = {
  [OUT_OF_BOUNDS]: [sameSpot('18.2b'), FAIRWAY_DROP],
  [LOST]: [sameSpot('18.2b'), FAIRWAY_DROP],
  [PENALTY_AREA]: [
    {
      name: 'lateral',
      rule: '17.1d(3)',
      strokes: 1,
      same_spot: false,
      words: 'red stakes: two club-lengths from the crossing point',
    },
    {
      name: 'back_on_line',
      rule: '17.1d(2)',
      strokes: 1,
      same_spot: false,
      words: 'back on the line from the hole through the crossing point',
    },
    sameSpot('17.1d(1)'),
    { name: 'as_it_lies', rule: '17.1b', strokes: 0, same_spot: false, words: 'as it lies' },
  ],
  [UNPLAYABLE]: [
    { name: 'lateral', rule: '19.2c', strokes: 1, same_spot: false, words: 'two club-lengths from the ball' },
    {
      name: 'back_on_line',
      rule: '19.2b',
      strokes: 1,
      same_spot: false,
      words: 'back on the line from the hole through the ball',
    },
    sameSpot('19.2a'),
    {
      name: 'back_on_line_outside_sand',
      rule: '19.3b',
      strokes: 2,
      same_spot: false,
      words: 'from sand: back on the line, outside the bunker',
      from_sand: true,
    },
  ],
  [OTHER]: [
    sameSpot('18.1'),
    { name: 'as_ruled_one', rule: 'as ruled', strokes: 1, same_spot: false, words: 'one stroke, as ruled' },
    {
      name: 'as_ruled_two',
      rule: 'as ruled',
      strokes: 2,
      same_spot: false,
      words: 'the general penalty, two strokes, as ruled',
    },
  ],
};

/**
 * True when the rules leave only stroke and distance: lost or out of bounds for one stroke.
 * @param {string|null|undefined} reason @param {number} strokes @returns {boolean}
 */
export function returnsToSameSpot(reason, strokes) {
  return STROKE_AND_DISTANCE_ONLY.includes(reason ?? '') && strokes === 1;
}

/**
 * True when the ball goes on from somewhere that the stroke before does not tell: relief from a penalty area, or played as it lies
 * there, or relief for an unplayable ball.
 * @param {string|null|undefined} reason @returns {boolean}
 */
export function isRelief(reason) {
  return reason === PENALTY_AREA || reason === UNPLAYABLE;
}

/**
 * True after the fairway drop of model local rule E-5: lost or out of bounds for two strokes.
 * @param {string|null|undefined} reason @param {number} strokes @returns {boolean}
 */
export function isFairwayDrop(reason, strokes) {
  return STROKE_AND_DISTANCE_ONLY.includes(reason ?? '') && strokes === 2;
}
