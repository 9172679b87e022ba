/** Taking up a player's invitation, as a coach or an analyst. */
import { ageNotice, change, isReader, tried, whoAmI } from './server-answers.js';
import { button, field, h } from '../ui/elements.js';

/** @typedef {import('../session.js').Session} Session */

/** @param {Session} session @param {string} [code] @returns {Promise<import('../routes.js').Drawn>} */
export async function invitationScreen(session, code) {
  const me = await whoAmI(session);
  const page = (/** @type {any[]} */ ...parts) => ({
    title: 'Invitation',
    still: true,
    content: h('div', { class: 'page' }, h('h1', null, 'Invitation to see a player’s rounds'), ...parts),
  });
  const what = h(
    'p',
    null,
    'A player invites you to see all of their rounds: you can see every shot and leave notes, change nothing, until the player ends it.',
  );
  if (!me.value) return page(what, ageNotice(me, 'This page'));
  if (me.value.open_house)
    return page(h('p', { class: 'lead' }, 'This server has no accounts, so there is nothing to accept.'));
  if (!me.value.account) {
    session.state.afterSignIn = session.frame?.hash ?? '';
    return page(
      what,
      h('p', { class: 'lead' }, 'Sign in as a coach or an analyst first; this page then comes back.'),
      h('a', { class: 'button wide strong', href: '#/sign-in', id: 'to-sign-in' }, 'Sign in'),
    );
  }
  if (!isReader(me.value))
    return page(
      what,
      h(
        'p',
        { class: 'lead', id: 'not-for-you' },
        `It is for a coach or an analyst. Signed in here is ${me.value.account.name}, ${me.value.account.role === 'owner' ? 'an owner' : 'a player'}; the invitation stays valid.`,
      ),
      h('a', { class: 'button wide', href: '#/account' }, 'To the account'),
    );
  return page(
    what,
    code
      ? button('Accept', () => accept(session, decodeURIComponent(code)), { class: 'wide strong', id: 'accept' })
      : byCode(session),
  );
}

/** @param {Session} session */
function byCode(session) {
  const input = h('input', { required: true, maxlength: '300', autocomplete: 'off', id: 'invitation-code' });
  const form = h(
    'form',
    null,
    field('The link or the code', input),
    h('button', { class: 'wide strong', id: 'accept' }, 'Accept'),
  );
  form.addEventListener('submit', (/** @type {Event} */ event) => {
    event.preventDefault();
    accept(session, input.value.trim().split('/').pop() ?? '');
  });
  return form;
}

/** @param {Session} session @param {string} code */
async function accept(session, code) {
  await tried(session, async () => {
    const { player_id } = await change('POST', '/api/me/invitations', { code });
    session.frame?.say('You can now see this player');
    session.frame?.go(`evidence/${player_id}/overview`);
  });
}
