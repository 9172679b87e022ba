/** What is folded behind an answer: filters, tables, methods. What somebody unfolded stays so until they leave the phone. */
import { h } from './elements.js';

/** From here on a table is beside its picture; as `.pair` in evidence.css. */
const WIDE = '(min-width: 62rem)';

/** @returns {boolean} whether a table has room beside its picture */
export function roomBeside() {
  return matchMedia(WIDE).matches;
}

/**
 * A part that is folded until somebody opens it; null where there is nothing in it.
 * @param {string} title @param {any} content @param {{id?: string, class?: string, beside?: boolean}} [more] `beside`: open where
 * there is room beside a picture
 */
export function folded(title, content, more = {}) {
  const parts = [content].flat(3).filter(Boolean);
  if (!parts.length) return null;
  return h(
    'details',
    {
      id: more.id,
      class: `fold ${more.class ?? ''}`.trim(),
      'data-beside': more.beside ?? null,
      open: Boolean(more.beside) && roomBeside(),
    },
    h('summary', null, title),
    parts,
  );
}

/** The one fold of a page for how its figures come about. @param {...any} content */
export function method(...content) {
  return folded('How this is worked out', content, { class: 'method', id: 'method' });
}

/**
 * Gives the folds of a page the state that they were left in, and keeps it from now on.
 * @param {ParentNode} page @param {string} name of the page @param {Map<string, boolean>} kept
 */
export function keepFolds(page, name, kept) {
  /** @type {Map<string, number>} */
  const seen = new Map();
  for (const one of /** @type {NodeListOf<HTMLDetailsElement>} */ (page.querySelectorAll('details.fold'))) {
    const words = one.querySelector('summary')?.textContent ?? '';
    const turn = (seen.get(words) ?? 0) + 1; // two folds of one title are told apart by their order
    seen.set(words, turn);
    const key = `${name} ${words} ${turn}`;
    const usual = () => 'beside' in one.dataset && roomBeside();
    one.open = kept.get(key) ?? usual();
    one.addEventListener('toggle', () => {
      if (one.open === usual()) kept.delete(key);
      else kept.set(key, one.open);
    });
  }
}
