/**
 * The page around every view of a player's evidence: name, questions and their views, the answer, behind it the filters and how
 * old it is; and what is shown when there is none.
 *
 * @typedef {import('../session.js').Session} Session
 * @typedef {import('./asking.js').Answer} Answer
 * @typedef {import('./address.js').Filters} Filters
 * @typedef {{session: Session, player: string, view: import('./address.js').View, filters: Filters, change: (changes: Filters) => void, units?: 'yards'|'metres'}} Context `units`: the player's, once it is known
 *
 * @typedef {object} ViewModule
 * @property {string} name of the view in words
 * @property {(context: Context) => {needed: string[], wished?: string[]}} paths what it asks; without what is needed nothing is shown
 * @property {readonly string[]} [fixed] filters without which it would show something else
 * @property {(answers: Answer[], context: Context) => any} build the content; answers in the order of the paths
 *
 * @typedef {{answers: Answer[], context: Context, left: string[]}} Found `context`: with the filters that the answers have; `left`:
 * filters that are not among them
 */
import { drawPictures } from '../charts/figure.js';
import { LOCK_WORDS } from '../screens/locked.js';
import { button, field, h } from '../ui/elements.js';
import { keepFolds } from '../ui/fold.js';
import { drawAround } from '../ui/typing.js';
import { counted } from '../ui/words.js';
import { addressOf, sharedFilters } from './address.js';
import { EvidenceLocked, UNREACHABLE, askEach, cachedOnly, keptAnswers } from './asking.js';
import { filterPart, offer } from './filters.js';
import { leftWords, nearestKept } from './nearest.js';
import { heading, ways } from './questions.js';
import { asOf } from './words.js';
import { working } from './working.js';

const QUICK_MS = 250; // an answer within this time is drawn at once, without a word of waiting
const UNKNOWN_CALLER = 401;
/**
 * @param {Context} context @param {ViewModule} module @returns {Promise<import('../routes.js').Drawn>}
 */
export async function evidencePage(context, module) {
  const { session, player, view } = context;
  const { needed, wished = [] } = module.paths(context);
  const own = `/api/players/${encodeURIComponent(player)}`;
  const paths = [own, ...needed, ...wished, `${own}/choices`];
  const head = h(
    'div',
    { class: 'evidence-head' },
    h('p', { class: 'evidence-player' }, ' '),
    ...ways(player, view, context.filters),
    heading(view, module.name),
  );
  const body = h('div', { class: 'evidence-body' });
  const filters = filterPart(context);
  const title = { words: module.name };
  const show = (/** @type {Found|Error} */ found) => {
    if (found instanceof Error)
      body.replaceChildren(found instanceof EvidenceLocked ? locked(found) : failed(session, found));
    else {
      offer(filters, found.answers[found.answers.length - 1].value, context);
      fill(head, body, found, module, title);
      keepFolds(body, view, session.state.folds);
      drawPictures(body);
    }
    focusAgain(session);
  };
  const work = working('Working it out on the server…');
  const asked = askEach(session, player, paths, work.waiting)
    .then((answers) => orNearest(answers, context, module))
    .catch((error) => error);
  const quick = await Promise.race([asked, new Promise((resolve) => setTimeout(() => resolve(null), QUICK_MS))]);
  if (quick) show(quick);
  else {
    const cached = await cachedOnly(session, player, paths);
    if (cached) show({ answers: cached, context, left: [] });
    else {
      body.classList.add('waiting'); // what is below comes into sight with the answer and not before
      body.replaceChildren(h('p', { class: 'hint', role: 'status' }, 'Asking the server…'));
    }
    asked.then((found) => {
      body.classList.remove('waiting');
      drawAround(() => show(cached ? orCached(found, cached) : found));
      if (body.isConnected) document.title = `${title.words} · Pencilbag`;
    });
  }
  /** @type {any} */ (filters).open = session.state.filtersOpen; // it may have been opened while the answers came
  const content = h('div', { class: 'page evidence' }, head, work.element, body, filters, foot(context));
  asked.then(work.end); // now that its element has a place to be taken from
  return { title: title.words, content, still: true, after };

  function after() {
    drawPictures(body);
    // whoever changed a setting far down sees that the server is asked, how far it is, and where to stop it
    if (body.classList.contains('waiting')) head.lastElementChild?.scrollIntoView({ block: 'nearest' });
  }
}

/** What was cached goes on to be shown when the answer was stopped. @param {Found|Error} found @param {Answer[]} cached @returns {Found|Error} */
function orCached(found, cached) {
  if (found instanceof Error) return found;
  const stopped = found.answers.find((one) => one.failure?.kind === 'stopped');
  return stopped ? { ...found, answers: cached.map((one) => ({ ...one, failure: stopped.failure })) } : found;
}

/**
 * Where the server cannot be reached and these filters were never asked for: the answers of the nearest that are kept.
 * @param {Answer[]} answers @param {Context} context @param {ViewModule} module @returns {Promise<Found>}
 */
async function orNearest(answers, context, module) {
  const own = answers[0];
  const choices = answers[answers.length - 1];
  const silent = answers
    .slice(1, -1)
    .find((one) => one.value === null && UNREACHABLE.includes(one.failure?.kind ?? ''));
  const pathsOf = (/** @type {Filters} */ filters) => module.paths({ ...context, filters });
  const near = silent ? await nearestKept(context.session.store, context.filters, pathsOf, module.fixed) : null;
  if (!silent || !near) return { answers, context, left: [] };
  const { needed, wished = [] } = pathsOf(near.filters);
  const kept = await keptAnswers(context.session, [...needed, ...wished], silent.failure);
  return { answers: [own, ...kept, choices], context: { ...context, filters: near.filters }, left: near.left };
}

/**
 * @param {HTMLElement} head @param {HTMLElement} body @param {Found} found @param {ViewModule} module
 * @param {{words: string}} title
 */
function fill(head, body, found, module, title) {
  const { context, left } = found;
  const answers = found.answers.slice(0, -1);
  const needed = 1 + module.paths(context).needed.length;
  const [{ value: player }, ...rest] = answers;
  title.words = player ? `${module.name}, ${player.name}` : module.name; // a cached name goes when the player is no longer to be read
  head
    .querySelector('.evidence-player')
    ?.replaceChildren(
      ...(player ? [h('span', null, player.name), h('a', { href: '#/evidence' }, 'All players')] : [' ']),
    );
  const lacking = answers.slice(0, needed).find((one) => one.value === null);
  if (lacking) {
    body.replaceChildren(failed(context.session, /** @type {Error} */ (lacking.failure)));
    return;
  }
  const { from, to } = context.filters;
  const empty = from || to ? rest[0]?.value?.empty : null; // a sentence of the server where the days asked for hold no shot
  if (empty) {
    const nothing = h('p', { class: 'empty', id: 'empty-span' }, empty);
    body.replaceChildren(...inOrder(age(answers, left, context), [unsent(context), nothing]));
    return;
  }
  const built = [unsent(context), module.build(rest, { ...context, units: player.units })];
  body.replaceChildren(...inOrder(age(answers, left, context), built));
}

/** The answer first; how old it is comes before it only where the server is away. @param {HTMLElement[]} old @param {any[]} built @returns {Node[]} */
function inOrder(old, built) {
  const answer = built.flat(3).filter(Boolean);
  return old[0].classList.contains('notice') ? [...old, ...answer] : [...answer, ...old];
}

/** A sentence with a capital and a full stop. @param {string} words @returns {string} */
function sentence(words) {
  return `${words[0].toUpperCase()}${words.slice(1)}`.replace(/([^.…])$/, '$1.');
}

/** Shots of this device that the server cannot have counted. @param {Context} context */
function unsent({ session, player }) {
  if (player !== session.playerId || !session.waiting) return null;
  return h(
    'p',
    { class: 'hint', id: 'unsent' },
    `${counted(session.waiting, 'change')} on this device ${session.waiting === 1 ? 'is' : 'are'} not sent yet, and not counted here.`,
  );
}

/** How old the answers are; the oldest speaks; and which filters they have not. @param {Answer[]} answers @param {string[]} left @param {Context} context */
function age(answers, left, { session }) {
  const given = answers.filter((one) => one.value !== null);
  const oldest = given.map((one) => one.at).sort()[0];
  const old = given.find((one) => one.old);
  if (!old) return [h('p', { class: 'hint as-of' }, `as of ${asOf(oldest)}`)];
  if (!old.failure)
    return [h('p', { class: 'hint as-of', role: 'status' }, `as of ${asOf(oldest)}. Asking the server…`)];
  const why = sentence(old.failure.message);
  const words = h(
    'p',
    { class: 'notice as-of', role: 'status' },
    h('strong', null, `as of ${asOf(oldest)}`),
    ` ${why} This is the last answer stored on this device.`,
  );
  if (!left.length) return [words];
  const again = button('Try again', () => session.frame?.refresh(), { id: 'try-again' });
  return [words, h('div', { class: 'notice', id: 'nearest', role: 'status' }, h('p', null, leftWords(left)), again)];
}

/** @param {Error} reason */
function locked(reason) {
  return h(
    'section',
    { class: 'locked' },
    h('h2', null, 'Locked until the round is finished'),
    h('p', { class: 'lead' }, reason.message),
    h('p', null, LOCK_WORDS),
    h('p', null, "The Committee's local rules come first."),
  );
}

/** @param {Session} session @param {Error} reason */
export function failed(session, reason) {
  return h(
    'section',
    { class: 'failed' },
    whyNot(reason),
    button('Try again', () => session.frame?.refresh(), { id: 'try-again' }),
  );
}

/** Why there is no answer, and what helps. @param {any} reason an ExchangeFailure, or another error */
export function whyNot(reason) {
  const words = sentence(reason?.message ?? 'No answer');
  if (reason?.status === UNKNOWN_CALLER)
    return h('p', { class: 'notice', role: 'alert' }, words, ' ', h('a', { href: '#/sign-in' }, 'Sign in'));
  const unreachable = ['offline', 'foreign', 'busy'].includes(reason?.kind);
  return h(
    'p',
    { class: 'notice', role: 'alert' },
    words,
    unreachable ? ' This view is not stored on this device: open it once while the server can be reached.' : '',
  );
}

/** What can be done with a page: a report, notes, its address for somebody else. @param {Context} context */
function foot({ session, player, view, filters }) {
  const copy = button(
    'Copy the address of this view',
    async () => {
      try {
        await navigator.clipboard.writeText(location.href);
        session.frame?.say('The address is copied');
        copy.textContent = 'Copied';
      } catch {
        copy.replaceWith(
          field('The address of this view', h('input', { readonly: true, value: location.href, id: 'address' })),
        );
      }
    },
    { id: 'copy-address' },
  );
  return h(
    'div',
    { class: 'evidence-foot no-print' },
    h(
      'p',
      { class: 'hint' },
      'Evidence to talk over with a coach, not advice. With few rounds most differences are chance: the interval shows how much.',
    ),
    h(
      'div',
      { class: 'row' },
      view === 'report'
        ? null
        : h(
            'a',
            { class: 'button', href: `#/${addressOf(player, 'report', sharedFilters(filters))}`, id: 'view-report' },
            'Report',
          ),
      session.me?.account ? h('a', { class: 'button', href: `#/notes/${player}`, id: 'to-notes' }, 'Notes') : null,
      copy,
    ),
  );
}

/** What had the focus before the view was drawn anew has it again. @param {Session} session */
function focusAgain(session) {
  const wanted = session.state.evidenceFocus;
  if (!wanted) return;
  requestAnimationFrame(() => {
    const element = document.getElementById(wanted);
    const free = document.activeElement === document.body || document.activeElement?.id === 'main';
    if (element && free) element.focus({ preventScroll: true });
    if (element) session.state.evidenceFocus = null;
  });
}
