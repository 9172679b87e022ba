/**
 * Bars of how likely each score is: those of a middle range hatched, the most likely one with its chance above.
 *
 * @typedef {{strokes: number, chance: number, at_most: number}} Score
 */
import { linearScale, picture, svg, text } from './drawing.js';
import { hatching } from './pencil.js';

const LEAST = 0.03; // of the tallest bar: what is lower is no bar
const GAP = 0.18; // of a bar's place

/**
 * @param {Score[]} scores ascending @param {{low: number, high: number}} middle @param {{title: string, description: string}} words
 * @param {import('./whisker-chart.js').Room} room @returns {SVGElement}
 */
export function scoreBars(scores, middle, words, { width, rem, id }) {
  const most = Math.max(...scores.map((one) => one.chance));
  const shown = scores.filter((one) => one.chance >= LEAST * most);
  const [first, last] = [shown[0].strokes, shown[shown.length - 1].strokes];
  const step = width / (last - first + 1);
  const [top, bottom] = [1.5 * rem, 8.5 * rem];
  const up = linearScale([0, most], [bottom, top]);
  const every = Math.max(1, Math.ceil((2.2 * rem) / step));
  const likely = shown.find((one) => one.chance === most);
  const marks = shown.flatMap(({ strokes, chance }) => {
    const left = (strokes - first) * step;
    const inside = strokes >= middle.low && strokes <= middle.high;
    const [x, y, wide, high] = [left + (GAP / 2) * step, up(chance), (1 - GAP) * step, bottom - up(chance)];
    return [
      inside ? svg('path', { d: hatching(x, y, wide, high, true), class: 'hatch' }) : null,
      svg('rect', { x, y, width: wide, height: high, class: inside ? 'score-bar middle' : 'score-bar' }),
    ].filter((mark) => mark !== null);
  });
  const numbers = shown
    .filter(({ strokes }) => (strokes - (likely?.strokes ?? first)) % every === 0)
    .map(({ strokes }) =>
      text((strokes - first + 0.5) * step, bottom + 1.2 * rem, String(strokes), 'middle', 'axis-number'),
    );
  const above = likely
    ? text(
        Math.min(Math.max((likely.strokes - first + 0.5) * step, 1.2 * rem), width - 1.2 * rem),
        top - 0.4 * rem,
        `${Math.round(100 * likely.chance)} %`,
        'middle',
        'axis-number',
      )
    : null;
  return picture(
    { width, height: bottom + 1.7 * rem, title: words.title, description: words.description, id },
    ...marks,
    svg('path', { d: `M0,${bottom.toFixed(2)} H${width.toFixed(2)}`, class: 'zero-line' }),
    ...numbers,
    above,
  );
}
