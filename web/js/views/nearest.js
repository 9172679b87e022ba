/**
 * Without a network a view whose filters were never asked for shows the nearest that is kept: the same with fewer filters, and
 * says which are left out.
 *
 * @typedef {import('./address.js').Filters} Filters @typedef {{needed: string[], wished?: string[]}} Paths
 */
import { cachedPaths } from '../log/cache.js';

const MOST = 10; // filters of one view that are set at once, and are looked at

/** @type {Record<string, string>} */
const WORDS = {
  by: 'this grouping',
  from: 'these days',
  to: 'these days',
  beside_from: 'these days',
  beside_to: 'these days',
  kind: 'this kind of round',
  course: 'this course',
  lie: 'this lie',
  setup: 'this club or setup',
  level: 'this interval',
  club: 'this club',
  a: 'this trial',
  b: 'this trial',
  at: 'this place of the ball',
  pin: 'this pin',
  baseline: 'this baseline',
  ahead: 'your own next shots',
};

/**
 * The most filters with which everything is kept but what would be missing without any. Null: no such.
 * @param {import('../log/store.js').Store} store @param {Filters} filters @param {(filters: Filters) => Paths} pathsOf
 * @param {readonly string[]} [fixed] filters that stay @returns {Promise<{filters: Filters, left: string[]}|null>}
 */
export async function nearestKept(store, filters, pathsOf, fixed = []) {
  const names = Object.keys(filters).filter((name) => !fixed.includes(name));
  if (!names.length || names.length > MOST) return null;
  const kept = await cachedPaths(store);
  const missing = (/** @type {Filters} */ some) => {
    const { needed, wished = [] } = pathsOf(some);
    return [...needed, ...wished].filter((path) => !kept.has(path));
  };
  const lacking = missing(filters);
  for (const left of fewestFirst(names)) {
    const some = Object.fromEntries(Object.entries(filters).filter(([name]) => !left.includes(name)));
    const still = missing(some);
    if (still.length < lacking.length && still.every((path) => lacking.includes(path))) return { filters: some, left };
  }
  return null;
}

/** Every choice of names but none, the small ones first, of like size those with later names. @param {string[]} names */
function fewestFirst(names) {
  const choices = Array.from({ length: 2 ** names.length - 1 }, (_, bits) =>
    names.filter((_name, place) => (bits + 1) & (1 << (names.length - 1 - place))),
  );
  return choices.sort((a, b) => a.length - b.length);
}

/** @param {string[]} left filters that are left out @returns {string} */
export function leftWords(left) {
  const words = [...new Set(left.map((name) => WORDS[name] ?? 'these settings'))];
  return `Not stored on this device: ${words.join(', ')}. Showing the closest stored answer.`;
}
