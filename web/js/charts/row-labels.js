/** Labels of a chart's rows: beside their row where there is room, else above it. */
import { svg } from './drawing.js';

export const LETTER = 0.6; // of the text size: a letter of a wide sans face, on average
const NARROW = 34; // rem: below it the label stands above its row, not beside it

/**
 * @typedef {{label: string, aside: string}} Labelled `aside`: such as the count
 * @typedef {{narrow: boolean, gutter: number, above: number, size: number, width: number, rem: number}} Labels
 * `gutter`: the width beside the rows; `above`: the height above each
 */

/** A text cut to the room it has; the table has it whole. @param {string} words @param {number} letters @returns {string} */
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
  const narrow = width < NARROW * rem || widest > width * share;
  return { narrow, gutter: narrow ? 0 : widest, above: narrow ? 1.35 * rem : 0, size, width, rem };
}

/** @param {Labelled} row @param {number} middle of its marks @param {number} half their height @param {Labels} labels @returns {SVGElement} */
export function rowLabel(row, middle, half, { narrow, gutter, size, width, rem }) {
  const letters = (narrow ? width : gutter) / (LETTER * size) - row.aside.length - 2;
  return svg(
    'text',
    {
      x: narrow ? 0 : gutter - size * 0.4,
      y: narrow ? middle - half - 0.3 * rem : middle + 0.33 * rem,
      'text-anchor': narrow ? 'start' : 'end',
      class: 'row-label',
    },
    cut(row.label, letters),
    svg('tspan', { class: 'aside', dx: size * 0.4 }, row.aside),
  );
}
