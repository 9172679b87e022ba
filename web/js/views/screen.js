/** Which evidence an address shows; each view is loaded when it is first asked for. */
import { addressOf, filtersOf, isView } from './address.js';
import { evidencePage } from './page.js';
import { cacheTheRest } from '../bridge.js';
import { part } from '../ui/parts.js';
import { HOLES, styleSheet } from '../ui/style-sheet.js';

/** @type {Record<import('./address.js').View, () => Promise<import('./page.js').ViewModule>>} */
export const MODULES = {
  overview: () => import('./overview.js'),
  compare: () => import('./compare.js'),
  trial: () => import('./trial.js'),
  putting: () => import('./putting.js'),
  patterns: () => import('./patterns.js'),
  shapes: () => import('./shapes-view.js'),
  'part-swings': () => import('./part-swings.js'),
  distances: () => import('./distances.js'),
  priorities: () => import('./priorities.js'),
  report: () => import('./report.js'),
  plan: () => withHoles(() => import('./plan.js')),
  'round-plan': () => withHoles(() => import('./round-plan.js')),
  'round-ahead': () => withHoles(() => import('./score-ahead.js')),
  'course-bag': () => withHoles(() => import('./bag-of-course.js')),
};

const SHEET = '/css/evidence.css';

/** A view that draws holes. @param {() => Promise<import('./page.js').ViewModule>} load */
async function withHoles(load) {
  await styleSheet(HOLES);
  return load();
}

/**
 * @param {import('../session.js').Session} session @param {string} [player] @param {string} [view] @param {string} [query]
 * @returns {Promise<import('../routes.js').Drawn>}
 */
export async function evidenceScreen(session, player, view, query) {
  await styleSheet(SHEET);
  cacheTheRest();
  if (!player) return (await part(() => import('./players.js'))).evidencePlayersScreen(session, query);
  if (view && !isView(view))
    return (await part(() => import('../screens/no-such-page.js'))).noSuchPage(
      `evidence/${player}/${view}`,
      addressOf(player, 'overview'),
      'To the overview',
    );
  const shown = isView(view) ? view : 'overview';
  const filters = filtersOf(shown, query ?? '');
  const change = (/** @type {import('./address.js').Filters} */ changes) => {
    session.state.evidenceFocus = document.activeElement?.id || null;
    const current = filtersOf(shown, location.hash.split('?')[1] ?? ''); // of this moment: two quick changes both count
    history.replaceState(null, '', `#/${addressOf(player, shown, { ...current, ...changes })}`);
    if (!session.frame) return;
    session.frame.shownHash = session.frame.hash; // the same screen with another filter: it stays where it is
    session.frame.refresh();
  };
  return evidencePage({ session, player, view: shown, filters, change }, await part(MODULES[shown]));
}
