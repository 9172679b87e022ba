/** The score of a predicted round: which course, then how likely each score is. */
import { addressOf, plannedFilters } from './address.js';
import { h } from '../ui/elements.js';
import { courseAndTees, noMap } from './plan-choosers.js';
import { chosen, plansPath } from './plan-words.js';
import { roundAhead } from './round-ahead.js';

export const name = 'Predicted score';

/** @param {import('./page.js').Context} context */
export function paths({ player }) {
  return { needed: [plansPath(player)] };
}

/** @param {import('./asking.js').Answer[]} answers @param {import('./page.js').Context} context */
export function build([plans], context) {
  const found = chosen(plans.value, context.filters);
  if (!found) return noMap();
  return [courseRow(found, context), roundAhead(found, context)];
}

/** Which course and tees, and the way to the round's plan. @param {any} found @param {import('./page.js').Context} context */
export function courseRow(found, { player, filters, change }) {
  const { course, tees } = found;
  return h(
    'div',
    { class: 'row chooser no-print' },
    ...courseAndTees(found, {
      course: (ground) => change({ ground, tees: '' }),
      tees: (value) => change({ ground: course.course_id, tees: value }),
    }),
    h(
      'a',
      {
        class: 'button',
        id: 'to-round-plan',
        href: `#/${addressOf(player, 'round-plan', { ground: course.course_id, tees, baseline: filters.baseline, ...plannedFilters(filters) })}`,
      },
      'Plan of the round',
    ),
  );
}
