/** A hole as a strip: the tee left, the green right, to scale; for entering a map and for lists. */
import { picture, text, ticks } from './drawing.js';
import { flag, ground, lying, wholeHole } from './hole-drawing.js';
import { boundsOf } from '../game/hole-maps.js';
import { LEFT, LONG, RIGHT, SHORT } from '../game/map-form.js';
import { fromYards, toYards } from '../game/units.js';
import { freshId, whenResized } from '../ui/elements.js';
import { shown } from '../screens/map-entry.js';

/** @typedef {import('../game/units.js').Unit} Unit @typedef {import('../game/hole-maps.js').Feature} Feature */

const TALL_SHARE = 0.42; // of the width
const drawers = /** @type {WeakMap<HTMLElement, () => void>} */ (new WeakMap());

/**
 * Draws a hole into a holder, anew whenever the holder's width changes.
 * @param {HTMLElement} holder @param {Feature[]} features @param {Unit} unit @param {string} description @param {{plain?: boolean}} [more] `plain`: without words
 */
export function holeStrip(holder, features, unit, description, more = {}) {
  const id = freshId();
  const draw = () => {
    if (holder.clientWidth)
      holder.replaceChildren(strip(features, holder.clientWidth, unit, description, id, more.plain ?? false));
  };
  if (!drawers.has(holder)) whenResized(holder, () => drawers.get(holder)?.());
  drawers.set(holder, draw);
  draw();
}

/** @param {Feature[]} features @param {number} width @param {Unit} unit @param {string} description @param {string} id @param {boolean} plain */
function strip(features, width, unit, description, id, plain) {
  const rem = parseFloat(getComputedStyle(document.documentElement).fontSize);
  const frame = lying(
    wholeHole(features, plain ? { aside: 40, behind: 30 } : { aside: 62 }),
    width,
    width * TALL_SHARE,
  );
  const [left, near, right, far] = frame.window;
  const greens = boundsOf(features.filter((one) => one.properties.golf === 'green'));
  const marks = ticks(0, fromYards(far, unit), Math.max(2, width / (6 * rem))).values.filter((value) => value > 0);
  const words = plain
    ? []
    : [
        text(0.4 * rem, 1.1 * rem, 'left', 'start'),
        text(0.4 * rem, frame.height - 0.4 * rem, 'right', 'start'),
        ...marks
          .map((value) => ({ value, x: frame.place(0, toYards(value, unit))[0] }))
          .filter(({ x }) => x > 4 * rem && x < width - 2.5 * rem)
          .map(({ value, x }, place) =>
            text(x, frame.height - 0.4 * rem, place ? String(value) : `${value} ${unit}`, 'middle'),
          ),
      ];
  const drawn = picture(
    {
      width,
      height: frame.height,
      title: 'The hole from the tee on the left to the green on the right',
      description,
      id,
    },
    ground(features, frame, id, { small: plain }),
    flag((greens[0] + greens[2]) / 2, (greens[1] + greens[3]) / 2, frame),
    ...words,
  );
  drawn.setAttribute('class', 'picture hole-strip');
  drawn.dataset.window = [left, near, right, far].map((value) => value.toFixed(1)).join(' ');
  return drawn;
}

const SIDES = /** @type {Record<string, string>} */ ({
  [LEFT]: 'left',
  [RIGHT]: 'right',
  [SHORT]: 'short of the green',
  [LONG]: 'behind the green',
});

/** What a form says, in words. @param {import('../game/map-form.js').HoleForm} form @param {Unit} unit @returns {string} */
export function stripWords(form, unit) {
  const yards = (/** @type {any} */ value) => `${shown(Number(value), unit)} ${unit}`;
  const parts = [
    `${yards(form.length_yd)} from the back tee to the middle of the green`,
    ...(form.fairway ?? []).map(([at, width]) => `fairway ${yards(width)} wide at ${yards(at)}`),
    ...(form.trouble ?? []).map(
      (one) => `${one.kind.replaceAll('_', ' ')} ${SIDES[one.side]} from ${yards(one.begins_yd)}`,
    ),
    `green ${yards(form.green_depth_yd)} deep and ${yards(form.green_width_yd)} wide`,
  ];
  return `${parts.join('; ')}.`;
}
