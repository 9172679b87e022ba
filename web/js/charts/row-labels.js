/** Labels of a chart's rows: beside their row where there is room, else above it. */
import { svg } from './drawing.js';
import { tally, tallyLength } from './pencil.js';

export const LETTER = 0.6; // of the text size: a letter of a wide sans face, on average
const TALLY = 0.65; // rem: a stroke of a tally
const NARROW = 34; // rem: below it the label is above its row, not beside it

/**
 * @typedef {{label: string, aside: string, count?: number}} Labelled `aside`: such as the count in words; a small `count` is drawn as a tally too
 * @typedef {{narrow: boolean, gutter: number, above: number, size: number, width: number, rem: number, tallies: number}} Labels
 * `gutter`: the width beside the rows; `above`: the height above each; `tallies`: the width of the longest tally with its gap
 */

/** Counts below this are drawn as a tally beside their number. */
const SMALL_COUNT = 12;

/** @param {number|null|undefined} count @returns {count is number} whether it is drawn as a tally */
export function tallied(count) {
  return Number.isInteger(count) && Number(count) > 0 && Number(count) < SMALL_COUNT;
}

/** A text cut to the room it has; the table has all of it. @param {string} words @param {number} letters @returns {string} */
export function cut(words, letters) {
  return words.length <= letters ? words : `${words.slice(0, Math.max(1, Math.floor(letters) - 1)).trimEnd()}…`;
}

/**
 * Where the labels of these rows go. @param {Labelled[]} rows @param {number} share of the width, at most, for labels beside the rows
 * @param {{width: number, rem: number}} room @returns {Labels}
 */
export function labelsOf(rows, share, { width, rem }) {
  const size = 0.95 * rem;
  const widest = Math.max(0, ...rows.map((row) => `${row.label} ${row.aside}`.length)) * LETTER * size + rem;
  const most = Math.max(0, ...rows.map(({ count }) => (tallied(count) ? count : 0)));
  const tallies = most ? tallyLength(most, TALLY * rem) + 0.7 * rem : 0;
  const narrow = width < NARROW * rem || widest + tallies > width * share;
  return { narrow, gutter: narrow ? 0 : widest + tallies, above: narrow ? 1.35 * rem : 0, size, width, rem, tallies };
}

/** @param {Labelled} row @param {number} middle of its marks @param {number} half their height @param {Labels} labels @returns {SVGElement[]} */
export function rowLabel(row, middle, half, { narrow, gutter, size, width, rem, tallies }) {
  const letters = ((narrow ? width : gutter) - tallies) / (LETTER * size) - row.aside.length - 2;
  const label = cut(row.label, letters);
  const y = narrow ? middle - half - 0.3 * rem : middle + 0.33 * rem;
  const end = gutter - tallies - size * 0.4;
  const words = svg(
    'text',
    { x: narrow ? 0 : end, y, 'text-anchor': narrow ? 'start' : 'end', class: 'row-label' },
    label,
    svg('tspan', { class: 'aside', dx: size * 0.4 }, row.aside),
  );
  if (!tallied(row.count)) return [words];
  const x = narrow ? (label.length + 0.9 * row.aside.length + 1) * LETTER * size + 0.4 * rem : end + 0.6 * rem;
  return [words, svg('path', { d: tally(row.count, x, y - 0.95 * TALLY * rem, TALLY * rem), class: 'tally' })];
}
