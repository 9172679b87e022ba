/** Lies: where the ball rests. */

export const TEE = 'tee';
export const FAIRWAY = 'fairway';
export const FRINGE = 'fringe';
export const ROUGH = 'rough';
export const SAND = 'sand';
export const RECOVERY = 'recovery';
export const GREEN = 'green';

/** @typedef {'tee'|'fairway'|'fringe'|'rough'|'sand'|'recovery'|'green'} Lie */

/** @type {readonly Lie[]} */
export const LIES = [TEE, FAIRWAY, FRINGE, ROUGH, SAND, RECOVERY, GREEN];

/** Lies that a baseline has no column for, and the lie whose value they take. @type {Record<string, Lie>} */
export const VALUED_AS = { [FRINGE]: FAIRWAY };

/** @param {unknown} lie @returns {lie is Lie} */
export function isLie(lie) {
  return LIES.includes(/** @type {Lie} */ (lie));
}
