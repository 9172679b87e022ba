/** Asks once about pairs of par and length that are most often a slip of the finger. */
import { isUnusual } from '../game/hole-lengths.js';
import { changedHoles } from '../game/round-edits.js';
import { spoken } from '../game/units.js';
import { confirmSheet } from '../ui/elements.js';

/** @typedef {import('../game/shot.js').Hole} Hole */

/**
 * True when the holes that changed are usual, or meant as they are.
 * @param {Hole[]} before @param {Hole[]} after @param {'yards'|'metres'|undefined} units of the player @returns {Promise<boolean>}
 */
export async function confirmUnusualHoles(before, after, units) {
  const odd = changedHoles(before, after).filter((hole) => isUnusual(hole.par, hole.length_yd));
  if (!odd.length) return true;
  const words = odd
    .map((hole) => `Hole ${hole.number}: par ${hole.par} of ${spoken(hole.length_yd, 'tee', units)}.`)
    .join(' ');
  return confirmSheet('Is that right?', `${words} That is unusual.`, 'Yes, save');
}
