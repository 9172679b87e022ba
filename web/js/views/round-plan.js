/** The tee shots of a full round on one page, to be printed before it: asked for hole by hole, kept for where no network is. */
import { LOCK_WORDS } from '../screens/locked.js';
import { button, h } from '../ui/elements.js';
import { folded } from '../ui/fold.js';
import { counted, gained } from '../ui/words.js';
import { addressOf, plannedFilters } from './address.js';
import { EvidenceLocked, UNREACHABLE, askEach, cachedOnly, keptAnswers } from './asking.js';
import { table, valueCell } from '../charts/figure.js';
import { ground, lying, flag, wholeHole } from '../charts/hole-drawing.js';
import { place as rounded, svg } from '../charts/drawing.js';
import { lengthsIn } from './lengths.js';
import { aimPoint, landingsOf } from '../charts/plan-places.js';
import { courseBag } from './course-bag.js';
import { roundAhead } from './round-ahead.js';
import { caution } from './plan-answer.js';
import { leftWords } from './nearest.js';
import { courseAndTees, nextShots, noMap } from './plan-choosers.js';
import { NO_DIFFERENCE, aimWords, chosen, hitShare, planPath, plansPath, secondWords, strokes } from './plan-words.js';
import { whenShown } from '../charts/shown.js';
import { asOf, percent } from './words.js';
import { working } from './working.js';

export const name = 'Plan of the round';

/** @typedef {import('./page.js').Context} Context @typedef {import('./asking.js').Answer} Answer */

const STRIP = { width: 220, height: 36 }; // pixels of a hole's strip

const FLAG = 8; // pixels high

/** @param {Context} context */
export function paths({ player }) {
  return { needed: [plansPath(player)] };
}

/** @param {Answer[]} answers @param {Context} context */
export function build([plans], context) {
  const found = chosen(plans.value, context.filters);
  if (!found) return noMap();
  const status = h('p', { class: 'hint no-print', role: 'status', id: 'plan-progress' });
  const sheet = h('div', { class: 'round-plan', id: 'round-plan' });
  whenShown(sheet, () => askAll(found, context, { status, sheet }).catch((error) => stopped(error, status, sheet)));
  return [
    h('div', null, status, sheet),
    chooser(found, context),
    folded('Predicted score', roundAhead(found, context), { class: 'round-part' }),
    folded('The bag for this course', courseBag(found, context), { class: 'round-part no-print' }),
  ];
}

/** @param {any} error @param {HTMLElement} status @param {HTMLElement} sheet */
function stopped(error, status, sheet) {
  status.textContent = '';
  if (error instanceof EvidenceLocked) {
    for (const id of ['round-ahead', 'course-bag']) document.getElementById(id)?.closest('details')?.remove(); // their last answers are plans too
    sheet.replaceChildren(
      h(
        'section',
        { class: 'locked' },
        h('h2', null, 'Locked until the round is finished'),
        h('p', { class: 'lead' }, error.message),
        h('p', null, LOCK_WORDS),
      ),
    );
  } else
    sheet.replaceChildren(h('p', { class: 'notice', role: 'alert' }, `The plan stopped: ${error?.message ?? error}`));
}

/**
 * One hole after another, so that the first lines stand soon and the server is not held up.
 * @param {any} found @param {Context} context @param {{status: HTMLElement, sheet: HTMLElement}} page
 */
async function askAll(found, context, { status, sheet }) {
  const { session, player } = context;
  const { course, tees, holes } = found;
  const own = `/api/players/${encodeURIComponent(player)}`;
  /** @type {Map<number, Answer & {left?: string[]}>} */
  const answers = new Map();
  const work = working('Solving hole after hole…');
  const { stopped, done } = work.waiting;
  sheet.before(work.element);
  for (const [place, hole] of holes.entries()) {
    if (!sheet.isConnected) return; // another screen, or the same one drawn anew
    if (stopped.aborted) break;
    status.textContent = `Planning hole ${hole.number}, ${place + 1} of ${holes.length}…`;
    const waiting = { stopped, done: (/** @type {number} */ share) => done((place + share) / holes.length) };
    const plain = { ground: course.course_id, tees, hole: String(hole.number) };
    const path = planPath(player, { ...plain, ...dayAndNext(context) });
    const lost = [...answers.values()].some((one) => one.old); // the server is away: what is cached is shown at once
    const cached = lost ? await cachedOnly(session, player, [path]) : null;
    const [answer] = cached ?? (await askEach(session, player, [own, path], waiting)).slice(1);
    if (!sheet.isConnected) return;
    if (answer.failure?.kind === 'stopped') break;
    answers.set(hole.number, await orPlain(answer, planPath(player, plain), context));
    sheet.replaceChildren(...sheetOf(found, answers, context));
  }
  work.end();
  status.textContent = '';
  if (stopped.aborted)
    status.replaceChildren(
      `Stopped after ${counted(answers.size, 'hole')}. `,
      button('Continue', () => session.frame?.refresh(), { id: 'plan-on' }),
    );
}

/** What a plan reckons with, as far as it is set. @param {Context} context @returns {import('./address.js').Filters} */
function dayAndNext({ filters }) {
  return { ...(filters.baseline ? { baseline: filters.baseline } : {}), ...plannedFilters(filters) };
}

/**
 * Without a network the plan of a usual day that is kept replaces one that is not.
 * @param {Answer} answer @param {string} path of the plan without baseline, day and next shots @param {Context} context
 * @returns {Promise<Answer & {left?: string[]}>}
 */
async function orPlain(answer, path, context) {
  if (answer.value || !UNREACHABLE.includes(answer.failure?.kind ?? '')) return answer;
  const left = Object.keys(dayAndNext(context));
  const [kept] = left.length ? await keptAnswers(context.session, [path], answer.failure) : [answer];
  return kept.value ? { ...kept, left } : answer;
}

/** @param {any} found @param {Context} context */
function chooser(found, { filters, change, player }) {
  const { course, tees } = found;
  const print = button('Print', () => window.print(), { id: 'print-plan', class: 'strong' });
  return h(
    'div',
    { class: 'no-print' },
    h(
      'div',
      { class: 'row chooser' },
      ...courseAndTees(found, {
        course: (ground) => change({ ground, tees: '' }),
        tees: (value) => change({ ground: course.course_id, tees: value }),
      }),
      print,
    ),
    nextShots(filters.ahead, filters.baseline, (ahead) => change({ ahead })),
    h(
      'p',
      null,
      h(
        'a',
        {
          href: `#/${addressOf(player, 'plan', { ground: course.course_id, tees, baseline: filters.baseline, ...plannedFilters(filters) })}`,
          id: 'to-plan',
        },
        'One hole in full',
      ),
    ),
  );
}

/** @param {any} found @param {Map<number, Answer & {left?: string[]}>} answers @param {Context} context */
function sheetOf({ course, tees, holes }, answers, context) {
  const lengths = lengthsIn(context.units ?? context.session.units);
  const planned = [...answers.values()].filter((one) => one.value).map((one) => one.value);
  const rows = holes
    .filter((/** @type {any} */ hole) => answers.has(hole.number))
    .map((/** @type {any} */ hole) =>
      row(hole, /** @type {Answer} */ (answers.get(hole.number)), { course, tees, lengths, context }),
    );
  const first = planned[0];
  const own = context.filters.ahead && ![...answers.values()].some((one) => one.left);
  const best = planned.filter((plan) => plan.options.length).map((plan) => plan.options[0].expected);
  const total = best.reduce((sum, value) => sum + value, 0);
  const caption = `${first ? `${first.player}: ` : ''}${course.name}, ${tees} tees, against ${first ? `“${first.baseline.id}”` : 'the baseline'}`;
  return [
    ageOf([...answers.values()]),
    table(caption, ['hole', 'from the tee', 'strokes', 'hit', 'next best'], rows),
    h(
      'p',
      null,
      `${best.length} of ${course.tees[0].holes.length} holes planned: ${strokes(total)} strokes expected, if ${own ? 'the shots after the first are your own' : 'the rest is played as the baseline does'}. Hit: the fairway, on par 3 the green. Trouble: sand, trees, water, out of bounds.`,
    ),
    first ? caution(first) : null,
  ].filter(Boolean);
}

/** @param {(Answer & {left?: string[]})[]} answers */
function ageOf(answers) {
  const given = answers.filter((one) => one.value !== null);
  if (!given.length) return null;
  const oldest = given.map((one) => one.at).sort()[0];
  const old = given.find((one) => one.old);
  const left = given.find((one) => one.left)?.left;
  return h(
    'p',
    { class: old ? 'notice plan-age' : 'hint plan-age' },
    h('strong', null, `Planned on ${asOf(oldest)}`),
    old ? ` ${old.failure ? `${old.failure.message}: ` : ''}these are the last answers stored on this device.` : '',
    left ? ` ${leftWords(left)}` : '',
  );
}

/** @param {any} hole @param {Answer} answer @param {{course: any, tees: string, lengths: import('./lengths.js').Lengths, context: Context}} about */
function row(hole, answer, { course, tees, lengths, context }) {
  const plan = answer.value;
  const filters = {
    ground: course.course_id,
    tees,
    hole: String(hole.number),
    baseline: context.filters.baseline,
    ...plannedFilters(context.filters),
  };
  const head = [
    h('a', { class: 'cell-link', href: `#/${addressOf(context.player, 'plan', filters)}` }, `${hole.number}`),
    h('span', { class: 'list-under' }, `par ${hole.par}`),
    h('span', { class: 'list-under' }, lengths.words(hole.length_yd)),
  ];
  if (!plan) return [head, h('span', { class: 'few' }, answer.failure?.message ?? 'no answer'), '–', '–', '–'];
  const [option] = plan.options;
  if (!option) return [head, h('span', { class: 'few' }, plan.verdict), '–', '–', '–'];
  const { second, verdict } = plan;
  const next = second
    ? [
        h('span', null, second.name),
        h('span', { class: 'list-under' }, verdict === NO_DIFFERENCE ? NO_DIFFERENCE : gained(second.costs)),
      ]
    : h('span', { class: 'list-under' }, secondWords(plan));
  return [
    head,
    h(
      'div',
      { class: 'plan-cell' },
      h('span', { class: 'plan-club' }, option.name, h('span', { class: 'list-under' }, aimWords(option, lengths))),
      miniature(plan, option),
    ),
    strokes(option.expected),
    valueCell(hitShare(plan, option), `trouble ${percent(option.shares.trouble)}`),
    next,
  ];
}

/** The hole as a small strip with the landings; the row says it in words. @param {any} plan @param {any} option */
function miniature(plan, option) {
  const id = `mini-${plan.hole.number}`;
  const frame = lying(wholeHole(plan.features, { aside: 40, behind: 25 }), STRIP.width, STRIP.height);
  const aim = frame.place(...aimPoint(plan, option)).map(rounded);
  const from = frame.place(plan.from[0], plan.from[1]).map(rounded);
  const spots = landingsOf(plan, option)
    .map(({ x, y }) => frame.place(x, y))
    .map(([cx, cy]) => svg('circle', { cx, cy, r: 0.9, class: 'landing-small' }));
  return svg(
    'svg',
    {
      width: frame.width,
      height: frame.height,
      viewBox: `0 0 ${frame.width} ${rounded(frame.height)}`,
      class: 'miniature',
      'aria-hidden': 'true',
    },
    ground(plan.features, frame, id, { small: true }),
    svg(
      'g',
      { 'clip-path': `url(#${id}-clip)` },
      svg('path', { d: `M${from.join(',')} L${aim.join(',')}`, class: 'aim-line' }),
      ...spots,
    ),
    flag(plan.pin[0], plan.pin[1], frame, FLAG),
  );
}
