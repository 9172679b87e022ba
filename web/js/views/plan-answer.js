/** The answer of a plan, first of all on its page: what to hit, what it costs, under which conditions. */
import { h } from '../ui/elements.js';
import {
  aheadWords,
  aimWords,
  capital,
  carryWords,
  dayWords,
  shapeWords,
  strokes,
  verdictWords,
} from './plan-words.js';
import { placeWords } from './plan-pin.js';

/** @param {any} plan @param {any} best @param {import('./lengths.js').Lengths} lengths */
export function headline(plan, best, lengths) {
  const where = `Hole ${plan.hole.number}, par ${plan.hole.par}, ${lengths.words(plan.to_hole_yd)} to the hole from the ${plan.lie}`;
  const given = [...placeWords(plan, lengths), plan.day ? dayWords(plan) : null].filter((words) => words !== null);
  const ofBest = shapeWords(
    { shapes: (plan.shapes ?? []).filter((/** @type {any} */ one) => one.club === best?.club) },
    lengths,
  );
  return h(
    'section',
    { class: 'headline plan-answer' },
    ...given.map((words) => h('p', { class: words === dayWords(plan) ? 'plan-day' : 'plan-place' }, words)),
    h(
      'p',
      { class: 'verdict', id: 'plan-best' },
      best ? `${capital(best.name)}, ${best.aim_yd ? '' : 'at '}${aimWords(best, lengths)}` : plan.verdict,
    ),
    best ? figureOf(best) : null,
    best ? h('p', { id: 'plan-verdict', 'data-verdict': plan.verdict }, verdictWords(plan)) : null,
    ...ofBest.map((words) => h('p', { class: 'plan-shape' }, words)),
    ...aheadWords(plan).map((words) => h('p', { class: 'plan-ahead' }, words)),
    h(
      'p',
      { class: 'hint' },
      `${where}. “${plan.baseline.id}”, version ${plan.baseline.version}, expects ${strokes(plan.baseline.expected)} from here.`,
    ),
  );
}

/** The one figure: expected strokes, with their interval. @param {any} best */
function figureOf(best) {
  const interval =
    best.low === null || best.high === null ? '' : `90 % interval ${strokes(best.low)} to ${strokes(best.high)}`;
  return h(
    'p',
    { class: 'plan-figure', id: 'plan-figure' },
    h('span', { class: 'number' }, strokes(best.expected)),
    ' strokes ',
    h('span', { class: 'plan-interval' }, interval),
  );
}

/** What has to be carried, folded; the drawing has the distances. @param {any} option @param {import('./lengths.js').Lengths} lengths */
export function carriesPart(option, lengths) {
  const words = carryWords(option, lengths);
  return words.length
    ? h(
        'details',
        { class: 'plan-carries' },
        h('summary', null, `What ${option.name} has to carry`),
        words.map((one) => h('p', { class: 'plan-carry' }, one)),
      )
    : null;
}

/** Which shots stand behind the plan: each note once, with the options that it speaks of; and what is left out. @param {any} plan */
export function methods({ options, left_out: given }) {
  /** @type {Map<string, string[]>} */
  const spoken = new Map();
  for (const option of options)
    for (const note of option.notes) spoken.set(note, [...(spoken.get(note) ?? []), option.name]);
  const lines = [...spoken].map(([note, names]) =>
    h('li', null, `${names.length === options.length ? 'All' : names.join(', ')}: ${note}`),
  );
  const out = given.map((/** @type {any} */ one) => h('li', null, `${one.name}: ${one.reason}`));
  return h(
    'details',
    { class: 'no-print' },
    h('summary', null, 'Which shots it is based on'),
    h('p', null, 'Best in N of 100: of 100 patterns that fit the shots, each with its own best aim.'),
    lines.length ? h('ul', null, lines) : null,
    out.length ? [h('p', null, 'Not planned with:'), h('ul', null, out)] : null,
  );
}

/** @param {any} plan */
export function caution(plan) {
  return h('p', { class: 'hint caution' }, `${plan.caution} Make sure nobody is where the ball may go.`);
}
