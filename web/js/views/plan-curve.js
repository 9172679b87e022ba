/** Expected strokes over the aim: how much it matters. */
import { plain } from '../game/numbers.js';
import { h } from '../ui/elements.js';
import { gained } from '../ui/words.js';
import { curveChart } from '../charts/curve-chart.js';
import { extent, ticks } from '../charts/drawing.js';
import { figure, table } from '../charts/figure.js';
import { aimWords, strokes } from './plan-words.js';

/** @param {any} plan @param {any} option @param {import('./lengths.js').Lengths} lengths */
export function curvePart(plan, option, lengths) {
  const best = plan.options[0];
  const points = (/** @type {any} */ one) =>
    one.curve.map((/** @type {any} */ point) => ({
      x: lengths.of(point.aim_yd),
      y: point.expected,
      low: null,
      high: null,
    }));
  const finite = [best, option].flatMap((one) =>
    one.curve.map((/** @type {any} */ point) => point.expected).filter((/** @type {any} */ value) => value !== null),
  );
  const lowest = Math.min(...finite);
  const shownValues = finite.filter((value) => value <= lowest + 1.5);
  const [low, high] = extent([...shownValues, option.low, best.low, option.high], { least: 0.3 });
  const pointsInView = (/** @type {any} */ one) =>
    points(one).map((/** @type {any} */ point) =>
      point.y !== null && point.y <= high ? point : { ...point, y: null },
    );
  const dotOf = (/** @type {any} */ one) => ({
    x: lengths.of(one.aim_yd),
    y: one.expected,
    low: one.low !== null && one.low >= low ? one.low : null,
    high: one.high !== null && one.high <= high ? one.high : null,
  });
  const others =
    option === best ? [] : [{ curve: pointsInView(best), dots: [dotOf(best)], tone: 'reference', label: best.name }];
  const series = [...others, { curve: pointsInView(option), dots: [dotOf(option)], tone: 'one', label: option.name }];
  const reach = lengths.of(Math.max(...option.curve.map((/** @type {any} */ point) => point.aim_yd)));
  const [from, to] = option.aims_as_good_yd;
  const title = `Expected strokes over aim, ${option.name}`;
  const description = `Expected strokes of ${option.name} at aims across ${option.line}; lowest at ${aimWords(option, lengths)}.`;
  const side = (/** @type {number} */ value) =>
    value === 0 ? '0' : plain(Math.abs(value), 0) + (value < 0 ? ' L' : ' R');
  const draw = (/** @type {any} */ room) =>
    curveChart(
      series,
      {
        domain: [-1.06 * reach, 1.06 * reach],
        words: side,
        marks: ticks(-reach, reach, 4).values.map((value) => ({ value, words: side(value) })),
      },
      { domain: [low, high], words: (value, decimals) => value.toFixed(Math.max(1, decimals)) },
      { title, description, x: `aim, ${lengths.unit}`, y: 'expected strokes' },
      room,
    );
  const steps = option.curve.filter((/** @type {any} */ _, /** @type {number} */ place) => place % 5 === 0);
  const rows = steps.map((/** @type {any} */ point) => [
    point.aim_yd === 0
      ? 'on the line'
      : `${lengths.words(Math.abs(point.aim_yd))} ${point.aim_yd < 0 ? 'left' : 'right'}`,
    point.expected === null ? 'nearly all out of bounds' : strokes(point.expected),
    point.expected === null ? '–' : gained(point.expected - option.expected),
  ]);
  const good =
    from === to
      ? 'No other aim is as good.'
      : `Aims from ${sideWords(from, lengths)} to ${sideWords(to, lengths)} of ${option.line} are as good, to 0.02 strokes.`;
  const under = h(
    'p',
    { class: 'hint' },
    `${option === best ? '' : `The dotted curve is ${best.name}, the best. `}Aims are left (L) and right (R) of ${option.line}; the whisker is the 90 % interval at the best aim.`,
  );
  return h(
    'details',
    { class: 'curve-part' },
    h('summary', null, 'How much the aim matters'),
    h('p', null, good),
    figure(draw, table(title, ['aim', 'strokes', 'costs'], rows), under),
  );
}

/** @param {number} aim @param {import('./lengths.js').Lengths} lengths */
function sideWords(aim, lengths) {
  return Math.abs(aim) < 0.5 ? 'the middle' : `${lengths.words(Math.abs(aim))} ${aim < 0 ? 'left' : 'right'}`;
}
