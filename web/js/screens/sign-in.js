/** Signing this phone in: with a name and a password, or with a one-time code from another device. */
import { ask } from '../log/answers.js';
import { clearNow } from './clearing.js';
import { button, field, h } from '../ui/elements.js';
import { isReader, whoAmI } from './server-answers.js';

/** @typedef {import('../session.js').Session} Session */

/** @param {Session} session @returns {import('../routes.js').Drawn} */
export function signInScreen(session) {
  const name = h('input', { autocomplete: 'username', required: true, maxlength: '60', id: 'account-name' });
  const password = h('input', {
    type: 'password',
    autocomplete: 'current-password',
    required: true,
    maxlength: '200',
    id: 'account-password',
  });
  const form = h(
    'form',
    null,
    field('Account name', name),
    field('Password', password),
    h('button', { class: 'wide strong', id: 'sign-in' }, 'Sign in'),
  );
  form.addEventListener('submit', (/** @type {Event} */ event) => {
    event.preventDefault();
    enter(session, '/api/sign-in', { name: name.value, password: password.value });
  });
  const way = h('div', null, form);
  whoAmI(session).then(({ value }) => {
    if (value?.open_house)
      way.replaceChildren(noAccounts(session), h('details', null, h('summary', null, 'Sign in all the same'), form));
  });
  return {
    title: 'Sign in',
    still: true,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Sign in'),
      h('p', null, 'Shots are saved on this phone either way; signing in sends them.'),
      way,
      h('p', null, h('a', { href: '#/saving' }, 'Saving and sending')),
    ),
  };
}

/** A server without accounts: there is nothing to sign in to, and a way on. @param {Session} session */
function noAccounts(session) {
  return h(
    'div',
    { class: 'notice', id: 'no-accounts' },
    h('p', null, 'This server has no accounts: no sign-in is needed, everything works without.'),
    h(
      'a',
      { class: 'button wide strong', href: '#/', id: 'way-on' },
      session.player ? 'To the rounds' : 'To the start',
    ),
  );
}

/** @param {Session} session @param {string} code @returns {import('../routes.js').Drawn} */
export function joinScreen(session, code) {
  return {
    title: 'Sign this phone in',
    still: true,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Sign this phone in'),
      h('p', null, 'The code works once, within 15 minutes.'),
      button('Sign in with the code', () => enter(session, '/api/join', { code: decodeURIComponent(code) }), {
        class: 'wide strong',
        id: 'join',
      }),
    ),
  };
}

/**
 * Begins a session; the account's own player becomes the phone's when it has none yet.
 * @param {Session} session @param {string} address @param {any} body
 */
async function enter(session, address, body) {
  try {
    const asked = { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) };
    await ask(fetch.bind(globalThis), address, asked);
    session.frame?.say('Signed in');
    await clearOfOthers(session);
    if (session.erasures.length) await (await import('./erasing.js')).askAgain(session);
    await whoAmI(session);
    const own = session.me?.account?.player_id;
    const erased = session.erasures.some((one) => one.player_id === own); // still to be asked of the server
    if (!session.playerId && own && !erased) await session.choosePlayer(own);
    await session.schedule.now();
    await session.load();
    session.frame?.go(nextScreen(session, own ?? null));
  } catch (error) {
    session.warn(error instanceof Error ? error.message : String(error));
  }
}

/**
 * Who was here before goes, but for what the server lacks: that stays, and the app says so. The account is asked first, since
 * clearing waits for an exchange that may be under way, and its own player stays.
 * @param {Session} session
 */
async function clearOfOthers(session) {
  const { afterSignIn } = session.state;
  const me = await ask(fetch.bind(globalThis), '/api/me');
  await clearNow(session, { own: me.account?.player_id ?? null });
  session.state.afterSignIn = afterSignIn;
}

/** Where a sign-in leads to. @param {Session} session @param {string|null} own the account's player @returns {string} */
function nextScreen(session, own) {
  const asked = session.state.afterSignIn;
  session.state.afterSignIn = null;
  if (asked) return asked;
  if (session.player && own !== session.playerId) return 'whose-phone';
  if (session.player) return '';
  return isReader(session.me) ? 'evidence' : 'players';
}
