/** Tokens for scripts: made, shown once, listed, ended. */
import { ageNotice, change, dayOf, isReader, askOrCached, momentWords, tried, whoAmI } from './server-answers.js';
import { handOn } from '../ui/copying.js';
import { button, choices, confirmSheet, field, h, select } from '../ui/elements.js';

/** @typedef {import('../session.js').Session} Session */

const DAYS = /** @type {[string, string][]} */ ([
  ['7', 'a week'],
  ['30', '30 days'],
  ['90', '90 days'],
  ['366', 'a year'],
]);
const DEFAULT_DAYS = '90';
/** @type {Record<string, string>} */
const SCOPE_WORDS = {
  read_own: 'reads your rounds',
  write_own: 'writes your rounds',
  read_squad: 'reads the players who share with you',
};
const OWN_SCOPES = /** @type {[string, string][]} */ ([
  ['read_own', 'read'],
  ['write_own', 'write'],
  ['read_own,write_own', 'read and write'],
]);

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function tokensScreen(session) {
  await whoAmI(session);
  const found = await askOrCached(session, '/api/me/tokens');
  const useful = isReader(session.me) || session.me?.account?.role === 'player';
  const list = h('ul', { class: 'list', id: 'tokens' });
  const fill = (/** @type {any[]} */ tokens) =>
    list.replaceChildren(
      ...(tokens.length ? tokens.map((one) => row(session, one)) : [h('li', { class: 'list-row' }, 'No token yet.')]),
    );
  fill(found.value?.tokens ?? []);
  const again = async () => fill((await askOrCached(session, '/api/me/tokens')).value?.tokens ?? []);
  return {
    title: 'Tokens',
    still: true,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Tokens'),
      h(
        'p',
        null,
        'A token lets a script act for you without your password. Send it in the header ',
        h('code', null, 'Authorization: Bearer'),
        ', never in an address. It cannot change passwords or sharing, and cannot erase.',
      ),
      ageNotice(found, 'This list'),
      found.value && useful ? form(session, again) : null,
      h('h2', null, 'Your tokens'),
      list,
      h('p', null, h('a', { href: '#/account' }, 'Back to the account')),
    ),
  };
}

/** @param {Session} session @param {() => Promise<void>} again */
function form(session, again) {
  const wanted = { scopes: isReader(session.me) ? 'read_squad' : 'read_own', days: DEFAULT_DAYS };
  const label = h('input', {
    required: true,
    maxlength: '80',
    id: 'token-label',
    placeholder: 'notebook of the season',
  });
  const shown = h('div', { id: 'token-shown' });
  const scope = h('div');
  const choose = (/** @type {string|null} */ scopes) => {
    wanted.scopes = scopes ?? wanted.scopes;
    draw();
  };
  const draw = () => scope.replaceChildren(choices('May', OWN_SCOPES, wanted.scopes, choose, { id: 'scope' }));
  if (isReader(session.me)) scope.append(h('p', { class: 'hint' }, `It ${SCOPE_WORDS.read_squad}.`));
  else draw();
  const days = select(DAYS, wanted.days, (value) => Object.assign(wanted, { days: value }), { id: 'token-days' });
  const element = h(
    'form',
    null,
    field('What it is for', label),
    scope,
    field('Ends after', days),
    h('button', { class: 'wide strong', id: 'make-token' }, 'Make a token'),
  );
  element.addEventListener('submit', async (/** @type {Event} */ event) => {
    event.preventDefault();
    await tried(session, async () => {
      const made = await change('POST', '/api/me/tokens', {
        label: label.value.trim(),
        scopes: wanted.scopes.split(','),
        days: Number(wanted.days),
      });
      shown.replaceChildren(
        h(
          'div',
          { class: 'notice', role: 'status' },
          h(
            'p',
            null,
            h('strong', null, `“${label.value.trim()}” is shown only now.`),
            ' Copy it now: the server keeps only a hash of it.',
          ),
          handOn(session, 'The token', made.token, { id: 'token' }),
        ),
      );
      label.value = '';
      await again();
      shown.querySelector('input')?.focus();
    });
  });
  return h('section', null, h('h2', null, 'A new token'), element, shown);
}

/** @param {Session} session @param {any} one */
function row(session, one) {
  const end = async () => {
    if (
      !(await confirmSheet('End this token?', `The script that uses “${one.label}” is refused from now on.`, 'End it'))
    )
      return;
    if (await tried(session, () => change('DELETE', `/api/me/tokens/${one.credential_id}`)))
      session.frame?.say('The token has ended');
    await session.frame?.refresh();
  };
  const may = one.scopes.map((/** @type {string} */ scope) => SCOPE_WORDS[scope] ?? scope).join(', ');
  return h(
    'li',
    { class: 'list-row' },
    h(
      'span',
      { class: 'list-main' },
      one.label,
      h(
        'span',
        { class: 'list-under' },
        `${may}; since ${dayOf(one.created_at)}, ${one.last_used_at ? `last used ${momentWords(one.last_used_at)}` : 'never used'}; ends ${dayOf(one.expires_at)}`,
      ),
    ),
    button('End', end, { class: 'red', 'aria-label': `End the token “${one.label}”` }),
  );
}
