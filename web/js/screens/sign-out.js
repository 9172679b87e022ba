/** Signing out, here or everywhere: the session ends on the server, and the phone is cleared of who leaves. */
import { ExchangeFailure, ask } from '../log/answers.js';
import { askToClear, clearNow } from './clearing.js';
import { change, askOrCached, tried } from './server-answers.js';

/** @typedef {import('../session.js').Session} Session */

const MOST_SESSIONS = 500; // more than anybody has: a bound for the loop
const CALM =
  'Removes rounds, clubs, courses, stored answers and unsaved entries from this phone. What was sent is on the server and returns when you sign in again.';

/** @param {Session} session */
export async function leave(session) {
  const asked = await askToClear(session, { title: 'Sign out here?', calm: CALM, yes: 'Sign out' });
  if (asked && (await signOut(session, asked.lose))) session.frame?.say('Signed out');
}

/** Every other session first, this one last: cut off in between it can be done again. @param {Session} session */
export async function leaveAll(session) {
  const calm = `Every phone and browser must sign in again, this one too. Script tokens stay valid: end them on their own page. ${CALM}`;
  const asked = await askToClear(session, { title: 'Sign out everywhere?', calm, yes: 'Sign out everywhere' });
  if (!asked) return;
  const done = await tried(session, async () => {
    const { sessions } = (await askOrCached(session, '/api/me/sessions')).value ?? { sessions: [] };
    for (const one of sessions.filter((/** @type {any} */ found) => !found.current).slice(0, MOST_SESSIONS))
      await change('DELETE', `/api/me/sessions/${one.credential_id}`);
  });
  if (done && (await signOut(session, asked.lose))) session.frame?.say('Signed out everywhere');
}

/**
 * Ends the session, and clears the phone. False, and nothing is cleared, when the server could not be asked.
 * @param {Session} session @param {string[]} lose changes that may be lost @returns {Promise<boolean>}
 */
async function signOut(session, lose) {
  try {
    await ask(fetch.bind(globalThis), '/api/sign-out', { method: 'POST' });
  } catch (error) {
    const answered =
      error instanceof ExchangeFailure && error.status > 0 && error.kind !== 'busy' && error.kind !== 'foreign';
    if (!answered) {
      session.warn('Not signed out: the server cannot be reached. Try again when there is a network.');
      return false;
    } // else nobody was signed in any more
  }
  const staying = await clearNow(session, { lose });
  if (staying.length) await session.schedule.now();
  await session.frame?.refresh();
  return true;
}
