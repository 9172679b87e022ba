/**
 * The four questions of the evidence and the views that answer each: a row of questions, lit on every page, and below it the
 * quiet row of the views of the one that is asked.
 *
 * @typedef {import('./address.js').View} View
 * @typedef {{id: string, short: string, words: string, views: (View|'squad')[]}} Question `short`: its label where the row is
 * narrow; `words`: the full question
 */
import { h } from '../ui/elements.js';
import { addressOf, sharedFilters } from './address.js';

/** @type {Question[]} */
export const QUESTIONS = [
  {
    id: 'where',
    short: 'Strokes',
    words: 'Where do strokes go?',
    views: ['overview', 'compare', 'priorities', 'squad'],
  },
  { id: 'club', short: 'Club', words: 'Which club?', views: ['trial', 'distances', 'course-bag'] },
  {
    id: 'finish',
    short: 'Finish',
    words: 'Where does it go?',
    views: ['patterns', 'shapes', 'putting', 'part-swings'],
  },
  { id: 'aim', short: 'Aim', words: 'Where to aim?', views: ['plan', 'round-plan', 'round-ahead'] },
];

/** @type {Record<View|'squad', string>} */
export const VIEW_NAMES = {
  overview: 'Overview',
  compare: 'Periods',
  priorities: 'Priorities',
  squad: 'Squad',
  trial: 'Trial',
  distances: 'Distances',
  'course-bag': 'Course bag',
  patterns: 'Patterns',
  shapes: 'Shapes',
  putting: 'Putting',
  'part-swings': 'Part swings',
  plan: 'Plan',
  'round-plan': 'Round plan',
  'round-ahead': 'Predicted score',
  report: 'Report',
};

/** The question that a view answers; none for the report, which is an action. @param {View|'squad'} view @returns {Question|undefined} */
export function questionOf(view) {
  return QUESTIONS.find(({ views }) => views.includes(view));
}

/** @param {string} player @param {View|'squad'} view @param {import('./address.js').Filters} filters they go along from view to view */
function hrefOf(player, view, filters) {
  return view === 'squad' ? '#/evidence' : `#/${addressOf(player, view, sharedFilters(filters))}`;
}

/**
 * Both rows. @param {string} player id @param {View|'squad'} current @param {import('./address.js').Filters} filters
 * @returns {HTMLElement[]}
 */
export function ways(player, current, filters) {
  const asked = questionOf(current);
  const rows = [
    h(
      'nav',
      { class: 'questions no-print', 'aria-label': 'Questions' },
      QUESTIONS.map(({ id, short, words, views }) =>
        h(
          'a',
          {
            href: hrefOf(player, views[0], filters),
            id: `question-${id}`,
            'aria-label': `${short}: ${words}`,
            'aria-current': id === asked?.id ? 'true' : null,
          },
          h('span', { class: 'question-short', 'aria-hidden': 'true' }, short),
          h('span', { class: 'question-words', 'aria-hidden': 'true' }, words.replace('?', '')),
        ),
      ),
    ),
  ];
  if (asked)
    rows.push(
      h(
        'nav',
        { class: 'views no-print', 'aria-label': asked.words },
        asked.views.map((view) =>
          h(
            'a',
            {
              href: hrefOf(player, view, filters),
              id: `view-${view}`,
              'aria-current': view === current ? 'page' : null,
            },
            VIEW_NAMES[view],
          ),
        ),
      ),
    );
  return rows;
}

/** The heading of a page: the question, and which of its views this is. @param {View|'squad'} view @param {string} name */
export function heading(view, name) {
  const question = questionOf(view);
  return question
    ? h('h1', null, h('span', { class: 'question-asked' }, question.words), ' ', name)
    : h('h1', null, name);
}
