/** What a plan is asked for: course, tees, hole, where the ball lies, whose next shots. */
import { button, choices, field, h, select } from '../ui/elements.js';
import { addressOf, plannedFilters } from './address.js';
import { elsewhere, placeAt } from './plan-ball.js';
import { daySettings } from './plan-day.js';
import { fromTee, pinAndTee } from './plan-pin.js';

/** @typedef {import('./page.js').Context} Context */

const PLAYED = { at: '', lie: '', option: '' };
const MOVED = { ...PLAYED, pin: '' }; // another hole has another green

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

/** What is shown when no hole has a map. */
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

/** In an address in place of a ball's place: where the best first shot is aimed. */
export const NEXT = 'next';
const LONG_PAR = 5;

/** The second shot of this par 5, or of the next one: the iron that never goes long, or the wood that goes further. @param {any} found @param {Context} context */
export function toSecond({ holes, hole, course, tees }, { player, filters }) {
  if (!fromTee(filters)) return null;
  const place = holes.indexOf(hole);
  const long = [...holes.slice(place), ...holes.slice(0, place)].find((one) => one.par === LONG_PAR);
  if (!long) return null;
  const asked = { ground: course.course_id, tees, hole: String(long.number), baseline: filters.baseline };
  return h(
    'p',
    { class: 'no-print' },
    h(
      'a',
      { href: `#/${addressOf(player, 'plan', { ...asked, ...plannedFilters(filters), at: NEXT })}`, id: 'to-second' },
      `Second shot of hole ${long.number}, par 5`,
    ),
  );
}

/** Which hole, over its drawing: the one before, any, the next. @param {any} found @param {import('./lengths.js').Lengths} lengths @param {Context} context */
export function holeSteps({ holes, hole }, lengths, { change }) {
  const place = holes.indexOf(hole);
  const step = (/** @type {number} */ by, /** @type {string} */ words) => {
    const next = holes[place + by];
    return button(words, () => next && change({ ...MOVED, hole: String(next.number) }), {
      id: by < 0 ? 'hole-before' : 'hole-after',
      disabled: !next,
      'aria-label': by < 0 ? 'The hole before' : 'The next hole',
    });
  };
  const known = holes.map((/** @type {any} */ one) => [
    String(one.number),
    `${one.number}: par ${one.par}, ${lengths.words(one.length_yd)}`,
  ]);
  const chosen = select(known, String(hole.number), (number) => change({ ...MOVED, hole: number }), {
    id: 'plan-hole',
    'aria-label': 'Hole',
  });
  return h('div', { class: 'hole-steps no-print' }, step(-1, '‹'), chosen, step(1, '›'));
}

/** @param {any} found @param {any} baselines @param {any} plan @param {import('./lengths.js').Lengths} lengths @param {Context} context */
export function shotChooser(found, baselines, plan, lengths, context) {
  const { session, filters, change } = context;
  const { course, tees } = found;
  const lists = baselines ? baselines.baselines.map((/** @type {any} */ one) => [one.id, one.id]) : [];
  const chosen = filters.baseline ?? plan?.baseline.id ?? 'tour';
  const options = /** @type {[string, string][]} */ (
    lists.some((/** @type {string[]} */ [id]) => id === chosen) ? lists : [[chosen, chosen], ...lists]
  );
  const words = `${fromTee(filters) ? 'From the tee' : 'From elsewhere'}, next shots ${filters.ahead ? 'my own' : `as “${chosen}”`}: change`;
  const unfolded = (/** @type {boolean} */ open) => {
    session.state.planSettingsOpen = open; // at once: the page may be drawn anew before the fold has moved
  };
  const settings = h(
    'details',
    { class: 'plan-chooser no-print', open: !plan || session.state.planSettingsOpen },
    h('summary', { id: 'plan-settings', onclick: () => unfolded(!settings.open) }, words),
    choices(
      'Where the ball is',
      [
        ['tee', 'From the tee'],
        ['else', 'From elsewhere'],
      ],
      fromTee(filters) ? 'tee' : 'else',
      (value) =>
        change(
          value === 'tee'
            ? { ...PLAYED }
            : { ...PLAYED, at: placeAt(plan, Math.min(150, (plan?.to_hole_yd ?? 150) * 0.75), 0), lie: 'fairway' },
        ),
      { id: 'ball' },
    ),
    !fromTee(filters) && plan ? elsewhere(plan, lengths, context) : null,
    nextShots(filters.ahead, chosen, (ahead) => change({ ahead, option: '' })),
    pinAndTee(plan, lengths, context),
    daySettings(context),
    h(
      'details',
      { class: 'more-settings' },
      h('summary', null, `${course.name}, ${tees} tees, against ${chosen}`),
      h(
        'div',
        { class: 'row' },
        ...courseAndTees(found, {
          course: (ground) => change({ ...MOVED, ground, tees: '', hole: '1' }),
          tees: (value) => change({ ...MOVED, tees: value }),
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
          href: `#/${addressOf(context.player, 'round-plan', { ground: course.course_id, tees, baseline: filters.baseline, ...plannedFilters(filters) })}`,
          id: 'to-round-plan',
        },
        'All holes on one page',
      ),
    ),
  );
  return settings;
}

/**
 * Whose next shots the shot is valued by. @param {string|undefined} ahead @param {string|undefined} baseline its id, if one is chosen @param {(ahead: string) => void} choose
 */
export function nextShots(ahead, baseline, choose) {
  return choices(
    'Whose next shots',
    [
      ['base', `Next shots: as ${baseline ? `“${baseline}”` : 'the baseline'}`],
      ['own', 'Next shots: my own'],
    ],
    ahead ? 'own' : 'base',
    (value) => choose(value === 'own' ? 'own' : ''),
    { id: 'next-shots' },
  );
}
