/**
 * The filters of a view: days, kind of round, course, lie, setup, interval. Each change goes into the address.
 *
 * @typedef {import('./page.js').Context} Context
 */
import { button, field, h, select } from '../ui/elements.js';
import { LIE_WORDS } from '../ui/words.js';
import { VIEWS } from './address.js';
import { day, selection, setupWords } from './words.js';

const EARLIEST_YEAR = 1900; // a year being typed passes through 0002, 0020 and 0202
const KINDS = /** @type {[string, string][]} */ ([
  ['', 'all kinds'],
  ['practice', 'practice'],
  ['casual', 'casual'],
  ['competition', 'competition'],
]);
const LEVELS = /** @type {[string, string][]} */ ([
  ['0.8', '80 %'],
  ['', '90 %'],
  ['0.95', '95 %'],
  ['0.99', '99 %'],
]);
const SOURCES = /** @type {[string, string][]} */ ([
  ['', 'the course'],
  ['practice', 'practice sessions'],
  ['both', 'course and practice'],
]);
const NONE = { source: '', from: '', to: '', beside_from: '', beside_to: '', kind: '', course: '', lie: '', setup: '' };

/** @param {Context} context @returns {HTMLElement} */
export function filterPart(context) {
  const { session, view, filters, change } = context;
  const names = /** @type {readonly string[]} */ (VIEWS[view]);
  if (!names.includes('from')) return h('div', { hidden: true }); // a view that chooses no shots has fields of its own
  const beside = names.includes('beside_from');
  const level = LEVELS.find(([value]) => value === (filters.level ?? ''))?.[1] ?? `${Number(filters.level) * 100} %`;
  const levels = LEVELS.some(([value]) => value === (filters.level ?? ''))
    ? LEVELS
    : [...LEVELS, /** @type {[string, string]} */ ([filters.level, level])];
  const chosen = (
    /** @type {string} */ name,
    /** @type {string} */ words,
    /** @type {[string, string][]} */ options,
  ) =>
    names.includes(name)
      ? field(
          words,
          select(options, filters[name] ?? '', (value) => change({ [name]: value }), { id: `filter-${name}` }),
        )
      : null;
  const fields = [
    beside ? dated(context, 'beside_from', 'Period 1 from') : null,
    beside ? dated(context, 'beside_to', 'Period 1 to') : null,
    dated(context, 'from', beside ? 'Period 2 from' : 'From'),
    dated(context, 'to', beside ? 'Period 2 to' : 'To'),
    chosen('source', 'Shots from', SOURCES),
    chosen('kind', 'Kind of round', KINDS),
    chosen('course', 'Course', held('all courses', filters.course, String)),
    chosen('lie', 'Lie', [['', 'all lies'], ...Object.entries(LIE_WORDS)]),
    chosen('setup', 'Club or setup', held('all clubs', filters.setup, setupWords)),
    names.includes('level')
      ? field(
          'Interval',
          select(levels, filters.level ?? '', (value) => change({ level: value }), { id: 'filter-level' }),
        )
      : null,
  ];
  const set = names.some((name) => name in NONE && filters[name]);
  const clear = set
    ? h(
        'div',
        { class: 'row' },
        button('All rounds', () => change(NONE), { id: 'filter-clear' }),
      )
    : null;
  const shown = beside ? selection({ ...filters, from: '', to: '' }) : selection(filters);
  const details = h(
    'details',
    { class: 'filters no-print', open: session.state.filtersOpen },
    h('summary', { id: 'filters' }, names.includes('level') ? `${shown}, intervals at ${level}` : shown),
    h('div', { class: 'row' }, fields),
    clear,
  );
  details.addEventListener('toggle', () => {
    session.state.filtersOpen = details.open;
  });
  return details;
}

/** @param {Context} context @param {string} name @param {string} words */
function dated({ filters, change }, name, words) {
  const input = h('input', { type: 'date', id: `filter-${name.replace('_', '-')}`, value: filters[name] ?? '' });
  input.addEventListener('change', () => {
    if (input.value === '' || Number(input.value.slice(0, 4)) >= EARLIEST_YEAR) change({ [name]: input.value });
  });
  return field(words, input);
}

/** What can be chosen before the server has answered what there is: all, and what the address holds. @param {string} all @param {string|undefined} value @param {(value: string) => string} words @returns {[string, string][]} */
function held(all, value, words) {
  return [['', all], ...(value ? [/** @type {[string, string]} */ ([value, words(value)])] : [])];
}

/**
 * Fills in what the player has: courses, clubs and their setups. What is chosen stays.
 * @param {HTMLElement} part from `filterPart` @param {any} choices the server's, or null @param {Context} context
 */
export function offer(part, choices, { filters }) {
  if (!choices) return;
  const setups = choices.clubs.flatMap((/** @type {string} */ club) => [
    [club, club],
    ...choices.setups
      .filter((/** @type {any} */ one) => one.club === club)
      .map((/** @type {any} */ one) => [one.setup, `${club} since ${day(one.since)}: ${one.note}`]),
  ]);
  add(
    part.querySelector('#filter-course'),
    choices.courses.map((/** @type {string} */ course) => [course, course]),
    filters.course,
  );
  add(part.querySelector('#filter-setup'), setups, filters.setup);
}

/** @param {any} element a select, or null @param {[string, string][]} options @param {string|undefined} chosen */
function add(element, options, chosen) {
  if (!element || document.activeElement === element) return;
  const known = options.some(([value]) => value === chosen) || !chosen ? [] : [element.options[1]];
  element.replaceChildren(
    element.options[0],
    ...known,
    ...options.map(([value, words]) => h('option', { value }, words)),
  );
  element.value = chosen ?? '';
}
