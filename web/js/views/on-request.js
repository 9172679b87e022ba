/** An answer that takes the server long: asked for with a button, with its progress and a way to stop it. The last one stays. */
import { LOCK_WORDS } from '../screens/locked.js';
import { button, h } from '../ui/elements.js';
import { EvidenceLocked, askEach, cachedOnly } from './asking.js';
import { asOf } from './words.js';
import { working } from './working.js';

/** @typedef {import('./page.js').Context} Context @typedef {import('./asking.js').Answer} Answer */

/**
 * @typedef {object} Request
 * @property {string} id of the elements: `ask-ID`, `ID-status`, `ID-body` @property {string} path what is asked
 * @property {string} ask words of the button @property {string} again its words once there is an answer
 * @property {string} busy what is worked out @property {(made: any, old: HTMLElement[]) => Node[]} show the answer, with what is
 * to be shown when it is an old one
 */

/**
 * What is asked now, by path: a page that is drawn anew meanwhile takes it over, with its bar and its Stop button.
 * @type {Map<string, {work: ReturnType<typeof working>, answers: Promise<Answer[]>, progress: () => void}>}
 */
const underWay = new Map();

/** The button, what is under way, and the answer. @param {Request} request @param {Context} context @returns {HTMLElement[]} */
export function onRequest({ id, path, ask, again, busy, show }, { session, player }) {
  const body = h('div', { id: `${id}-body` });
  const bar = h('div');
  const status = h('p', { class: 'hint no-print', role: 'status', id: `${id}-status` });
  const shown = (/** @type {Answer} */ answer) => {
    asking.textContent = again;
    body.replaceChildren(...show(answer.value, oldWords(answer)));
  };
  const follow = async () => {
    const going = underWay.get(path) ?? begin(path, busy, id, session, player);
    bar.replaceChildren(going.work.element);
    asking.setAttribute('disabled', '');
    status.textContent = going.work.element.hidden ? busy : '';
    going.progress = () => {
      status.textContent = ''; // the bar says it from here on
    };
    try {
      const answer = (await going.answers)[1];
      status.textContent = '';
      if (answer.value) shown(answer);
      else if (answer.failure?.kind === 'stopped') status.textContent = 'Stopped.';
      else
        status.replaceChildren(h('span', { role: 'alert' }, answer.failure?.message ?? 'The server gave no answer.'));
    } catch (error) {
      status.textContent = '';
      body.replaceChildren(failure(error));
    } finally {
      asking.removeAttribute('disabled');
    }
  };
  const asking = button(ask, follow, { id: `ask-${id}`, class: 'no-print' });
  if (underWay.has(path)) void follow();
  cachedOnly(session, player, [path])
    .then((cached) => cached?.[0]?.value && !body.hasChildNodes() && shown(cached[0]))
    .catch(() => undefined);
  return [asking, bar, status, body];
}

/** @param {string} path @param {string} busy @param {string} id @param {import('../session.js').Session} session @param {string} player */
function begin(path, busy, id, session, player) {
  const work = working(busy, `stop-${id}`);
  const going = {
    work,
    progress: () => undefined,
    answers: askEach(session, player, [`/api/players/${encodeURIComponent(player)}`, path], {
      stopped: work.waiting.stopped,
      done(share) {
        going.progress();
        work.waiting.done(share);
      },
    }),
  };
  underWay.set(path, going);
  const over = () => {
    underWay.delete(path);
    work.end();
  };
  going.answers.then(over, over);
  return going;
}

/** @param {Answer} answer @returns {HTMLElement[]} */
function oldWords({ old, at, failure: why }) {
  return old ? [h('p', { class: 'hint' }, `Worked out on ${asOf(at)}${why ? `: ${why.message}` : ''}`)] : [];
}

/** @param {any} error @returns {HTMLElement} */
function failure(error) {
  if (error instanceof EvidenceLocked)
    return h('div', { class: 'locked' }, h('p', { class: 'lead' }, error.message), h('p', null, LOCK_WORDS));
  return h('p', { class: 'notice', role: 'alert' }, `This stopped: ${error?.message ?? error}`);
}
