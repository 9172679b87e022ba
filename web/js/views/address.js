/**
 * Addresses of the evidence: `#/evidence/PLAYER/VIEW?filters`. Everything that a view shows is in its address, so that it
 * can be sent to somebody and comes back the same.
 *
 * @typedef {Record<string, string>} Filters
 */

/** What a plan reckons with: whose next shots, and the day. */
export const PLANNED = /** @type {const} */ (['ahead', 'blows', 'blows_from', 'firmness', 'temperature', 'altitude']);

/** The views of a player, and the filters that each takes, in the order in which they are written. */
export const VIEWS = /** @type {const} */ ({
  overview: ['by', 'per', 'from', 'to', 'kind', 'course', 'lie', 'setup', 'level'],
  compare: ['by', 'per', 'from', 'to', 'beside_from', 'beside_to', 'kind', 'course', 'lie', 'setup', 'level'],
  trial: ['a', 'b', 'source', 'from', 'to', 'kind', 'course', 'minimum_effect', 'level'],
  putting: ['club', 'against', 'source', 'from', 'to', 'kind', 'course', 'level'],
  patterns: ['club', 'split', 'group', 'swing', 'source', 'from', 'to', 'kind', 'course'],
  shapes: ['source', 'from', 'to', 'kind', 'course'],
  'part-swings': ['source', 'from', 'to', 'kind', 'course'],
  distances: [
    'gap',
    'overlap',
    'temperature',
    'altitude',
    'wind',
    'measured_c',
    'measured_m',
    'source',
    'from',
    'to',
    'kind',
    'course',
  ],
  priorities: ['from', 'to', 'kind', 'course', 'level'],
  report: ['from', 'to', 'kind', 'course', 'level'],
  plan: ['ground', 'tees', 'hole', 'at', 'lie', 'pin', 'option', 'baseline', ...PLANNED],
  'round-plan': ['ground', 'tees', 'baseline', ...PLANNED],
  'round-ahead': ['ground', 'tees', 'baseline', ...PLANNED],
  'course-bag': ['ground', 'tees', 'baseline'],
});

/** The filters that choose shots, and go along from view to view as far as the next one takes them. */
const SHARED = ['source', 'from', 'to', 'kind', 'course', 'lie', 'setup', 'level'];

/** @param {Filters} filters @returns {Filters} */
export function sharedFilters(filters) {
  return Object.fromEntries(Object.entries(filters).filter(([name]) => SHARED.includes(name)));
}

/** What a plan reckons with, as far as it is set. @param {Filters} filters @returns {Filters} */
export function plannedFilters(filters) {
  return Object.fromEntries(Object.entries(filters).filter(([name]) => PLANNED.some((one) => one === name)));
}

/**
 * The same as pairs of a query to the server. `source` (the course, practice sessions or both) is set only in views that take it.
 * @param {Filters} filters @returns {[string, string][]}
 */
export function asked(filters) {
  return Object.entries(sharedFilters(filters));
}

/** @typedef {keyof typeof VIEWS} View */

/** @param {string|undefined} view @returns {view is View} */
export function isView(view) {
  return view !== undefined && view in VIEWS;
}

/**
 * The filters of a view that are set, the others left out. @param {View} view @param {string} query @returns {Filters}
 */
export function filtersOf(view, query) {
  const given = new URLSearchParams(query);
  /** @type {Filters} */
  const found = {};
  for (const name of VIEWS[view]) {
    const value = given.get(name);
    if (value) found[name] = value;
  }
  return found;
}

/**
 * The address of a view, without "#/". @param {string} player @param {View} view @param {Filters} [filters] @returns {string}
 */
export function addressOf(player, view, filters = {}) {
  const query = queryOf(VIEWS[view].map((name) => [name, filters[name]]));
  return `evidence/${player}/${view}${query}`;
}

/**
 * A query string; what is not set is left out. @param {[string, string|undefined|null][]} pairs @returns {string}
 */
export function queryOf(pairs) {
  const set = pairs.filter(([, value]) => value !== undefined && value !== null && value !== '');
  return set.length ? `?${new URLSearchParams(/** @type {[string, string][]} */ (set)).toString()}` : '';
}
