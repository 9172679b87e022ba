/**
 * What a player, a round and a shot are, as types. Lengths in yards, also on the green.
 *
 * @typedef {object} Player the settings that values depend on
 * @property {string} name @property {'right'|'left'} [plays] @property {'yards'|'metres'} [units] @property {string} [baseline]
 * @property {string} [category_scheme] @property {number|null} [short_game_yd]
 * @property {boolean} [shares_positions] readers and season tables get the positions of shots and flags
 *
 * @typedef {{number: number, par: number, length_yd: number, flag?: import('./geodesy.js').Position|null}} Hole `flag`: where the player
 * marked the hole in the green in this round
 *
 * @typedef {object} Round
 * @property {string} played_on @property {'practice'|'casual'|'competition'} kind
 * @property {string|null} [course_id] @property {string|null} [tees] @property {Hole[]} holes @property {string[]} bag
 * @property {number|null} [wind_mph] @property {number|null} [temperature_c] @property {string|null} [firmness]
 * @property {number|null} [green_speed_ft] @property {import('./hole-conditions.js').RecordedConditions[]|null} [hole_conditions]
 * @property {string|null} [note] @property {string|null} [ball_label] the player's own name for the ball played
 * @property {string|null} [lengths_taken] one of LENGTHS_TAKEN @property {boolean} [closed] @property {import('./closings.js').Closing[]|null} [closings]
 * @property {number|null} [holes_meant] of fewer holes than the round defines @property {boolean} [stopped] ended before its last hole
 *
 * @typedef {object} Shot
 * @property {string} round_id @property {number} hole @property {number} ball 1 is the ball of record
 * @property {number} order @property {string} lie @property {number} distance_yd @property {string} club_id
 * @property {boolean} [holed] @property {number} [penalty_strokes] @property {string|null} [penalty_reason]
 * @property {string|null} [end_lie] @property {number|null} [end_distance_yd]
 * @property {boolean} [picked_up] @property {boolean} [provisional]
 * @property {number} [provisional_for] order of the shot of ball 1 that is in question
 * @property {string|null} [swing] @property {string|null} [planned_shape] @property {string|null} [planned_height]
 * @property {string|null} [actual_shape]
 * @property {number|null} [target_yd] @property {number|null} [right_yd] @property {number|null} [long_yd]
 * @property {number|null} [carry_yd] how far it flew before it first touched the ground
 * @property {import('./geodesy.js').Position|null} [position] where it was played @property {string|null} [strike] @property {string|null} [note] @property {string|null} [at]
 *
 * @typedef {{record_id: string, body: Shot}} ShotRecord
 */

export const PRACTICE = 'practice';
export const CASUAL = 'casual';
export const COMPETITION = 'competition';
export const KINDS = [PRACTICE, CASUAL, COMPETITION];
export const SHAPES = ['draw', 'straight', 'fade'];
export const HEIGHTS = ['low', 'normal', 'high'];
export const STRIKES = ['centre', 'heel', 'toe', 'high', 'low', 'thin', 'fat'];
export const LONGEST_BALL_LABEL = 60;
export const LENGTHS_TAKEN = ['paced', 'laser', 'guessed', 'position', 'map'];
export const SORTS = ['driver', 'wood', 'hybrid', 'iron', 'wedge', 'putter'];
