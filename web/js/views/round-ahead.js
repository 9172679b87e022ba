/** The score of the predicted round: asked for with a button, since it takes the server half a minute; the last answer stays. */
import { h } from '../ui/elements.js';
import { figure, table } from '../charts/figure.js';
import { scoreBars } from '../charts/score-bars.js';
import { queryOf } from './address.js';
import { onRequest } from './on-request.js';
import { dayQuery } from './plan-words.js';
import { percent } from './words.js';

/** @typedef {import('./page.js').Context} Context */

const MOST_ROUNDS = 60;

/**
 * The section of the page for the round.
 * @param {any} found course and tees @param {Context} context @returns {HTMLElement}
 */
export function roundAhead(found, context) {
  const request = {
    id: 'round-ahead',
    path: aheadPath(found, context),
    ask: 'Predict my score',
    again: 'Work it out again',
    busy: 'Simulating the round…',
    show: (/** @type {any} */ made, /** @type {HTMLElement[]} */ old) => parts(made, old, found, context),
  };
  return h(
    'section',
    { class: 'round-ahead', id: 'round-ahead' },
    h('h2', null, 'Your expected score'),
    h(
      'p',
      { class: 'hint no-print' },
      'How likely each score is with your own patterns. 18 holes take half a minute, longer while the server is busy.',
    ),
    ...onRequest(request, context),
  );
}

/** @param {any} found @param {Context} context @returns {string} */
function aheadPath({ course, tees }, { player, filters }) {
  return `/api/players/${encodeURIComponent(player)}/round-ahead${queryOf([
    ['course_id', course.course_id],
    ['tees', tees],
    ['baseline', filters.baseline],
    ...dayQuery(filters),
  ])}`;
}

/** @param {any} found @param {Context} context @returns {string} */
function checkedPath({ course, tees }, { player, filters }) {
  return `/api/players/${encodeURIComponent(player)}/rounds-checked${queryOf([
    ['course_id', course.course_id],
    ['tees', tees],
    ['baseline', filters.baseline],
  ])}`;
}

/** @param {any} made @param {HTMLElement[]} old @param {any} found @param {Context} context */
function parts(made, old, found, context) {
  return [
    h('p', { class: 'verdict', id: 'round-ahead-words' }, made.words),
    h('p', { class: 'hint' }, `${made.course}, ${made.tees} tees, par ${made.par}. Filled bars: 8 rounds in 10.`),
    ...old,
    bars(made),
    h('details', { id: 'round-ahead-holes' }, h('summary', null, 'Hole by hole'), holes(made)),
    howFolded(made, found, context),
  ];
}

/** @param {any} made */
function bars(made) {
  const eight = made.ranges.find((/** @type {any} */ one) => one.share === 0.8);
  const title = `How likely each score is, ${made.course}, ${made.tees} tees, par ${made.par}`;
  const words = {
    title,
    description: `${made.words} Filled: the range of 8 rounds in 10. The table has every number.`,
  };
  const rows = made.scores
    .filter((/** @type {any} */ one) => one.chance >= 0.005)
    .map((/** @type {any} */ one) => [String(one.strokes), percent(one.chance), percent(one.at_most)]);
  return figure(
    (room) => scoreBars(made.scores, eight, words, room),
    h('details', null, h('summary', null, 'Every score'), table(title, ['score', 'chance', 'this or better'], rows)),
  );
}

/** @param {any} made */
function holes(made) {
  const found = table(
    'Chances on each hole',
    ['hole', 'strokes', 'birdie or better', 'par', 'bogey', 'double or worse'],
    made.holes.map((/** @type {any} */ hole) => [
      [h('span', null, String(hole.number)), h('span', { class: 'list-under' }, `par ${hole.par}`)],
      hole.mean.toFixed(2),
      percent(hole.birdie),
      percent(hole.par_chance),
      percent(hole.bogey),
      percent(hole.double),
    ]),
  );
  found.classList.add('chances');
  return found;
}

/** How it was worked out; the check of earlier rounds is asked for here. @param {any} made @param {any} found @param {Context} context */
function howFolded(made, found, context) {
  const { spread } = made;
  const request = {
    id: 'rounds-checked',
    path: checkedPath(found, context),
    ask: 'Check it on the rounds already played',
    again: 'Check it again',
    busy: 'Predicting earlier rounds: this takes a minute or more…',
    show: (/** @type {any} */ checked, /** @type {HTMLElement[]} */ old) => [...old, ...checkedParts(checked)],
  };
  return h(
    'details',
    { id: 'round-ahead-how' },
    h('summary', null, 'How this is worked out'),
    made.about.map((/** @type {string} */ words) => h('p', null, words)),
    h(
      'p',
      null,
      `Expected ${made.mean.toFixed(1)}. Rounds spread by ${spread.whole.toFixed(1)} strokes (one standard deviation): holes alone ${spread.holes.toFixed(1)}, form of the day ${spread.form.toFixed(1)}, uncertainty about your play ${spread.unknown.toFixed(1)}.`,
    ),
    ...onRequest(request, context),
  );
}

/** @param {any} made the check @returns {HTMLElement[]} */
function checkedParts(made) {
  const rounds = made.rounds
    .slice(-MOST_ROUNDS)
    .map((/** @type {any} */ one) => [
      one.played_on,
      `${one.low} to ${one.high}`,
      one.score < one.low || one.score > one.high ? h('strong', null, String(one.score)) : String(one.score),
    ]);
  const coverage = made.coverage.map((/** @type {any} */ one) => [
    `middle ${percent(one.share)}`,
    percent(one.observed),
    `${percent(one.low)} to ${percent(one.high)}`,
  ]);
  if (!made.count) return [h('p', null, made.words)];
  return [
    h('p', { id: 'rounds-checked-words' }, made.words),
    table('Ranges that contained the score', ['range', 'contained', 'by chance'], coverage),
    table('Rounds predicted from earlier ones', ['day', '8 in 10', 'score'], rounds),
  ];
}
