/** The bag for a course, on the page for the round: asked for with a button, since it takes the server a minute; the last answer stays. */
import { h } from '../ui/elements.js';
import { gained } from '../ui/words.js';
import { figure, table, valueCell } from '../charts/figure.js';
import { clearTone, whiskerChart } from '../charts/whisker-chart.js';
import { queryOf } from './address.js';
import { onRequest } from './on-request.js';
import { interval, percent, signed } from './words.js';

/** @typedef {import('./page.js').Context} Context */

/**
 * The section of the page for the round.
 * @param {any} found course and tees @param {Context} context @returns {HTMLElement}
 */
export function courseBag(found, context) {
  const request = {
    id: 'course-bag',
    path: bagPath(found, context),
    ask: 'Compare my clubs',
    again: 'Compare them again',
    busy: 'Comparing bags, hole after hole…',
    show: parts,
  };
  return h(
    'section',
    { class: 'course-bag no-print', id: 'course-bag' },
    h('h2', null, 'The bag for this course'),
    h(
      'p',
      { class: 'hint' },
      'Which fourteen clubs to carry here, and what each is worth. 18 holes take a minute, longer while the server is busy.',
    ),
    ...onRequest(request, context),
  );
}

/** @param {any} found @param {Context} context @returns {string} */
function bagPath({ course, tees }, { player, filters }) {
  return `/api/players/${encodeURIComponent(player)}/course-bag${queryOf([
    ['course_id', course.course_id],
    ['tees', tees],
    ['baseline', filters.baseline],
  ])}`;
}

/** @param {any} made @param {HTMLElement[]} old */
function parts(made, old) {
  return [
    h('p', { class: 'verdict', id: 'course-bag-words' }, made.words[0]),
    ...made.words.slice(1).map((/** @type {string} */ words) => h('p', null, words)),
    ...old,
    worths(made),
    folded('course-bag-where', 'Where each club is used', whereUsed(made)),
    folded('course-bag-what-if', 'What if', ...whatIfs(made)),
    folded('course-bag-how', 'How this is worked out', ...how(made)),
  ];
}

/** @param {string} id @param {string} title @param {...HTMLElement} inside */
function folded(id, title, ...inside) {
  return h('details', { id }, h('summary', null, title), ...inside);
}

/** What each club is worth: a picture and two columns. @param {any} made */
function worths(made) {
  const title = `What each club is worth, ${made.course}, ${made.tees} tees, strokes a round`;
  const words = {
    title,
    description: 'Strokes a round lost without the club, with 90 % intervals. The table has every number.',
    left: 'costs',
    right: 'worth',
    zero: 'no difference',
    signed,
  };
  const known = made.clubs.filter((/** @type {any} */ club) => club.worth);
  const rows = known.map((/** @type {any} */ { club, carried, worth }) => ({
    label: club,
    aside: carried ? '' : 'at home',
    value: worth.strokes,
    low: worth.low,
    high: worth.high,
  }));
  const cells = known.map((/** @type {any} */ { club, carried, worth }) => [
    [h('span', null, club), h('span', { class: 'list-under' }, carried ? worth.verdict : `at home: ${worth.verdict}`)],
    figureCell(worth),
  ]);
  const listed = table(title, ['club', 'strokes a round'], cells);
  return known.length ? figure((room) => whiskerChart(rows, words, room), listed) : h('div', null);
}

/** @param {any} found strokes with their interval */
function figureCell({ strokes, low, high }) {
  return valueCell(gained(strokes), interval(low, high), clearTone(strokes, low, high));
}

/** @param {any} made */
function whereUsed(made) {
  return table(
    'Planned shots',
    ['club', 'share', 'holes'],
    made.clubs
      .filter((/** @type {any} */ one) => one.carried)
      .map((/** @type {any} */ one) => [one.club, percent(one.share), one.holes.join(', ') || '–']),
  );
}

/** @param {any} made @returns {HTMLElement[]} */
function whatIfs(made) {
  const changed = made.clubs
    .filter((/** @type {any} */ one) => one.longer && one.tighter)
    .map((/** @type {any} */ one) => [one.club, figureCell(one.longer), figureCell(one.tighter)]);
  return [
    ...(made.wedge ? [h('p', null, made.wedge.words)] : []),
    h('p', null, made.putting.words),
    table(
      'Strokes a round saved by a change of one club',
      ['club', `${made.longer_yd} yd longer`, 'a tenth tighter'],
      changed,
    ),
  ];
}

/** @param {any} made @returns {HTMLElement[]} */
function how(made) {
  const out = made.left_out.map((/** @type {any} */ one) => `${one.name} is not compared: ${one.reason}.`);
  const unmapped = made.unmapped.length ? [`Without a map, and not counted: ${made.unmapped.join(', ')}.`] : [];
  return [...made.notes, ...out, ...unmapped].map((words) => h('p', null, words));
}
