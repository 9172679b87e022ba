/** Erasures that wait for the server: asked again when there is a network, shown in words, taken back if wished. */
import { erasureOver } from '../log/erasing.js';
import { askToErase } from '../log/erasure.js';
import { button, confirmSheet, h } from '../ui/elements.js';
import { momentWords, sentence } from './server-answers.js';

/** @typedef {import('../session.js').Session} Session */

/** @type {Record<string, string>} */
const WAITS = {
  offline: 'The server cannot be reached. The app tries again once there is a network.',
  sign_in: 'The server needs a sign-in: sign in as the player to try again.',
  another: 'Another account is signed in: sign in as the player to try again.',
};

/**
 * Asks for every erasure that waits; a call while one is asked for asks once more after it, since the network may have come
 * back in between. @param {Session} session @returns {Promise<void>}
 */
export async function askAgain(session) {
  if (!session.erasures.length) return;
  if (session.state.erasing) {
    session.state.eraseAgain = true;
    return;
  }
  session.state.erasing = true;
  try {
    const asked = await askToErase(session.store, session.erasures, fetch.bind(globalThis));
    await session.readErasures();
    if (asked.some((one) => one.state === 'done')) session.me = null;
    const done = asked.filter((one) => one.state === 'done');
    const waits = asked.find((one) => one.state !== 'done');
    session.state.erasureWords = waits ? (WAITS[waits.state] ?? sentence(waits.words)) : null;
    if (done.length)
      session.warn(
        `The server has erased it too (${done[0].words}). Nothing of that player is left here or there; delete any files you saved.`,
      );
    // In its place: somebody may be filling in the rest of the screen.
    document.getElementById('erasure-waits')?.replaceWith(session.erasures.length ? erasureNotice(session) : '');
  } finally {
    session.state.erasing = false;
  }
  if (session.state.eraseAgain) {
    session.state.eraseAgain = false;
    await askAgain(session);
  }
}

/** From now on: when the network is back, and when the app comes to the front. @param {Session} session */
export function retryErasures(session) {
  const again = () => askAgain(session).catch(() => undefined);
  if (!session.state.retriesErasures) {
    session.state.retriesErasures = true;
    addEventListener('online', again);
    document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && again());
  }
  return again();
}

/** @param {Session} session */
export function erasureNotice(session) {
  const back = async () => {
    if (
      !(await confirmSheet(
        'Let the server keep it?',
        'What was on this phone stays erased. The server keeps its copy, and this player can be chosen again.',
        'Keep it there',
      ))
    )
      return;
    for (const one of session.erasures) await erasureOver(session.store, one.player_id);
    await session.readErasures();
    await session.frame?.refresh();
  };
  return h(
    'section',
    { class: 'notice', role: 'status', id: 'erasure-waits' },
    h('h2', null, 'Erased here, not on the server yet'),
    h(
      'p',
      null,
      `Erased from this phone ${momentWords(session.erasures[0].asked_at)}. ${session.state.erasureWords ?? WAITS.offline}`,
    ),
    h(
      'div',
      { class: 'row' },
      button('Ask the server now', () => askAgain(session), { id: 'ask-erasure' }),
      h('a', { class: 'button', href: '#/sign-in', id: 'sign-in-to-erase' }, 'Sign in'),
      button('Let the server keep it', back, { id: 'keep-on-server' }),
    ),
  );
}
