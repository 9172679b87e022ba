/** Where the ball lies, when it is not on the tee. */
import { field, h, select } from '../ui/elements.js';
import { toYards } from '../game/units.js';

/** @typedef {import('./page.js').Context} Context */

const LIES = /** @type {[string, string][]} */ (
  ['fairway', 'rough', 'sand', 'fringe', 'recovery'].map((lie) => [lie, lie])
);

/** A place so far from the hole on the line from the tee, and so far right of it. @param {any} plan @param {number} away yards @param {number} right yards @returns {string} */
export function placeAt(plan, away, right) {
  const [x, y] = plan?.pin ?? [0, 300];
  const far = Math.hypot(x, y) || 1;
  const [alongX, alongY] = [x / far, y / far];
  return [x - alongX * away + alongY * right, y - alongY * away - alongX * right]
    .map((value) => String(Math.round(value * 10) / 10))
    .join(',');
}

/** @param {any} plan @param {import('./lengths.js').Lengths} lengths @param {Context} context */
export function elsewhere(plan, lengths, { filters, change }) {
  const [x, y] = plan.pin;
  const far = Math.hypot(x, y) || 1;
  const [dx, dy] = [plan.from[0] - x, plan.from[1] - y];
  const away = -(dx * x + dy * y) / far;
  const right = (dx * y - dy * x) / far;
  const most = lengths.of(700);
  const typed = (
    /** @type {string} */ words,
    /** @type {string} */ id,
    /** @type {number} */ yards,
    /** @type {(value: number) => string} */ at,
  ) => {
    const input = h('input', {
      type: 'number',
      inputmode: 'decimal',
      step: 'any',
      id,
      min: id === 'ball-away' ? '0' : String(-Math.round(most)),
      max: String(Math.round(most)),
      value: String(Math.round(lengths.of(yards))),
    });
    input.addEventListener('change', () => {
      if (input.value !== '' && Math.abs(Number(input.value)) <= most)
        change({ at: at(toYards(Number(input.value), lengths.unit)), option: '' });
    });
    return field(words, input);
  };
  return h(
    'div',
    { class: 'row' },
    typed(`Still to the hole, ${lengths.unit}`, 'ball-away', away, (value) => placeAt(plan, value, right)),
    typed(`Right (+) or left (−) of the line, ${lengths.unit}`, 'ball-right', right, (value) =>
      placeAt(plan, away, value),
    ),
    field(
      'Lie',
      select(LIES, filters.lie ?? 'fairway', (lie) => change({ lie, option: '' }), { id: 'plan-lie' }),
    ),
  );
}
