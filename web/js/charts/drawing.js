/**
 * Drawing in SVG: from numbers to scales, ticks and marks. Pure: it reads nothing from the page and keeps nothing. All lengths
 * are CSS pixels, so that text stays at the reader's own size whatever the width.
 *
 * @typedef {(value: number) => number} Scale from a value to a place
 * @typedef {{x: number, low: number|null, high: number|null}} BandPoint places; null where nothing is known
 * @typedef {'circle'|'square'|'diamond'} Shape
 */
const SVG = 'http://www.w3.org/2000/svg';

/** Tick steps within a power of ten: numbers that are quickly read. */
const ROUND_STEPS = [1, 2, 5, 10];
const SMALL = 1e-9; // of a step: rounding of the binary numbers, far below a pixel

/**
 * An SVG element; null and false leave an attribute out.
 * @param {string} tag @param {Record<string, any>|null} attributes @param {...(Node|string|null|false|(Node|null)[])} children
 * @returns {SVGElement}
 */
export function svg(tag, attributes, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value !== null && value !== undefined && value !== false)
      element.setAttribute(name, typeof value === 'number' ? place(value) : String(value));
  }
  element.append(...children.flat().filter((child) => child !== null && child !== false));
  return element;
}

/** A place in the picture, to a hundredth of a pixel. @param {number} value @returns {string} */
export function place(value) {
  return String(Math.round(value * 100) / 100);
}

/**
 * A straight scale from `[low, high]` to `[from, to]`; a domain of one value goes to the middle.
 * @param {[number, number]} domain @param {[number, number]} range @returns {Scale}
 */
export function linearScale([low, high], [from, to]) {
  if (high === low) return () => (from + to) / 2;
  return (value) => from + ((value - low) / (high - low)) * (to - from);
}

/**
 * The least range that holds the numbers, with some room at both ends. What is not a finite number is passed over. Without a
 * number, and around one alone, it reaches `least` / 2 to each side.
 * @param {(number|null|undefined)[]} values @param {{least?: number, room?: number}} [more] `room`: share of the range
 * @returns {[number, number]}
 */
export function extent(values, { least = 1, room = 0.05 } = {}) {
  const numbers = /** @type {number[]} */ (values.filter((value) => Number.isFinite(value)));
  let low = numbers.length ? Math.min(...numbers) : 0;
  let high = numbers.length ? Math.max(...numbers) : 0;
  const lacking = least - (high - low);
  if (lacking > 0) {
    low -= lacking / 2;
    high += lacking / 2;
  }
  const margin = (high - low) * room;
  return [low - margin, high + margin];
}

/**
 * Round numbers within a range, about as many as wanted, and the decimals that tell them apart.
 * @param {number} low @param {number} high @param {number} wanted @returns {{values: number[], decimals: number}}
 */
export function ticks(low, high, wanted) {
  if (!Number.isFinite(low) || !Number.isFinite(high) || high < low) return { values: [], decimals: 0 };
  if (high === low) return { values: [low], decimals: 0 };
  const rough = (high - low) / Math.max(1, wanted);
  const power = Math.floor(Math.log10(rough));
  const step = (ROUND_STEPS.find((one) => one >= rough / 10 ** power - SMALL) ?? 10) * 10 ** power;
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + SMALL));
  const first = Math.ceil(low / step - SMALL);
  const count = Math.floor(high / step + SMALL) - first + 1;
  const values = Array.from(
    { length: Math.max(0, count) },
    (_, index) => Number(((first + index) * step).toFixed(decimals)) + 0,
  );
  return { values, decimals };
}

/**
 * A dot. Filled where something is clear, open where it is not.
 * @param {number} x @param {number} y @param {{shape?: Shape, radius?: number, open?: boolean, tone?: string}} [more]
 */
export function dot(x, y, { shape = 'circle', radius = 6, open = false, tone = '' } = {}) {
  const classes = `dot ${open ? 'open' : 'full'} ${tone}`.trim();
  if (shape === 'circle') return svg('circle', { cx: x, cy: y, r: radius, class: classes });
  const side = radius * 1.8; // about the area of the circle
  if (shape === 'square')
    return svg('rect', { x: x - side / 2, y: y - side / 2, width: side, height: side, class: classes });
  const reach = radius * 1.25;
  return svg('path', {
    d: `M${place(x)},${place(y - reach)} L${place(x + reach)},${place(y)} L${place(x)},${place(y + reach)} L${place(x - reach)},${place(y)} Z`,
    class: classes,
  });
}

/** Half the width of an interval's stroke: where it is pressed, and at its ends. */
const PRESSED = 2.4;
const LIFTED = 0.6;

/**
 * An interval as a lying stroke, pressed at its mean and lifted towards both ends. An end beyond the frame stops there with an
 * arrowhead. @param {number} from @param {number} to @param {number} y
 * @param {{at?: number, frame?: [number, number], cap?: number, tone?: string}} [more] `at`: where it is pressed, else its middle
 */
export function whisker(from, to, y, { at, frame = [-Infinity, Infinity], cap = 5, tone = '' } = {}) {
  const left = Math.min(Math.max(from, frame[0]), frame[1]);
  const right = Math.max(Math.min(to, frame[1]), frame[0]);
  const mean = Math.min(Math.max(at ?? (left + right) / 2, left), right);
  const head = (/** @type {number} */ x, /** @type {number} */ inward) =>
    ` M${place(x)},${place(y)} L${place(x + cap * inward)},${place(y - cap)} V${place(y + cap)} Z`;
  const d = `M${place(left)},${place(y - LIFTED)} L${place(mean)},${place(y - PRESSED)} L${place(right)},${place(y - LIFTED)} V${place(y + LIFTED)} L${place(mean)},${place(y + PRESSED)} L${place(left)},${place(y + LIFTED)} Z`;
  const heads = `${from < frame[0] ? head(left, 1) : ''}${to > frame[1] ? head(right, -1) : ''}`;
  return svg('path', { d: d + heads, class: `whisker ${tone}`.trim() });
}

/** An interval as a standing stroke. @param {number} x @param {number} top @param {number} bottom @param {{at?: number, tone?: string}} [more] */
export function standingWhisker(x, top, bottom, { at, tone = '' } = {}) {
  const mean = at ?? (top + bottom) / 2;
  const d = `M${place(x - LIFTED)},${place(top)} L${place(x - PRESSED)},${place(mean)} L${place(x - LIFTED)},${place(bottom)} H${place(x + LIFTED)} L${place(x + PRESSED)},${place(mean)} L${place(x + LIFTED)},${place(top)} Z`;
  return svg('path', { d, class: `whisker ${tone}`.trim() });
}

/** A short upright stroke through a line. @param {number} x @param {number} y @param {number} [half] */
export function tickMark(x, y, half = 9) {
  return svg('path', { d: `M${place(x)},${place(y - half)} V${place(y + half)}`, class: 'tick-mark' });
}

/**
 * Splits points where one has no value, so that nothing is drawn over a gap.
 * @template T @param {T[]} points @param {(point: T) => boolean} has @returns {T[][]} runs of one point or more
 */
export function runs(points, has) {
  /** @type {T[][]} */
  const found = [];
  let open = false;
  for (const point of points) {
    if (!has(point)) open = false;
    else if (open) found[found.length - 1].push(point);
    else {
      found.push([point]);
      open = true;
    }
  }
  return found;
}

/** A band between low and high places, broken at gaps; null without a run. @param {BandPoint[]} points @param {string} [tone] */
export function band(points, tone = '') {
  const parts = runs(points, (point) => Number.isFinite(point.low) && Number.isFinite(point.high)).map((run) => {
    const there = run.map((point) => `${place(point.x)},${place(/** @type {number} */ (point.high))}`);
    const back = [...run].reverse().map((point) => `${place(point.x)},${place(/** @type {number} */ (point.low))}`);
    return `M${[...there, ...back].join(' L')} Z`;
  });
  return parts.length ? svg('path', { d: parts.join(' '), class: `band ${tone}`.trim() }) : null;
}

/** A line through points, broken at gaps; null without one. @param {{x: number, y: number|null}[]} points @param {string} [tone] */
export function line(points, tone = '') {
  const parts = runs(points, (point) => Number.isFinite(point.y)).map(
    (run) => `M${run.map((point) => `${place(point.x)},${place(/** @type {number} */ (point.y))}`).join(' L')}`,
  );
  return parts.length ? svg('path', { d: parts.join(' '), class: `curve ${tone}`.trim() }) : null;
}

/** A text. @param {number} x @param {number} y @param {string} words @param {'start'|'middle'|'end'} [anchor] @param {string} [tone] */
export function text(x, y, words, anchor = 'start', tone = '') {
  return svg('text', { x, y, 'text-anchor': anchor, class: tone || null }, words);
}

/**
 * A picture with its name and description for those who hear the page.
 * @param {{width: number, height: number, title: string, description: string, id: string}} about @param {...any} children
 */
export function picture({ width, height, title, description, id }, ...children) {
  return svg(
    'svg',
    {
      width,
      height,
      viewBox: `0 0 ${place(width)} ${place(height)}`,
      role: 'img',
      'aria-labelledby': `${id}-title`,
      'aria-describedby': `${id}-desc`,
      class: 'picture',
    },
    svg('title', { id: `${id}-title` }, title),
    svg('desc', { id: `${id}-desc` }, description),
    ...children,
  );
}
