/** A picture with its table: the picture is drawn for the room it gets, the table says the same to those who read. */
import { freshId, h, whenResized } from '../ui/elements.js';
import { folded, roomBeside } from '../ui/fold.js';
import { svg } from './drawing.js';
import { tally, tallyLength } from './pencil.js';
import { tallied } from './row-labels.js';

/** Tells a picture that its page is on the screen. */
const SHOWN = 'picture-shown';

/** @returns {number} pixels of the reader's text size */
function textSize() {
  return parseFloat(getComputedStyle(document.documentElement).fontSize);
}

/**
 * @param {(room: import('./whisker-chart.js').Room) => SVGElement} draw called again whenever the room changes
 * @param {HTMLElement} table folded under the picture, or beside it where there is room @param {...any} under such as a hint
 */
export function figure(draw, table, ...under) {
  const numbers = /** @type {any} */ (
    folded(table.dataset.fold ?? 'The numbers', table, { beside: true, class: 'numbers-fold' })
  );
  let beside = roomBeside();
  const chart = chartAlone(draw, () => {
    if (beside === roomBeside()) return;
    beside = !beside;
    numbers.open = beside;
  });
  return h('div', { class: 'pair' }, h('div', { class: 'pair-picture' }, chart, ...under), numbers);
}

/**
 * A picture without a table beside it, which is elsewhere on its page.
 * @param {(room: import('./whisker-chart.js').Room) => SVGElement} draw called again whenever the room changes
 * @param {() => void} [resized]
 */
export function chartAlone(draw, resized = () => undefined) {
  const id = freshId();
  const holder = h('div', { class: 'picture-holder' });
  let drawn = '';
  const redraw = () => {
    const room = { width: holder.clientWidth, rem: textSize(), id };
    const key = `${room.width} ${room.rem}`;
    if (!room.width || key === drawn) return;
    drawn = key;
    resized();
    holder.replaceChildren(draw(room));
  };
  whenResized(holder, redraw);
  holder.addEventListener(SHOWN, redraw);
  return holder;
}

/** Draws the pictures of a page that is on the screen now, before it is painted: nothing below them moves. @param {ParentNode} page */
export function drawPictures(page) {
  for (const holder of page.querySelectorAll('.picture-holder')) holder.dispatchEvent(new Event(SHOWN));
}

/**
 * A table in a box of its own that scrolls sideways when the text is large.
 * @param {string} caption @param {string[]} titles the first is of the rows' names @param {any[][]} rows cells; the first names the row
 * @returns {HTMLElement}
 */
export function table(caption, titles, rows) {
  const box = h(
    'div',
    { class: 'table-box strip-free' },
    h(
      'table',
      { class: 'evidence-table' },
      h('caption', null, caption),
      h(
        'thead',
        null,
        h(
          'tr',
          null,
          titles.map((title) => h('th', { scope: 'col' }, title)),
        ),
      ),
      h(
        'tbody',
        null,
        rows.map(([name, ...cells]) =>
          h(
            'tr',
            null,
            h('th', { scope: 'row' }, name),
            cells.map((cell) => h('td', null, cell)),
          ),
        ),
      ),
    ),
  );
  return scrolling(box, caption);
}

/** Watches a box: while it scrolls it can be reached by the keyboard; one that does not is no stop. @param {HTMLElement} box @param {string} name @returns {HTMLElement} */
export function scrolling(box, name) {
  new ResizeObserver(() => reachable(box, name)).observe(box);
  return box;
}

/** @param {HTMLElement} box @param {string} name */
function reachable(box, name) {
  const scrolls = box.scrollWidth > box.clientWidth;
  for (const [attribute, value] of Object.entries({
    tabindex: '0',
    role: 'region',
    'aria-label': `${name}, scrolls sideways`,
  })) {
    if (scrolls) box.setAttribute(attribute, value);
    else box.removeAttribute(attribute);
  }
}

/** A value over its interval, for a cell. @param {string} value @param {string} under @param {string} [tone] */
export function valueCell(value, under, tone = '') {
  return [h('span', { class: tone }, value), h('span', { class: 'list-under' }, under)];
}

/** A count for a cell, a small one with its tally before it. @param {number} count @param {string} [words] in place of the bare number */
export function countCell(count, words = String(count)) {
  if (!tallied(count)) return words;
  const size = 11;
  const width = tallyLength(count, size) + 4;
  return h(
    'span',
    { class: 'count-cell' },
    svg(
      'svg',
      { width, height: size + 2, viewBox: `-2 -1 ${width} ${size + 2}`, 'aria-hidden': 'true' },
      svg('path', { d: tally(count, 0, 0, size), class: 'tally' }),
    ),
    words,
  );
}
