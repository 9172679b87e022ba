/**
 * Wind in one tap: a key for each point of the compass and strength, drawn as a compass, a table or a row (`play.css`).
 * One stop of the Tab key; arrows turn round the compass and change the strength.
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
      point ? [point, h('span', { class: 'ring-word' }, wind)] : 'none',
      () => choose({ wind, wind_from_deg: point === null ? null : degreesOf(point) }),
      {
        class: `choice ${wind} ${point ?? ''}`,
        id: `${id}-${[wind, point].filter(Boolean).join('-')}`,
        'aria-pressed': String(chosen),
        'aria-label': point ? `${point} ${wind} wind` : 'none: no wind',
        tabindex: chosen ? 0 : -1,
      },
    );
    const [across, down] = point ? STEPS[POINTS.indexOf(point)] : [0, 0];
    const ring = RINGS.indexOf(wind) + 1;
    element.style.setProperty('--at', `${MIDDLE + down * ring} / ${MIDDLE + across * ring}`);
    return element;
  };
  const middle = cell(NO_WIND, null);
  const all = [middle, ...POINTS.flatMap((point) => RINGS.map((wind) => cell(wind, point)))];
  if (!all.some((one) => one.tabIndex === 0)) middle.tabIndex = 0;
  /** Where an arrow leads, in turns round the compass and steps of strength. @type {Record<string, [number, number]>} */
  const arrows = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
  const move = (/** @type {KeyboardEvent} */ event) => {
    const arrow = arrows[event.key];
    const here = all.indexOf(/** @type {any} */ (event.target));
    if (!arrow || here < 0) return;
    event.preventDefault();
    const ring = Math.min((here ? (here - 1) % RINGS.length : -1) + arrow[1], RINGS.length - 1);
    const turned = here ? Math.floor((here - 1) / RINGS.length) + arrow[0] + POINTS.length : 0;
    const next = ring < 0 ? middle : all[1 + (turned % POINTS.length) * RINGS.length + ring];
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
