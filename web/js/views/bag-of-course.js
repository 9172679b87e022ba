/** Which fourteen clubs for a course: which course, then what each club is worth there. */
import { courseBag } from './course-bag.js';
import { noMap } from './plan-choosers.js';
import { chosen, plansPath } from './plan-words.js';
import { courseRow } from './score-ahead.js';

export const name = 'Course bag';

/** @param {import('./page.js').Context} context */
export function paths({ player }) {
  return { needed: [plansPath(player)] };
}

/** @param {import('./asking.js').Answer[]} answers @param {import('./page.js').Context} context */
export function build([plans], context) {
  const found = chosen(plans.value, context.filters);
  if (!found) return noMap();
  return [courseRow(found, context), courseBag(found, context)];
}
