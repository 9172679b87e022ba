/** Which club, aimed where: one hole, from the tee or from anywhere on it, from the player's own spread. */
import { plain } from '../game/numbers.js';
import { button, choices, field, freshId, h, select } from '../ui/elements.js';
import { counted, gained } from '../ui/words.js';
import { toYards } from '../game/units.js';
import { addressOf } from './address.js';
import { curveChart } from '../charts/curve-chart.js';
import { extent, ticks } from '../charts/drawing.js';
import { figure, table, valueCell } from '../charts/figure.js';
import { lengthsIn } from './lengths.js';
import { whyNot } from './page.js';
import { planDrawing, planLegend } from '../charts/plan-drawing.js';
import { BASELINES, aimWords, capital, chosen, planPath, plansPath, strokes, verdictWords } from './plan-words.js';
import { whenShown } from '../charts/shown.js';
import { percent } from './words.js';

export const name = 'Plan a shot';

/** @typedef {import('./page.js').Context} Context */

const LIES = /** @type {[string, string][]} */ (
  ['fairway', 'rough', 'sand', 'fringe', 'recovery'].map((lie) => [lie, lie])
);

/** @param {Context} context */
export function paths({ player, filters }) {
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
  const chooser = shotChooser(found, baselines.value, asked.value, lengths, context);
  if (!asked.value) return [chooser, whyNot(asked.failure)];
  const plan = asked.value;
  if (!plan.options.length) return [headline(plan, null, lengths), chooser, leftOut(plan), caution(plan)];
  const option = plan.options.find((/** @type {any} */ one) => one.name === context.filters.option) ?? plan.options[0];
  return [
    headline(plan, plan.options[0], lengths),
    chooser,
    holePart(plan, option, lengths, context),
    curvePart(plan, option, lengths),
    notes(plan),
    leftOut(plan),
    caution(plan),
  ];
}

/**
 * Which course and tees. @param {any} found @param {{course: (id: string) => void, tees: (name: string) => void}} choose
 * @returns {HTMLElement[]}
 */
export function courseAndTees({ courses, course, names, tees }, choose) {
  const known = courses.map((/** @type {any} */ one) => [one.course_id, one.name]);
  const sets = names.map((/** @type {string} */ one) => [one, one]);
  return [
    field('Course', select(known, course.course_id, choose.course, { id: 'plan-course' })),
    field('Tees', select(sets, tees, choose.tees, { id: 'plan-tees' })),
  ];
}

/** What stands there when no hole has a map. */
export function noMap() {
  return [
    h('p', { class: 'empty' }, 'No hole is mapped yet.'),
    h(
      'p',
      null,
      'A plan needs the map of its hole: a minute each on the phone, under Courses, or a GeoJSON file in one go.',
    ),
    h('p', null, h('a', { href: '#/courses' }, 'To the courses')),
  ];
}

/** @param {any} plan @param {any} best @param {import('./lengths.js').Lengths} lengths */
function headline(plan, best, lengths) {
  const where = `Hole ${plan.hole.number}, par ${plan.hole.par}, ${lengths.words(plan.to_hole_yd)} to the hole from the ${plan.lie}`;
  return h(
    'section',
    { class: 'headline' },
    h(
      'p',
      { class: 'verdict', id: 'plan-best' },
      best ? `${capital(best.name)}, ${best.aim_yd ? '' : 'at '}${aimWords(best, lengths)}` : plan.verdict,
    ),
    best ? h('p', { id: 'plan-verdict', 'data-verdict': plan.verdict }, verdictWords(plan)) : null,
    h(
      'p',
      { class: 'hint' },
      `${where}. “${plan.baseline.id}”, version ${plan.baseline.version}, expects ${strokes(plan.baseline.expected)} from here.`,
    ),
  );
}

/** @param {any} found @param {any} baselines @param {any} plan @param {import('./lengths.js').Lengths} lengths @param {Context} context */
function shotChooser(found, baselines, plan, lengths, context) {
  const { filters, change } = context;
  const { course, tees, holes, hole } = found;
  const moved = { at: '', lie: '', option: '' };
  const place = holes.indexOf(hole);
  const step = (/** @type {number} */ by, /** @type {string} */ words) => {
    const next = holes[place + by];
    return button(words, () => next && change({ ...moved, hole: String(next.number) }), {
      id: by < 0 ? 'hole-before' : 'hole-after',
      disabled: !next,
      'aria-label': by < 0 ? 'The hole before' : 'The next hole',
    });
  };
  const lists = baselines ? baselines.baselines.map((/** @type {any} */ one) => [one.id, one.id]) : [];
  const chosen = filters.baseline ?? plan?.baseline.id ?? 'tour';
  const options = /** @type {[string, string][]} */ (
    lists.some((/** @type {string[]} */ [id]) => id === chosen) ? lists : [[chosen, chosen], ...lists]
  );
  return h(
    'div',
    { class: 'plan-chooser no-print' },
    h(
      'div',
      { class: 'hole-steps' },
      step(-1, '‹'),
      field(
        'Hole',
        select(
          holes.map((/** @type {any} */ one) => [
            String(one.number),
            `${one.number}: par ${one.par}, ${lengths.words(one.length_yd)}`,
          ]),
          String(hole.number),
          (number) => change({ ...moved, hole: number }),
          { id: 'plan-hole' },
        ),
      ),
      step(1, '›'),
    ),
    choices(
      'Where the ball lies',
      [
        ['tee', 'From the tee'],
        ['else', 'From elsewhere'],
      ],
      filters.at ? 'else' : 'tee',
      (value) =>
        change(
          value === 'tee'
            ? moved
            : { ...moved, at: placeAt(plan, Math.min(150, (plan?.to_hole_yd ?? 150) * 0.75), 0), lie: 'fairway' },
        ),
      { id: 'ball' },
    ),
    filters.at && plan ? elsewhere(plan, lengths, context) : null,
    h(
      'details',
      { class: 'more-settings' },
      h('summary', null, `${course.name}, ${tees} tees, against ${chosen}`),
      h(
        'div',
        { class: 'row' },
        ...courseAndTees(found, {
          course: (ground) => change({ ...moved, ground, tees: '', hole: '1' }),
          tees: (value) => change({ ...moved, tees: value }),
        }),
        field(
          'Expected strokes of',
          select(options, chosen, (baseline) => change({ baseline }), { id: 'plan-baseline' }),
        ),
      ),
    ),
    h(
      'p',
      null,
      h(
        'a',
        {
          href: `#/${addressOf(context.player, 'round-plan', { ground: course.course_id, tees, baseline: filters.baseline })}`,
          id: 'to-round-plan',
        },
        'All holes on one page',
      ),
    ),
  );
}

/** A place so far from the hole on the line from the tee, and so far right of it. @param {any} plan @param {number} away yards @param {number} right yards @returns {string} */
function placeAt(plan, away, right) {
  const [x, y] = plan?.pin ?? [0, 300];
  const far = Math.hypot(x, y) || 1;
  const [alongX, alongY] = [x / far, y / far];
  return [x - alongX * away + alongY * right, y - alongY * away - alongX * right]
    .map((value) => String(Math.round(value * 10) / 10))
    .join(',');
}

/** @param {any} plan @param {import('./lengths.js').Lengths} lengths @param {Context} context */
function elsewhere(plan, lengths, { filters, change }) {
  const [x, y] = plan.pin;
  const far = Math.hypot(x, y) || 1;
  const [dx, dy] = [plan.from[0] - x, plan.from[1] - y];
  const away = -(dx * x + dy * y) / far;
  const right = (dx * y - dy * x) / far;
  const most = lengths.of(700);
  const typed = (
    /** @type {string} */ words,
    /** @type {string} */ id,
    /** @type {number} */ yards,
    /** @type {(value: number) => string} */ at,
  ) => {
    const input = h('input', {
      type: 'number',
      inputmode: 'decimal',
      step: 'any',
      id,
      min: id === 'ball-away' ? '0' : String(-Math.round(most)),
      max: String(Math.round(most)),
      value: String(Math.round(lengths.of(yards))),
    });
    input.addEventListener('change', () => {
      if (input.value !== '' && Math.abs(Number(input.value)) <= most)
        change({ at: at(toYards(Number(input.value), lengths.unit)), option: '' });
    });
    return field(words, input);
  };
  return h(
    'div',
    { class: 'row' },
    typed(`Still to the hole, ${lengths.unit}`, 'ball-away', away, (value) => placeAt(plan, value, right)),
    typed(`Right (+) or left (−) of the line, ${lengths.unit}`, 'ball-right', right, (value) =>
      placeAt(plan, away, value),
    ),
    field(
      'Lie',
      select(LIES, filters.lie ?? 'fairway', (lie) => change({ lie, option: '' }), { id: 'plan-lie' }),
    ),
  );
}

/** @param {any} plan @param {any} option @param {import('./lengths.js').Lengths} lengths @param {Context} context */
function holePart(plan, option, lengths, context) {
  const { session, change } = context;
  const close = session.state.planClose;
  const words = `The hole drawn to scale, ${option.landings.ends.length} likely landings of ${option.name} around its aim, ${aimWords(option, lengths)}: ${shareWords(option)}. The table holds the numbers of every club.`;
  const look = choices(
    'What is drawn',
    [
      ['whole', 'Whole hole'],
      ['close', 'Where it lands'],
    ],
    close ? 'close' : 'whole',
    (value) => {
      session.state.planClose = value === 'close';
      change({});
    },
    { id: 'look' },
  );
  return h(
    'section',
    null,
    h('h2', null, `${capital(option.name)}: ${aimWords(option, lengths)}`),
    h('p', null, `${strokes(option.expected)} strokes, ${shareWords(option)}.`),
    figure(
      (room) => planDrawing(plan, option, { close, lengths, words }, room),
      clubs(plan, option, lengths, context),
      h('div', { class: 'no-print' }, look),
      planLegend(plan, freshId()),
    ),
  );
}

/** @param {any} option */
function shareWords({ shares }) {
  const parts = [
    ['on the fairway', shares.fairway],
    ['on the green', shares.green],
    ['in the rough', shares.rough],
    ['in trouble', shares.trouble],
  ].filter(([, share]) => share >= 0.005);
  return parts.map(([words, share]) => `${percent(share)} ${words}`).join(', ');
}

/** @param {any} plan @param {any} shown @param {import('./lengths.js').Lengths} lengths @param {Context} context */
function clubs(plan, shown, lengths, { player, filters }) {
  const best = plan.options[0];
  const rows = plan.options.map((/** @type {any} */ option) => [
    [
      h(
        'a',
        {
          class: 'cell-link',
          href: `#/${addressOf(player, 'plan', { ...filters, option: option.name })}`,
          'aria-current': option === shown ? 'true' : null,
        },
        option.name,
      ),
      h('span', { class: 'list-under' }, aimWords(option, lengths)),
      h('span', { class: 'list-under' }, `${lengths.words(option.reach_yd)}, ${counted(option.shots, 'shot')}`),
    ],
    valueCell(
      strokes(option.expected),
      option.low === null || option.high === null ? '–' : `${strokes(option.low)} to ${strokes(option.high)}`,
    ),
    option === best ? 'best' : gained(option.expected - best.expected),
    ['fairway', 'green', 'trouble'].map((end) =>
      h('span', { class: 'share' }, `${end} ${percent(option.shares[end])}`),
    ),
  ]);
  return table(
    'Every club at its best aim, with the 90 % interval of its spread',
    ['club, aim', 'strokes', 'costs', 'where it ends'],
    rows,
  );
}

/** @param {any} plan @param {any} option @param {import('./lengths.js').Lengths} lengths */
function curvePart(plan, option, lengths) {
  const best = plan.options[0];
  const points = (/** @type {any} */ one) =>
    one.curve.map((/** @type {any} */ point) => ({
      x: lengths.of(point.aim_yd),
      y: point.expected,
      low: null,
      high: null,
    }));
  const finite = [best, option].flatMap((one) =>
    one.curve.map((/** @type {any} */ point) => point.expected).filter((/** @type {any} */ value) => value !== null),
  );
  const lowest = Math.min(...finite);
  const shownValues = finite.filter((value) => value <= lowest + 1.5);
  const [low, high] = extent([...shownValues, option.low, best.low, option.high], { least: 0.3 });
  const pointsInView = (/** @type {any} */ one) =>
    points(one).map((/** @type {any} */ point) =>
      point.y !== null && point.y <= high ? point : { ...point, y: null },
    );
  const dotOf = (/** @type {any} */ one) => ({
    x: lengths.of(one.aim_yd),
    y: one.expected,
    low: one.low !== null && one.low >= low ? one.low : null,
    high: one.high !== null && one.high <= high ? one.high : null,
  });
  const others = option === best ? [] : [{ curve: pointsInView(best), dots: [dotOf(best)], tone: 'reference' }];
  const series = [...others, { curve: pointsInView(option), dots: [dotOf(option)], tone: 'one' }];
  const reach = lengths.of(Math.max(...option.curve.map((/** @type {any} */ point) => point.aim_yd)));
  const [from, to] = option.aims_as_good_yd;
  const title = `Expected strokes over aim, ${option.name}`;
  const description = `Expected strokes of ${option.name} at aims across ${option.line}; lowest at ${aimWords(option, lengths)}.`;
  const side = (/** @type {number} */ value) =>
    value === 0 ? '0' : plain(Math.abs(value), 0) + (value < 0 ? ' L' : ' R');
  const draw = (/** @type {any} */ room) =>
    curveChart(
      series,
      {
        domain: [-1.06 * reach, 1.06 * reach],
        words: side,
        marks: ticks(-reach, reach, 4).values.map((value) => ({ value, words: side(value) })),
      },
      { domain: [low, high], words: (value, decimals) => value.toFixed(Math.max(1, decimals)) },
      { title, description, x: `aim, ${lengths.unit}`, y: 'expected strokes' },
      room,
    );
  const steps = option.curve.filter((/** @type {any} */ _, /** @type {number} */ place) => place % 5 === 0);
  const rows = steps.map((/** @type {any} */ point) => [
    point.aim_yd === 0
      ? 'on the line'
      : `${lengths.words(Math.abs(point.aim_yd))} ${point.aim_yd < 0 ? 'left' : 'right'}`,
    point.expected === null ? 'nearly all out of bounds' : strokes(point.expected),
    point.expected === null ? '–' : gained(point.expected - option.expected),
  ]);
  const good =
    from === to
      ? 'No other aim is as good.'
      : `Aims from ${sideWords(from, lengths)} to ${sideWords(to, lengths)} of ${option.line} are as good, to 0.02 strokes.`;
  const under = h(
    'p',
    { class: 'hint' },
    `${option === best ? '' : `The dotted curve is ${best.name}, the best. `}Aims are left (L) and right (R) of ${option.line}; the whisker is the 90 % interval at the best aim.`,
  );
  return h(
    'section',
    { class: 'curve-part' },
    h('h2', null, 'How much the aim matters'),
    h('p', null, good),
    figure(draw, table(title, ['aim', 'strokes', 'costs'], rows), under),
  );
}

/** @param {number} aim @param {import('./lengths.js').Lengths} lengths */
function sideWords(aim, lengths) {
  return Math.abs(aim) < 0.5 ? 'the middle' : `${lengths.words(Math.abs(aim))} ${aim < 0 ? 'left' : 'right'}`;
}

/** Each note once, with the options that it speaks of. @param {any} plan */
function notes({ options }) {
  /** @type {Map<string, string[]>} */
  const spoken = new Map();
  for (const option of options)
    for (const note of option.notes) spoken.set(note, [...(spoken.get(note) ?? []), option.name]);
  const said = [...spoken].map(([note, names]) =>
    h('li', null, `${names.length === options.length ? 'All' : names.join(', ')}: ${note}`),
  );
  return said.length
    ? h('details', { class: 'no-print' }, h('summary', null, 'Which shots stand behind it'), h('ul', null, said))
    : null;
}

/** @param {any} plan */
function leftOut({ left_out: given }) {
  return given.length
    ? h(
        'details',
        { class: 'no-print' },
        h('summary', null, 'Not planned with'),
        h(
          'ul',
          null,
          given.map((/** @type {any} */ one) => h('li', null, `${one.name}: ${one.reason}`)),
        ),
      )
    : null;
}

/** @param {any} plan */
export function caution(plan) {
  return h('p', { class: 'hint caution' }, `${plan.caution} See that nobody stands where the ball may go.`);
}
