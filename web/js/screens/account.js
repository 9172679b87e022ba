/** One's own account: who is signed in here, where else, by which phones and scripts, and the password. */
import {
  ageNotice,
  change,
  dayOf,
  isReader,
  askOrCached,
  momentWords,
  sentence,
  tried,
  whoAmI,
} from './server-answers.js';
import { handOn, qrCode } from '../ui/copying.js';
import { button, confirmSheet, field, h, rowTo, sheet } from '../ui/elements.js';
import { leave, leaveAll } from './sign-out.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('./server-answers.js').Account} Account */

const SHORTEST_PASSWORD = 10;

/** @type {Record<string, string>} */
export const ROLE_WORDS = {
  player: 'player: records rounds, and decides who can see them',
  coach: 'coach: sees the players who share, writes notes, changes no shot',
  analyst: 'analyst: sees the players who share, writes notes, changes no shot',
  owner: 'owner: manages accounts on the command line, sees nobody’s rounds',
};

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function accountScreen(session) {
  const me = await whoAmI(session);
  const account = me.value?.account ?? null;
  const sessions = account ? await askOrCached(session, '/api/me/sessions') : null;
  return {
    title: 'Account',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Account'),
      ageNotice(me, 'This page'),
      me.value && !account ? nobody(me.value.open_house) : null,
      account
        ? [
            whoPart(session, account),
            phonePart(session),
            sessions ? sessionsPart(session, sessions) : null,
            passwordPart(session),
            scriptsPart(),
          ]
        : null,
    ),
  };
}

/** @param {boolean} openHouse */
function nobody(openHouse) {
  if (openHouse)
    return h(
      'p',
      { class: 'lead', id: 'who' },
      'No sign-in: this server answers only this machine, and anyone using it. The owner creates the first account with “account add” on the command line.',
    );
  return h(
    'section',
    null,
    h('p', { class: 'lead', id: 'who' }, 'Nobody is signed in on this device.'),
    h('p', null, 'Shots are still saved here; sign in to send them.'),
    h('a', { class: 'button wide strong', href: '#/sign-in', id: 'to-sign-in' }, 'Sign in'),
  );
}

/** @param {Session} session @param {Account} account */
function whoPart(session, account) {
  const another = session.player && account.player_id !== session.playerId;
  return h(
    'section',
    null,
    h('p', { class: 'lead', id: 'who' }, 'Signed in as ', h('strong', null, account.name), '.'),
    h('p', { class: 'hint', id: 'role' }, sentence(ROLE_WORDS[account.role] ?? account.role)),
    account.squads.length
      ? h(
          'p',
          { class: 'hint' },
          `Sees ${account.squads.length === 1 ? 'the squad' : 'the squads'} ${account.squads.join(', ')}.`,
        )
      : null,
    another
      ? h(
          'p',
          { class: 'notice' },
          `This device records for ${session.playerName}, who is not this account’s player. `,
          h('a', { href: '#/whose-phone', id: 'to-whose-phone' }, 'What that means, and what to do'),
        )
      : null,
    isReader(session.me)
      ? h(
          'ul',
          { class: 'list' },
          rowTo('evidence', 'to-readers-list', 'Players who share with you', 'their strokes gained'),
          rowTo('invitation', 'to-accept', 'Accept an invitation', 'with the link or code from a player'),
        )
      : null,
    h(
      'div',
      { class: 'row' },
      button('Sign out here', () => leave(session), { id: 'sign-out' }),
      button('Sign out everywhere', () => leaveAll(session), { class: 'red', id: 'sign-out-everywhere' }),
    ),
  );
}

/** @param {Session} session */
function phonePart(session) {
  const make = () =>
    tried(session, async () => {
      const made = await change('POST', '/api/me/join-code');
      sheet('Another phone', () => [
        h(
          'p',
          null,
          'Open this on the other phone. It works once, within 15 minutes, and signs that phone in as you: do not share it.',
        ),
        qrCode(made.qr_svg, 'QR code of the link that signs a phone in'),
        handOn(session, 'The link', made.address, { id: 'join-link' }),
      ]);
    });
  return h(
    'section',
    null,
    h('h2', null, 'Another phone'),
    h('p', { class: 'hint' }, 'A link or QR code that signs it in without typing a password.'),
    button('Make a link for a phone', make, { class: 'wide', id: 'make-join' }),
  );
}

/** What a browser calls its machine, out of the name that it gives itself. @param {string} label @returns {string} */
export function deviceWords(label) {
  const joined = /^joined by code: (.*)$/s.exec(label);
  const name = joined ? joined[1] : label;
  const machine = /\(([^)]*)\)?/.exec(name)?.[1] ?? name;
  const words =
    machine
      .split(';')
      .map((part) => part.trim())
      .filter(Boolean)
      .slice(0, 3)
      .join(', ') || 'unknown device';
  return `${words}${joined ? ', joined by a link' : ''}`;
}

/** @param {Session} session @param {import('./server-answers.js').Answer} found */
function sessionsPart(session, found) {
  const end = async (/** @type {any} */ one) => {
    if (
      !(await confirmSheet(
        'Sign that device out?',
        `${deviceWords(one.label)}: it must sign in again. What it recorded stays on it.`,
        'Sign it out',
      ))
    )
      return;
    if (await tried(session, () => change('DELETE', `/api/me/sessions/${one.credential_id}`)))
      session.frame?.say('Signed out there');
    await session.frame?.refresh();
  };
  const row = (/** @type {any} */ one) =>
    h(
      'li',
      { class: 'list-row' },
      h(
        'span',
        { class: 'list-main' },
        one.current ? h('strong', null, 'This device: ') : null,
        deviceWords(one.label),
        h(
          'span',
          { class: 'list-under' },
          `since ${dayOf(one.created_at)}; last used ${one.last_used_at ? momentWords(one.last_used_at) : 'never'}; ends ${dayOf(one.expires_at)} unless it is used`,
        ),
      ),
      one.current
        ? null
        : button('Sign out', () => end(one), {
            class: 'red',
            'aria-label': `Sign out: ${deviceWords(one.label)}, since ${momentWords(one.created_at)}`,
          }),
    );
  return h(
    'section',
    null,
    h('h2', null, 'Where you are signed in'),
    ageNotice(found, 'This list'),
    h('ul', { class: 'list', id: 'sessions' }, (found.value?.sessions ?? []).map(row)),
  );
}

/** @param {Session} session */
function passwordPart(session) {
  const secret = (/** @type {string} */ id, /** @type {string} */ complete) =>
    h('input', { type: 'password', autocomplete: complete, required: true, maxlength: '200', id });
  const [before, fresh, again] = [
    secret('password-now', 'current-password'),
    secret('password-new', 'new-password'),
    secret('password-again', 'new-password'),
  ];
  fresh.minLength = SHORTEST_PASSWORD;
  const form = h(
    'form',
    null,
    field('Current password', before),
    field('New password', fresh, `At least ${SHORTEST_PASSWORD} characters: a few words are good.`),
    field('New password again', again),
    h('button', { class: 'wide', id: 'change-password' }, 'Change the password'),
  );
  form.addEventListener('submit', async (/** @type {Event} */ event) => {
    event.preventDefault();
    if (fresh.value !== again.value) {
      session.frame?.alert('The two new passwords differ.');
      return;
    }
    if (
      !(await tried(session, () =>
        change('POST', '/api/me/password', { password: before.value, new_password: fresh.value }),
      ))
    )
      return;
    session.warn('The password is changed. Every other device, token and link of yours has ended.');
    await session.frame?.refresh();
  });
  return h(
    'section',
    null,
    h('h2', null, 'Password'),
    h(
      'details',
      null,
      h('summary', { id: 'password' }, 'Change it'),
      h('p', { class: 'hint' }, 'A new password signs every other device out, and ends tokens, links and invitations.'),
      form,
    ),
  );
}

function scriptsPart() {
  return h(
    'section',
    null,
    h('h2', null, 'Scripts'),
    h('ul', { class: 'list' }, rowTo('account/tokens', 'to-tokens', 'Tokens', 'let a script read or write for you')),
  );
}
