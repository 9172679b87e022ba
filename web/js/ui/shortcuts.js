/**
 * Keys for whoever sits at a keyboard. They press what is on the screen, are never taken from a field, and can be turned off in
 * the help (WCAG 2.2, 2.1.4).
 */
import { thisPhone } from './this-phone.js';

/** @type {[string, string, string][]} key, words, what it presses */
export const KEYS = [
  ['r', 'Rounds', '#tab-Rounds'],
  ['s', 'Strokes gained', '#tab-evidence'],
  ['b', 'Bag', '#tab-Bag'],
  ['c', 'Courses', '#tab-Courses'],
  ['p', 'Player', '#tab-Player'],
  ['n', 'Continue, or start a round', '#bar .action'],
  ['1', 'Where do strokes go?', '#question-where'],
  ['2', 'Which club?', '#question-club'],
  ['3', 'Where does it go?', '#question-finish'],
  ['4', 'Where to aim?', '#question-aim'],
  ['f', 'Filters', '#filters'],
  ['/', 'Find a round', '#find'],
];
/** Keys that do more than press one thing. @type {[string, string][]} */
export const MORE_KEYS = [
  ['[ ]', 'The view before, the next view'],
  ['o', 'Unfold everything, or fold it'],
  ['?', 'This help'],
];

/** @param {EventTarget|null} target @returns {boolean} whether somebody types there */
function isField(target) {
  return target instanceof HTMLElement && (target.isContentEditable || target.matches('input, select, textarea'));
}

/** @param {() => void} help shows the help */
export function listen(help) {
  addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    if (isField(event.target) || document.querySelector('dialog[open]') || !thisPhone().keys) return;
    if (!press(event.key, help)) return;
    event.preventDefault();
  });
}

/** @param {string} key @param {() => void} help @returns {boolean} whether the key did something */
function press(key, help) {
  if (key === '?') help();
  else if (key === 'o') return unfold();
  else if (key === '[' || key === ']') return step(key === ']' ? 1 : -1);
  else return click(KEYS.find(([one]) => one === key)?.[2]);
  return true;
}

/** @param {string|undefined} selector @returns {boolean} */
function click(selector) {
  const element = selector ? document.querySelector(selector) : null;
  if (!(element instanceof HTMLElement)) return false;
  element.click();
  if (element.id === 'find') document.getElementById('search')?.focus();
  return true;
}

/** Another view of the question. @param {number} by @returns {boolean} */
function step(by) {
  const views = [...document.querySelectorAll('nav.views a')];
  const next = views[views.findIndex((one) => one.hasAttribute('aria-current')) + by];
  if (!(next instanceof HTMLElement)) return false;
  next.click();
  return true;
}

/** @returns {boolean} */
function unfold() {
  const folds = /** @type {NodeListOf<HTMLDetailsElement>} */ (document.querySelectorAll('main details.fold'));
  const open = ![...folds].every((one) => one.open);
  for (const one of folds) one.open = open;
  return folds.length > 0;
}
