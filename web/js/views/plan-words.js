/** Plans in words: what may be planned, aims, shares, what an option costs. */
import { gained } from '../ui/words.js';
import { queryOf } from './address.js';
import { percent } from './words.js';

const SHORT_LINES = /** @type {Record<string, string>} */ ({ 'the middle of the fairway': 'mid-fairway' });
const CALLED = /** @type {Record<string, string>} */ ({ draw: 'a draw', straight: 'a straight ball', fade: 'a fade' });
export const NO_DIFFERENCE = 'no real difference';
export const BASELINES = '/api/baselines';

/** Where plans are asked for. @param {string} player @returns {string} */
export function plansPath(player) {
  return `/api/players/${encodeURIComponent(player)}/plans`;
}

/** The day of a plan in an address of the API. @param {import('./address.js').Filters} filters @returns {[string, string|undefined][]} */
export function dayQuery({ blows, blows_from, firmness, temperature, altitude }) {
  return [
    ['wind_mph', blows],
    ['wind_from_deg', blows ? blows_from : undefined],
    ['firmness', firmness],
    ['temperature_c', temperature],
    ['altitude_m', altitude],
  ];
}

/** The address of a plan. @param {string} player @param {import('./address.js').Filters} filters */
export function planPath(player, filters) {
  const { ground, tees, hole, at, lie, pin, baseline, ahead } = filters;
  return `/api/players/${encodeURIComponent(player)}/tee-plan${queryOf([
    ['course_id', ground],
    ['hole', hole],
    ['tees', tees],
    ['from', at],
    ['lie', at ? (lie ?? 'fairway') : undefined],
    ['pin', pin],
    ['baseline', baseline],
    ['ahead', ahead ? 'true' : undefined],
    ...dayQuery(filters),
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

/** A chance as a count of 100; what is not quite all or nothing never reads so. @param {number} chance @returns {string} */
export function of100(chance) {
  if (chance > 0 && chance < 0.005) return 'under 1 of 100';
  return chance < 1 && chance > 0.995 ? 'over 99 of 100' : `${Math.round(chance * 100)} of 100`;
}

/** The verdict of a plan in a sentence. @param {any} plan @returns {string} */
export function verdictWords({ verdict, best, second }) {
  if (!second) return `${capital(verdict)}.`;
  const costs = `${second.name} costs ${gained(second.costs)} strokes (${gained(second.low)} to ${gained(second.high)})`;
  return `${capital(verdict)}: ${costs}; ${best.name} is better in ${of100(second.chance_best_is_better)}.`;
}

/**
 * Which planned shape suits the shot, and where it is aimed, a sentence or two for each club with several.
 * @param {any} plan @param {import('./lengths.js').Lengths} lengths @returns {string[]}
 */
export function shapeWords({ shapes }, lengths) {
  return (shapes ?? []).map((/** @type {any} */ one) => {
    const [shape, against] = [one.shape, one.against].map((name) => CALLED[name] ?? name);
    const suits = `${capital(one.club)}: ${one.verdict}: ${against} costs ${gained(one.costs)} strokes (${gained(one.low)} to ${gained(one.high)}); ${shape} is better in ${of100(one.chance)}.`;
    if (one.line === undefined) return suits; // an answer that was kept from before
    const aim = `${Math.abs(one.aim_yd) < 0.5 ? 'at ' : ''}${aimWords(one, lengths)}`;
    const [left, right] = [-one.miss_left_yd, one.miss_right_yd].map(
      (yards) => `${lengths.words(Math.abs(yards))} ${yards > 0 ? 'right' : 'left'}`,
    );
    return `${suits} Aim ${shape} ${aim}: eight in ten finish from ${left} to ${right} of that.`;
  });
}

/** The share that a tee shot is meant to find: the green on a par 3, the fairway else. @param {any} plan @param {any} option @returns {string} */
export function hitShare({ hole }, option) {
  return percent(option.shares[hole.par > 3 ? 'fairway' : 'green']);
}

/** What the best shot leaves, and what the plan that does not look ahead would cost. @param {any} plan @returns {string[]} */
export function aheadWords({ ahead, baseline }) {
  if (!ahead) return [];
  const { words, one_step: one, agree } = ahead;
  if (!one || agree) return words;
  const costs = one.costs === null ? '' : `: ${gained(one.costs)} strokes with your own next shots`;
  return [...words, `As “${baseline.id}” plays on, ${one.name} looks best${costs}.`];
}

const ACROSS = /** @type {Record<string, string>} */ ({
  water: 'Water',
  sand: 'Sand',
  out_of_bounds: 'Out of bounds',
});

/** What an option has to carry on its line, a sentence each. @param {any} option @param {import('./lengths.js').Lengths} lengths @returns {string[]} */
export function carryWords({ carries }, lengths) {
  return (carries ?? []).map(
    (/** @type {any} */ one) =>
      `${ACROSS[one.kind]} from ${lengths.words(one.from_yd)} to ${lengths.words(one.to_yd)}: ${percent(one.over)} land beyond it, ${percent(one.short)} stay short.`,
  );
}

/** What the plan reckons with of the day. @param {any} plan @returns {string|null} */
export function dayWords({ day }) {
  return day ? `${capital(day.words)}. ${capital(day.caution)}.` : null;
}
