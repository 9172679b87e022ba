/** Plans in words: what may be planned, aims, shares, what an option costs. */
import { gained } from '../ui/words.js';
import { queryOf } from './address.js';
import { percent } from './words.js';

const SHORT_LINES = /** @type {Record<string, string>} */ ({ 'the middle of the fairway': 'mid-fairway' });
export const NO_DIFFERENCE = 'no real difference';
export const BASELINES = '/api/baselines';

/** Where plans are asked for. @param {string} player @returns {string} */
export function plansPath(player) {
  return `/api/players/${encodeURIComponent(player)}/plans`;
}

/**
 * The address of a plan. @param {string} player @param {{ground?: string, tees?: string, hole?: string, at?: string, lie?: string, baseline?: string}} filters
 */
export function planPath(player, { ground, tees, hole, at, lie, baseline }) {
  return `/api/players/${encodeURIComponent(player)}/tee-plan${queryOf([
    ['course_id', ground],
    ['hole', hole],
    ['tees', tees],
    ['from', at],
    ['lie', at ? (lie ?? 'fairway') : undefined],
    ['baseline', baseline],
  ])}`;
}

/**
 * The course, the tees and the hole that the address names, else those played last. Null without a mapped hole.
 * @param {any} plans what can be planned @param {import('./address.js').Filters} filters
 */
export function chosen(plans, filters) {
  const courses = plans.courses.filter((/** @type {any} */ one) => one.mapped.length);
  const course = courses.find((/** @type {any} */ one) => one.course_id === filters.ground) ?? courses[0];
  if (!course) return null;
  const names = course.tees.map((/** @type {any} */ one) => one.name);
  const tees = [filters.tees, course.latest_tees].find((name) => names.includes(name)) ?? names[0];
  const known = course.tees[names.indexOf(tees)].holes.filter((/** @type {any} */ hole) =>
    course.mapped.includes(hole.number),
  );
  const hole = known.find((/** @type {any} */ one) => one.number === Number(filters.hole)) ?? known[0];
  return hole ? { courses, course, names, tees, holes: known, hole } : null;
}

/** Where an option is aimed: "4 yd left of mid-fairway". @param {any} option @param {import('./lengths.js').Lengths} lengths @returns {string} */
export function aimWords(option, lengths) {
  const line = SHORT_LINES[option.line] ?? option.line;
  return Math.abs(option.aim_yd) < 0.5
    ? line
    : `${lengths.words(Math.abs(option.aim_yd))} ${option.aim_yd > 0 ? 'right' : 'left'} of ${line}`;
}

/** @param {number|null} value @returns {string} strokes */
export function strokes(value) {
  return value === null ? '–' : value.toFixed(2);
}

/** What the second-best option costs, or that it costs nothing. @param {any} plan @returns {string} */
export function secondWords(plan) {
  const { second, verdict } = plan;
  if (!second) return verdict;
  return `${second.name}: ${verdict === NO_DIFFERENCE ? NO_DIFFERENCE : gained(second.costs)}`;
}

/** With a capital. @param {string} words @returns {string} */
export function capital(words) {
  return `${words[0].toUpperCase()}${words.slice(1)}`;
}

/** The verdict of a plan in a sentence. @param {any} plan @returns {string} */
export function verdictWords({ verdict, second }) {
  if (!second) return `${capital(verdict)}.`;
  const costs = `${second.name} costs ${gained(second.costs)} strokes (${gained(second.low)} to ${gained(second.high)})`;
  return `${capital(verdict)}: ${costs}.`;
}

/** The share that a tee shot is meant to find: the green on a par 3, the fairway else. @param {any} plan @param {any} option @returns {string} */
export function hitShare({ hole }, option) {
  return percent(option.shares[hole.par > 3 ? 'fairway' : 'green']);
}
