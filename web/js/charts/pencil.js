/** What a pencil fills and counts with: hatching and tallies, as the text of an SVG path. Pure. */

/** @param {number} value @returns {number} a hundredth of a pixel */
const short = (value) => Math.round(value * 100) / 100;

/**
 * Slanting strokes that fill a box: up to the right for what is gained, down to the right for what is lost, so that the two differ
 * without colour too. @param {number} x @param {number} y @param {number} width @param {number} height @param {boolean} up
 * @param {number} [step] between two strokes @returns {string}
 */
export function hatching(x, y, width, height, up, step = 5) {
  if (width <= 0 || height <= 0) return '';
  const strokes = [];
  const across = (/** @type {number} */ from) => short(up ? from : 2 * x + width - from);
  for (let sum = step; sum < width + height; sum += step) {
    const from = Math.max(0, sum - height);
    const to = Math.min(width, sum);
    strokes.push(`M${across(x + from)},${short(y + sum - from)} L${across(x + to)},${short(y + sum - to)}`);
  }
  return strokes.join(' ');
}

/**
 * A tally: upright strokes, every fifth across the four before it. `lying`: counted downwards, the strokes lying.
 * @param {number} count @param {number} x @param {number} y of its first corner @param {number} [size] of a stroke @param {boolean} [lying] @returns {string}
 */
export function tally(count, x, y, size = 10, lying = false) {
  const gap = size * 0.42;
  const at = (/** @type {number} */ along, /** @type {number} */ over) =>
    lying ? `${short(x + over)},${short(y + along)}` : `${short(x + along)},${short(y + over)}`;
  return Array.from({ length: count }, (_, index) => {
    const first = Math.floor(index / 5) * 5 * gap;
    const along = first + (index % 5) * gap;
    const lean = ((index * 7) % 5) / 5 - 0.4; // a hand never sets two strokes alike
    return index % 5 === 4
      ? `M${at(first - gap * 0.4, size * 0.8)} L${at(first + 3.4 * gap, size * 0.2)}`
      : `M${at(along, 0)} L${at(along + lean, size)}`;
  }).join(' ');
}

/** How long a tally is. @param {number} count @param {number} [size] @returns {number} */
export function tallyLength(count, size = 10) {
  return Math.max(0, count - 1) * size * 0.42;
}
