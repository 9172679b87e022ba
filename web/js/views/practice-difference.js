/** Practice in the evidence: how many practice balls an answer rests on, and how the range differs from the course. */
import { signed } from '../game/numbers.js';
import { h } from '../ui/elements.js';
import { counted } from '../ui/words.js';
import { table, valueCell } from '../charts/figure.js';
import { TOO_FEW } from '../charts/whisker-chart.js';
import { NOTHING, SIDE, sideRange, toSide } from './lengths.js';
import { queryOf } from './address.js';
import { percent } from './words.js';

/** @typedef {import('./lengths.js').Lengths} Lengths @typedef {{value: number|null, low: number|null, high: number|null}} Figure */

const LONGER = /** @type {[string, string]} */ (['shorter', 'longer']);

/**
 * What is asked beside the view's own answer once practice counts: how practice differs from the course.
 * @param {import('./page.js').Context} context @returns {string[]}
 */
export function differencePaths({ player, filters: { source, from, to, level } }) {
  if (!source) return [];
  const query = queryOf([
    ['from', from],
    ['to', to],
    ['level', level],
  ]);
  return [`/api/players/${encodeURIComponent(player)}/practice-against-course${query}`];
}

/** How much practice is in an answer, where the server says so. @param {any} found @returns {HTMLElement|null} */
export function practiceCounted(found) {
  if (!found || !['practice', 'both'].includes(found.source)) return null;
  const balls = counted(found.practice_balls, 'practice ball');
  const sessions = counted(found.practice_sessions, 'session');
  return h(
    'p',
    { class: 'hint', id: 'practice-counted' },
    `${found.source === 'both' ? 'The course, and ' : ''}${balls} of ${sessions}. Practice never counts as strokes gained of a round.`,
  );
}

/**
 * Clubs in practice less on the course. @param {any} found the answer, or null @param {Lengths} lengths @param {string} [club] one alone
 * @returns {HTMLElement|null} null where the server says nothing
 */
export function clubsAgainstCourse(found, lengths, club) {
  const clubs = (found?.clubs ?? []).filter((/** @type {any} */ row) => !club || row.club === club);
  if (!clubs.length) return null;
  const unit = ` ${lengths.unit}`;
  const rows = clubs.map((/** @type {any} */ row) => [
    row.club,
    cell(
      row.length_yd,
      (value) => toSide(lengths.of(value), LONGER, 0, unit),
      (low, high) => sideRange(lengths.of(low), lengths.of(high), LONGER, 0, unit),
    ),
    cell(
      row.direction_deg,
      (value) => toSide(value, SIDE, 1, '°'),
      (low, high) => sideRange(low, high, SIDE, 1, '°'),
    ),
    cell(
      row.spread_ratio,
      (value) => `${value.toFixed(2)} times`,
      (low, high) => `${low.toFixed(2)} to ${high.toFixed(2)}`,
    ),
    `${row.balls} and ${row.shots}`,
  ]);
  return h(
    'section',
    { class: 'practice-difference', id: 'practice-difference' },
    clubs.map((/** @type {any} */ row) => h('p', null, row.words)),
    table(
      `Full swings in practice, less those on the course, with the ${percent(found.level ?? 0.9)} interval`,
      ['club', 'length', 'direction', 'spread', 'balls and shots'],
      rows,
    ),
    h(
      'p',
      { class: 'hint' },
      `${found.caution ?? ''} `,
      'Spread: that of the directions in practice over that on the course; below 1 practice is tighter.',
    ),
  );
}

/** Make-rates in practice less on the course. @param {any} found the answer, or null @returns {HTMLElement|null} */
export function puttingAgainstCourse(found) {
  const putting = found?.putting;
  if (!putting) return null;
  const hundredths = (/** @type {number} */ value) => signed(100 * value, 0);
  const rows = putting.rates.map((/** @type {any} */ row) => [
    `${row.feet} ft`,
    percent(row.course),
    percent(row.practice),
    valueCell(hundredths(row.difference), `${hundredths(row.low)} to ${hundredths(row.high)}`),
  ]);
  return h(
    'section',
    { class: 'practice-difference', id: 'practice-difference' },
    putting.words.map((/** @type {string} */ words) => h('p', null, words)),
    rows.length
      ? table(
          `Putts holed of a hundred, with the ${percent(found.level ?? 0.9)} interval of the difference`,
          ['length', 'course', 'practice', 'difference'],
          rows,
        )
      : null,
  );
}

/** @param {Figure} figure @param {(value: number) => string} one @param {(low: number, high: number) => string} range */
function cell({ value, low, high }, one, range) {
  if (value === null) return NOTHING;
  return valueCell(one(value), low === null || high === null ? TOO_FEW : range(low, high));
}
