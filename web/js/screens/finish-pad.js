/** Where the ball finished against its target: tap the pad, or use the steppers beside it. No dragging. */
import { FARTHEST_OFFLINE_YD } from '../game/ranges.js';
import { fromYards, toYards } from '../game/units.js';
import { button, h } from '../ui/elements.js';

const SIZE = 220;
const HALF = SIZE / 2;
const LANE = HALF / 2; // from the line of play to the lines beside it
const DEPTHS = [0.5, 0, -0.5]; // of the reach

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
      stepper('Right (+) or left (−)', 'right', right, unit, (value) => place(value, long), known, ['left', 'right']),
      stepper('Long (+) or short (−)', 'long', long, unit, (value) => place(right, value), known, ['short', 'long']),
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
 * The pad alone: the line of play goes up the sheet, with a lane to each side of it and depths across, the target where they meet.
 * @param {boolean} known @param {number} right @param {number} long @param {number} reach from its middle to its edge
 * @param {string} unit @param {(event: MouseEvent) => void} tap
 */
export function padDrawing(known, right, long, reach, unit, tap) {
  const bounded = (/** @type {number} */ value) => Math.min(Math.max(value / reach, -1), 1) * HALF;
  const [x, y] = [HALF + bounded(right), HALF - bounded(long)];
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
    h('path', { d: `M${HALF - LANE},0 V${SIZE} M${HALF + LANE},0 V${SIZE}`, class: 'lane' }),
    h('path', { d: DEPTHS.map((part) => `M0,${HALF - HALF * part} H${SIZE}`).join(' '), class: 'depth' }),
    h('path', { d: `M${HALF},${SIZE} V0 M${HALF - 5},9 L${HALF},1 L${HALF + 5},9`, class: 'line-of-play' }),
    h('path', { d: `M${HALF - 9},${HALF} H${HALF + 9}`, class: 'line-of-play' }),
    h('text', { x: HALF + 9, y: '.95em' }, 'long'),
    h('text', { x: HALF + 9, y: SIZE - 6 }, 'short'),
    h('text', { x: 5, y: HALF - 6 }, 'left'),
    h('text', { x: SIZE - 5, y: HALF - 6, 'text-anchor': 'end' }, 'right'),
    h('text', { x: SIZE - 5, y: HALF / 2 - 5, 'text-anchor': 'end' }, `${reach / 2} ${unit}`),
    known ? h('path', { d: `M${HALF},${HALF} L${x},${y}`, class: 'way' }) : null,
    known ? h('circle', { cx: x, cy: y, r: 7, class: 'ball' }) : null,
  );
}

/**
 * @param {string} label @param {string} id @param {number} value @param {string} unit @param {(value: number) => void} change @param {boolean} known
 * @param {[string, string]} sides what less than nothing is called, and more
 */
function stepper(label, id, value, unit, change, known, [less, more]) {
  const steps = Math.round(value);
  const words = steps === 0 ? `0 ${unit}` : `${Math.abs(steps)} ${unit} ${steps < 0 ? less : more}`;
  return h(
    'div',
    { class: 'stepper', role: 'group', 'aria-label': label },
    h('span', { class: 'stepper-label' }, label),
    button('−', () => change(value - 1), { id: `${id}-less`, 'aria-label': `${label}: one less` }),
    h('output', { 'aria-live': 'polite' }, known ? words : '–'),
    button('+', () => change(value + 1), { id: `${id}-more`, 'aria-label': `${label}: one more` }),
  );
}
