/** Sharing: who reads this player's rounds, letting somebody in, and ending it at once. */
import { ageNotice, change, dayOf, askOrCached, tried, whoAmI } from './server-answers.js';
import { handOn, qrCode } from '../ui/copying.js';
import { button, confirmSheet, field, h, sheet } from '../ui/elements.js';

/** @typedef {import('../session.js').Session} Session */

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function sharingScreen(session) {
  const me = await whoAmI(session);
  const own = me.value?.account?.player_id === session.playerId;
  const page = (/** @type {any[]} */ ...parts) => ({
    title: 'Sharing',
    content: h('div', { class: 'page' }, h('h1', null, 'Who can see your rounds'), ...parts),
  });
  if (me.value?.open_house)
    return page(
      h(
        'p',
        { class: 'lead', id: 'no-sharing' },
        'This server has no accounts, so there is nobody to share with: it answers only this machine.',
      ),
    );
  if (!me.value) return page(ageNotice(me, 'This page'));
  if (!me.value.account)
    return page(
      h('p', { class: 'lead', id: 'no-sharing' }, 'Sign in as the player to see who has access.'),
      h('a', { class: 'button wide strong', href: '#/sign-in', id: 'to-sign-in' }, 'Sign in'),
    );
  if (!own)
    return page(
      h(
        'p',
        { class: 'lead', id: 'no-sharing' },
        `Only ${session.playerName} can decide who sees these rounds. Signed in here is ${me.value.account.name}.`,
      ),
      h('a', { class: 'button wide', href: '#/whose-phone' }, 'What to do'),
    );
  const of = `/api/players/${encodeURIComponent(/** @type {string} */ (session.playerId))}`;
  const [shares, invitations] = await Promise.all([
    askOrCached(session, `${of}/shares`),
    askOrCached(session, `${of}/invitations`),
  ]);
  return page(
    ageNotice(shares, 'This list'),
    shares.value ? readers(session, of, shares.value.shares) : null,
    h(
      'p',
      { class: 'hint' },
      `They see all your rounds, shots and notes, can leave notes, and change nothing. Positions of shots they ${session.player?.shares_positions ? 'see too' : 'do not see'}: the setting is under Player. Ending it works at once; what they saw or saved before stays with them.`,
    ),
    invitations.value?.invitations.length ? openInvitations(session, of, invitations.value.invitations) : null,
    shares.old || !shares.value ? null : letIn(session, of),
  );
}

/** @param {Session} session @param {string} of @param {any[]} shares */
function readers(session, of, shares) {
  if (!shares.length) return h('p', { class: 'lead', id: 'nobody-reads' }, 'Nobody but you.');
  const end = async (/** @type {any} */ one, /** @type {string} */ who) => {
    if (
      !(await confirmSheet(
        `End access for ${who}?`,
        `From now on ${who} no longer sees your rounds. You can share again later.`,
        'End it',
      ))
    )
      return;
    if (await tried(session, () => change('DELETE', `${of}/shares/${one.share_id}`)))
      session.frame?.say(`Ended: ${who} no longer sees your rounds`);
    await session.frame?.refresh();
  };
  const row = (/** @type {any} */ one) => {
    const who = one.squad === null ? one.reader : `the squad ${one.squad}`;
    const people =
      one.squad === null ? '' : one.readers.length ? `seen now by ${one.readers.join(', ')}; ` : 'nobody in it yet; ';
    return h(
      'li',
      { class: 'list-row' },
      h(
        'span',
        { class: 'list-main' },
        who,
        h('span', { class: 'list-under' }, `${people}all rounds, since ${dayOf(one.since)}`),
      ),
      button('End', () => end(one, who), { class: 'red', 'aria-label': `End access for ${who}` }),
    );
  };
  return h('ul', { class: 'list', id: 'readers' }, shares.map(row));
}

/** @param {Session} session @param {string} of @param {any[]} invitations */
function openInvitations(session, of, invitations) {
  const back = async (/** @type {any} */ one) => {
    if (await tried(session, () => change('DELETE', `${of}/invitations/${one.invitation_id}`)))
      session.frame?.say('Invitation withdrawn');
    await session.frame?.refresh();
  };
  return h(
    'section',
    null,
    h('h2', null, 'Invitations not accepted yet'),
    h(
      'ul',
      { class: 'list', id: 'invitations' },
      invitations.map((one) =>
        h(
          'li',
          { class: 'list-row' },
          h(
            'span',
            { class: 'list-main' },
            `made ${dayOf(one.created_at)}`,
            h('span', { class: 'list-under' }, `valid until ${dayOf(one.expires_at)}, for one reader`),
          ),
          button('Withdraw', () => back(one), {
            'aria-label': `Withdraw the invitation made ${dayOf(one.created_at)}`,
          }),
        ),
      ),
    ),
  );
}

/** @param {Session} session @param {string} of */
function letIn(session, of) {
  const invite = () =>
    tried(session, async () => {
      const made = await change('POST', `${of}/invitations`);
      const dialog = sheet('Invitation', () => [
        h(
          'p',
          null,
          'Send this to your coach. Whoever opens it, signed in as a coach or an analyst, can see your rounds. It works once, within a week, and is shown only now.',
        ),
        handOn(session, 'The link', made.address, { id: 'invitation-link', share: true }),
        qrCode(made.qr_svg, 'QR code of the invitation'),
      ]);
      dialog.addEventListener('close', () => session.frame?.refresh());
    });
  const share =
    (/** @type {'reader'|'squad'} */ what, /** @type {HTMLInputElement} */ input) =>
    async (/** @type {Event} */ event) => {
      event.preventDefault();
      const named = input.value.trim();
      if (!named || !(await tried(session, () => change('POST', `${of}/shares`, { [what]: named })))) return;
      session.frame?.say(
        what === 'reader' ? `${named} can see your rounds now` : `The squad ${named} can see your rounds now`,
      );
      await session.frame?.refresh();
    };
  const byName = (/** @type {'reader'|'squad'} */ what, /** @type {string} */ label, /** @type {string} */ hint) => {
    const input = h('input', { required: true, maxlength: '60', autocomplete: 'off', id: `share-${what}` });
    return h(
      'form',
      { onsubmit: share(what, input) },
      field(label, input, hint),
      h(
        'button',
        { class: 'wide', id: `share-with-${what}` },
        what === 'reader' ? 'Share with this person' : 'Share with this squad',
      ),
    );
  };
  return h(
    'section',
    null,
    h('h2', null, 'Share your rounds'),
    button('Make an invitation', invite, { class: 'wide strong', id: 'invite' }),
    h(
      'details',
      null,
      h('summary', { id: 'by-name' }, 'By account name'),
      byName('reader', 'Coach or analyst', 'The name they sign in with.'),
    ),
    h(
      'details',
      null,
      h('summary', { id: 'by-squad' }, 'A whole squad'),
      byName('squad', 'Squad', 'Everyone who sees the squad can see your rounds, also those who join later.'),
    ),
  );
}
