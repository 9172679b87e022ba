/** Which club, aimed where: one hole, from the tee or from anywhere on it, from the player's own spread. */
import { h } from '../ui/elements.js';
import { lengthsIn } from './lengths.js';
import { failed } from './page.js';
import { carriesPart, caution, headline, methods } from './plan-answer.js';
import { NEXT, holeSteps, noMap, shotChooser, toSecond } from './plan-choosers.js';
import { curvePart } from './plan-curve.js';
import { holePart } from './plan-hole.js';
import { placeFault } from './plan-pin.js';
import { BASELINES, chosen, planPath, plansPath } from './plan-words.js';
import { aimPoint } from '../charts/plan-places.js';
import { whenShown } from '../charts/shown.js';

export const name = 'Plan a shot';
export const fixed = /** @type {const} */ (['ground', 'tees', 'hole']);

/** @typedef {import('./page.js').Context} Context */

/** @param {Context} context */
export function paths({ player, filters: given }) {
  const filters = given.at === NEXT ? { ...given, at: '', lie: '' } : given;
  const asked = filters.ground && filters.hole ? [planPath(player, filters)] : [];
  return { needed: [plansPath(player)], wished: [BASELINES, ...asked] };
}

/** @param {import('./asking.js').Answer[]} answers @param {Context} context */
export function build([plans, baselines, asked], context) {
  const found = chosen(plans.value, context.filters);
  if (!found) return noMap();
  if (!asked) {
    const waiting = h('p', { class: 'hint', role: 'status' }, 'Choosing the course played last…');
    whenShown(waiting, () =>
      context.change({ ground: found.course.course_id, tees: found.tees, hole: String(found.hole.number) }),
    );
    return [waiting];
  }
  const lengths = lengthsIn(context.units ?? context.session.units);
  const plan = asked.value;
  if (context.filters.at === NEXT && plan?.options.length) {
    const at = aimPoint(plan, plan.options[0]).map((yards) => String(Math.round(yards * 10) / 10));
    const waiting = h('p', { class: 'hint', role: 'status' }, 'From where the first shot is aimed…');
    whenShown(waiting, () => context.change({ at: at.join(','), lie: 'fairway' }));
    return [waiting];
  }
  const steps = holeSteps(found, lengths, context);
  const chooser = shotChooser(found, baselines.value, plan, lengths, context);
  if (!plan) return [failed(context.session, asked.failure ?? new Error('No answer')), steps, chooser];
  const fault = placeFault(plan, lengths, context.filters);
  if (fault) return [h('p', { class: 'notice', role: 'alert', id: 'place-fault' }, fault), steps, chooser];
  if (!plan.options.length) return [headline(plan, null, lengths), steps, chooser, methods(plan), caution(plan)];
  const option = plan.options.find((/** @type {any} */ one) => one.name === context.filters.option) ?? plan.options[0];
  return [
    headline(plan, plan.options[0], lengths),
    steps,
    holePart(plan, option, lengths, context),
    toSecond(found, context),
    chooser,
    carriesPart(option, lengths),
    curvePart(plan, option, lengths),
    methods(plan),
    caution(plan),
  ];
}
