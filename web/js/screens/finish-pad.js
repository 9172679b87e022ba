/** Where the ball finished against its target: tap the pad, or use the steppers beside it. No dragging. */
import { FARTHEST_OFFLINE_YD } from '../game/ranges.js';
import { fromYards, toYards } from '../game/units.js';
import { button, h } from '../ui/elements.js';

const SIZE = 220;
const HALF = SIZE / 2;

/**
 * @param {any} fields of the shot @param {'yards'|'metres'|undefined} units @param {boolean} putt feet for a putt
 * @param {(change: any) => void} set
 */
export function finishPad(fields, units, putt, set) {
  const unit = putt ? 'ft' : units === 'metres' ? 'm' : 'yd';
  const reach = putt ? 12 : 40;
  const shown = (/** @type {any} */ yards) => (yards === null || yards === undefined ? 0 : fromYards(yards, unit));
  const right = shown(fields.right_yd);
  const long = shown(fields.long_yd);
  const known = typeof fields.right_yd === 'number' || typeof fields.long_yd === 'number';
  const place = (/** @type {number} */ newRight, /** @type {number} */ newLong) => {
    const most = fromYards(FARTHEST_OFFLINE_YD, unit);
    const bounded = (/** @type {number} */ value) => toYards(Math.min(Math.max(Math.round(value), -most), most), unit);
    set({ right_yd: bounded(newRight), long_yd: bounded(newLong) });
  };
  const tap = (/** @type {MouseEvent} */ event) => {
    const at = tappedOn(event, reach);
    place(at.right, at.long);
  };
  return h(
    'div',
    { class: 'finish' },
    padDrawing(known, right, long, reach, unit, tap),
    h(
      'div',
      { class: 'finish-steps' },
      stepper('Right (+) or left (−)', 'right', right, unit, (value) => place(value, long), known),
      stepper('Long (+) or short (−)', 'long', long, unit, (value) => place(right, value), known),
      known
        ? button('Not recorded', () => set({ right_yd: null, long_yd: null }), { class: 'quiet', id: 'finish-clear' })
        : null,
    ),
  );
}

/** Where a tap on the pad is, in its unit. @param {MouseEvent} event @param {number} reach */
export function tappedOn(event, reach) {
  const box = /** @type {Element} */ (event.currentTarget).getBoundingClientRect();
  return {
    right: (((event.clientX - box.left) / box.width) * 2 - 1) * reach,
    long: (1 - ((event.clientY - box.top) / box.height) * 2) * reach,
  };
}

/**
 * The pad alone. @param {boolean} known @param {number} right @param {number} long @param {number} reach from its middle to its edge
 * @param {string} unit @param {(event: MouseEvent) => void} tap
 */
export function padDrawing(known, right, long, reach, unit, tap) {
  const bounded = (/** @type {number} */ value) => Math.min(Math.max(value / reach, -1), 1) * HALF;
  const rings = [0.25, 0.5, 0.75, 1].map((part) =>
    h('circle', { cx: HALF, cy: HALF, r: HALF * part - 1, class: 'ring' }),
  );
  return h(
    'svg',
    {
      viewBox: `0 0 ${SIZE} ${SIZE}`,
      class: 'finish-pad',
      role: 'img',
      'aria-label': known
        ? `Finish ${Math.round(right)} ${unit} right, ${Math.round(long)} ${unit} long; the steppers set it too`
        : 'Finish not recorded; tap, or use the steppers',
      onclick: tap,
    },
    rings,
    h('line', { x1: HALF, y1: 0, x2: HALF, y2: SIZE, class: 'ring' }),
    h('line', { x1: 0, y1: HALF, x2: SIZE, y2: HALF, class: 'ring' }),
    h('text', { x: HALF + 5, y: 14 }, 'long'),
    h('text', { x: SIZE - 32, y: HALF - 5 }, 'right'),
    h('text', { x: HALF + 5, y: HALF * 0.5 + 12 }, `${reach / 2} ${unit}`),
    known ? h('circle', { cx: HALF + bounded(right), cy: HALF - bounded(long), r: 8, class: 'ball' }) : null,
  );
}

/**
 * @param {string} label @param {string} id @param {number} value @param {string} unit @param {(value: number) => void} change @param {boolean} known
 */
function stepper(label, id, value, unit, change, known) {
  return h(
    'div',
    { class: 'stepper', role: 'group', 'aria-label': label },
    h('span', { class: 'stepper-label' }, label),
    button('−', () => change(value - 1), { id: `${id}-less`, 'aria-label': `${label}: one less` }),
    h('output', { 'aria-live': 'polite' }, known ? `${Math.round(value)} ${unit}` : '–'),
    button('+', () => change(value + 1), { id: `${id}-more`, 'aria-label': `${label}: one more` }),
  );
}
