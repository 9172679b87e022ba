/**
 * Wind in one tap: a place on the compass says where it comes from, its ring how strong it is, the middle that there is none.
 * One stop of the Tab key; arrows turn round the compass and change the ring.
 */
import { NO_WIND, POINTS, WINDS, degreesOf, pointOf } from '../game/hole-conditions.js';
import { button, h } from '../ui/elements.js';

/** @typedef {import('../game/hole-conditions.js').HoleConditions} HoleConditions */

const RINGS = WINDS.filter((wind) => wind !== NO_WIND);
/** Columns and rows from the middle, by point of the compass. */
const STEPS = [
  [0, -1],
  [1, -1],
  [1, 0],
  [1, 1],
  [0, 1],
  [-1, 1],
  [-1, 0],
  [-1, -1],
];
const MIDDLE = RINGS.length + 1;

/**
 * @param {string} id @param {HoleConditions} conditions those of the hole, carried on @param {(change: HoleConditions) => void} choose
 * @returns {HTMLElement}
 */
export function windCompass(id, conditions, choose) {
  const from = typeof conditions.wind_from_deg === 'number' ? pointOf(conditions.wind_from_deg) : null;
  const cell = (/** @type {string} */ wind, /** @type {string|null} */ point) => {
    const chosen = wind === conditions.wind && point === from;
    const element = button(
      point ? [point, point === POINTS[0] ? h('span', { class: 'ring-word' }, wind) : null] : 'none',
      () => choose({ wind, wind_from_deg: point === null ? null : degreesOf(point) }),
      {
        class: `choice ${wind}`,
        id: `${id}-${[wind, point].filter(Boolean).join('-')}`,
        'aria-pressed': String(chosen),
        'aria-label': point ? `${point} ${wind} wind` : 'none: no wind',
        tabindex: chosen ? 0 : -1,
      },
    );
    const [across, down] = point ? STEPS[POINTS.indexOf(point)] : [0, 0];
    const ring = RINGS.indexOf(wind) + 1;
    element.style.gridColumn = String(MIDDLE + across * ring);
    element.style.gridRow = String(MIDDLE + down * ring);
    return element;
  };
  const middle = cell(NO_WIND, null);
  const rings = RINGS.map((wind) => POINTS.map((point) => cell(wind, point)));
  const all = [middle, ...rings.flat()];
  if (!all.some((one) => one.tabIndex === 0)) middle.tabIndex = 0;
  /** Where an arrow leads, in turns round the compass and rings out. @type {Record<string, [number, number]>} */
  const arrows = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
  const move = (/** @type {KeyboardEvent} */ event) => {
    const arrow = arrows[event.key];
    const here = all.indexOf(/** @type {any} */ (event.target));
    if (!arrow || here < 0) return;
    event.preventDefault();
    const ring = (here ? Math.floor((here - 1) / POINTS.length) : -1) + arrow[1];
    const point = ((here ? (here - 1) % POINTS.length : 0) + arrow[0] + POINTS.length) % POINTS.length;
    const next = ring < 0 ? middle : rings[Math.min(ring, RINGS.length - 1)][here ? point : 0];
    for (const one of all) one.tabIndex = one === next ? 0 : -1;
    next.focus();
  };
  return h(
    'div',
    {
      class: 'compass',
      id,
      role: 'toolbar',
      'aria-label':
        'Wind: where it comes from and how strong. Arrows left and right turn, up and down change the strength',
      onkeydown: move,
    },
    h('span', { class: 'compass-words', 'aria-hidden': 'true' }, 'Wind from'),
    RINGS.map((wind) => h('span', { class: `compass-ring of-${wind}` })),
    all,
  );
}
