/** Numbers, days and names of the evidence in words. */
import * as numbers from '../game/numbers.js';
import { h } from '../ui/elements.js';
import { CATEGORY_WORDS, LIE_WORDS, counted, gained } from '../ui/words.js';

const LEAST_HOLES = 9; // as server/analysis/evidence/round_lengths.py
const SETUP = /^(.*?), (\d{4}-\d\d-\d\d) (.*)$/s;

/** The one figure of a page with its interval under it. @param {string} figure @param {string} of @param {string|null} interval @param {string} [tone] */
export function bigFigure(figure, of, interval, tone = '') {
  return h(
    'section',
    { class: 'headline' },
    h('p', { class: 'big-score' }, h('span', { class: `number ${tone}`.trim() }, figure), of),
    interval ? h('p', null, interval) : null,
  );
}

/** An interval in words: "−0.12 to +0.03". @param {number|null|undefined} low @param {number|null|undefined} high @returns {string} */
export function interval(low, high) {
  if (low === null || low === undefined || high === null || high === undefined) return '–';
  return `${gained(low)} to ${gained(high)}`;
}

/** A number of an axis with its sign. @param {number} value @param {number} decimals @returns {string} */
export function signed(value, decimals) {
  return value === 0 ? '0' : numbers.signed(value, decimals);
}

/** A share as a whole percentage; what is not quite all or nothing never reads so. @param {number|null|undefined} share @returns {string} */
export function percent(share) {
  if (share === null || share === undefined) return '–';
  if (share > 0 && share < 0.005) return 'under 1 %';
  if (share < 1 && share > 0.995) return 'over 99 %';
  return `${Math.round(share * 100)} %`;
}

/** @param {string} moment ISO 8601 @param {Date} [now] @returns {string} such as "12 May, 18:40"; with the year when it is another */
export function asOf(moment, now = new Date()) {
  const date = new Date(moment);
  const year = date.getFullYear() === now.getFullYear() ? undefined : 'numeric';
  const day = date.toLocaleDateString('en-GB', { day: 'numeric', month: 'short', year });
  return `${day}, ${date.toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' })}`;
}

/** @param {string} day YYYY-MM-DD @returns {string} such as "12 May 2026" */
export function day(day) {
  const date = new Date(`${day}T12:00:00`);
  return Number.isNaN(date.getTime())
    ? day
    : date.toLocaleDateString('en-GB', { day: 'numeric', month: 'short', year: 'numeric' });
}

/** Which rounds the filters take, in words. @param {Record<string, string>} filters @returns {string} */
export function selection(filters) {
  const rounds = filters.kind ? `${filters.kind} rounds` : 'all rounds';
  const practice = { practice: 'practice sessions', both: `${rounds} and practice sessions` }[filters.source];
  const kind = practice ?? rounds;
  const where = filters.course ? ` on ${filters.course}` : '';
  const part = [
    filters.lie ? `from ${LIE_WORDS[filters.lie] ?? filters.lie} alone` : '',
    filters.setup ? `with ${setupWords(filters.setup)} alone` : '',
  ].filter(Boolean);
  return [`${kind}${where}${span(filters.from, filters.to)}`, ...part].join(', ');
}

/** @param {string} setup "driver@2026-06-22" or "driver" @returns {string} */
export function setupWords(setup) {
  const [club, since] = setup.split('@');
  return since ? `${club} since ${day(since)}` : club;
}

/** @param {string|undefined} from @param {string|undefined} to */
function span(from, to) {
  if (from && to) return `, ${day(from)} to ${day(to)}`;
  if (from) return ` since ${day(from)}`;
  return to ? ` until ${day(to)}` : '';
}

/** The name of a group. @param {string} by @param {any} key @returns {string} */
export function groupName(by, key) {
  if (by === 'category') return CATEGORY_WORDS[key] ?? String(key);
  if (by === 'lie') return LIE_WORDS[key] ?? String(key);
  if (by === 'distance') return bandName(String(key));
  if (by === 'setup') return setupName(String(key));
  return String(key);
}

/** The same with all that is known, for a table. @param {string} by @param {any} key @returns {string} */
export function fullName(by, key) {
  const parts = by === 'setup' ? SETUP.exec(String(key)) : null;
  return parts ? `${parts[1]}, since ${day(parts[2])}: ${parts[3]}` : groupName(by, key);
}

/** A setup without its day: "4 iron A: one degree weaker". @param {string} setup "4 iron A, 2026-03-01 one degree weaker" @returns {string} */
export function setupName(setup) {
  const parts = SETUP.exec(setup);
  return parts ? `${parts[1]}: ${parts[3]}` : setup;
}

/** A distance band, shorter: "100–125 yd"; the last "over 500 yd". @param {string} band "over 100 to 125 yd" @returns {string} */
export function bandName(band) {
  const parts = /^over (\S+ to \S+ (yd|ft))$/.exec(band);
  return parts ? `${reach(parts[1])}${parts[2] === 'ft' ? ' putts' : ''}` : band;
}

/** "100–125 yd", or "over 500 yd" where it goes as far as a length may. @param {string} words "100 to 125 yd" @returns {string} */
export function reach(words) {
  return words.replace(/^(\S+) to (?:700 (yd)|150 (ft))$/, 'over $1 $2$3').replace(' to ', '–');
}

/** The order of a distance band: off the green first, the longest first. @param {string} band @returns {number} */
export function bandPlace(band) {
  const parts = /^over (\S+) to (\S+) (yd|ft)$/.exec(band);
  if (!parts) return 0;
  return parts[3] === 'yd' ? -Number(parts[1]) : 1000 - Number(parts[1]);
}

/**
 * How many rounds there are in the figures, and beside them how many too short: "30 rounds and 4 too short to count".
 * @param {{rounds: number, short_rounds: number}} found @returns {string}
 */
export function roundCount({ rounds, short_rounds: short }) {
  return `${counted(rounds, 'round')}${short ? ` and ${short} too short to count` : ''}`;
}

/** Why rounds are left out, where any are. @param {{short_rounds: number}} found @returns {string} */
export function shortRounds({ short_rounds: short }) {
  return short ? `Too short to count: fewer than ${LEAST_HOLES} holes with a value. ` : '';
}

/** The count of a row: "34 shots". @param {{shots: number}} row @returns {string} */
export function shots(row) {
  return counted(row.shots, 'shot');
}

/** A number of shots still needed: two figures are all that it carries. @param {number} count @returns {string} */
export function about(count) {
  return `about ${twoFigures(count)}`;
}

/** The same without the word. @param {number} count @returns {string} */
export function twoFigures(count) {
  const step = 10 ** Math.max(0, String(count).length - 2);
  return (Math.ceil(count / step) * step).toLocaleString('en-GB');
}

/** What is found, and whether its interval bears it out. @param {string} word @param {boolean} sure @returns {string} */
export function sureOrNot(word, sure) {
  return sure || word === 'not clear yet' ? word : `${word}, not sure`;
}
