/** Ranges that a round's figures must keep, with their units. Each bound is a stated choice of this tool. */

/** The farthest a ball can lie from the hole, in yards. */
export const FARTHEST_YD = 700;
/** The farthest a ball on the green can lie from the hole, in yards (150 ft). */
export const FARTHEST_ON_GREEN_YD = 50;
export const LOWEST_PAR = 3;
export const HIGHEST_PAR = 6;
export const MOST_HOLES = 36;
export const MOST_SHOTS_A_BALL = 99;
export const MOST_BALLS = 30;
/** The farthest a finish can be noted from its target, sideways or in length, in yards. */
export const FARTHEST_OFFLINE_YD = 300;
/** The farthest a ball can be recorded to have flown before it first touched the ground, in yards. */
export const FARTHEST_CARRY_YD = 400;
/** A ball may fly so much farther than it finishes, in yards: backspin brings it back. */
export const CARRY_BEYOND_YD = 15;
