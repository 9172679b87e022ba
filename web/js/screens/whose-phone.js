/** A phone whose player is not the account's: what it means, calmly, and the ways out. */
import { ageNotice, isReader, whoAmI } from './server-answers.js';
import { saveLog } from './saving.js';
import { button, h } from '../ui/elements.js';
import { counted } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session */

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function whosePhoneScreen(session) {
  const me = await whoAmI(session);
  const account = me.value?.account ?? null;
  const page = (/** @type {any[]} */ ...parts) => ({
    title: 'Whose phone is this?',
    content: h('div', { class: 'page' }, h('h1', null, 'Whose phone is this?'), ...parts),
  });
  if (!me.value) return page(ageNotice(me, 'This page'));
  if (!session.player)
    return page(
      h('p', { class: 'lead' }, 'No player is chosen on this device.'),
      h('a', { class: 'button wide', href: '#/players' }, 'Choose a player'),
    );
  const { name } = session.player;
  if (me.value.open_house || account?.player_id === session.playerId)
    return page(
      h(
        'p',
        { class: 'lead', id: 'all-well' },
        `All is well: this phone records for ${name}${account ? `, and ${account.name} is the account of that player` : ''}.`,
      ),
      button('Send now', () => sendNow(session), { class: 'wide strong', id: 'send-now' }),
    );
  return page(
    h(
      'p',
      { class: 'lead', id: 'whose' },
      `This phone records for ${name}. ${account ? `Signed in is ${account.name}, ${belongs(account)}.` : 'Nobody is signed in.'}`,
    ),
    h(
      'p',
      null,
      `Nothing is lost. ${session.waiting ? `${counted(session.waiting, 'change')} ${session.waiting === 1 ? 'waits' : 'wait'} on this phone` : 'What you record stays on this phone'}, and can be sent only by ${name}’s own account: nobody can change another player’s rounds.`,
    ),
    ways(session, account, name),
  );
}

/** @param {import('./server-answers.js').Account} account @returns {string} */
function belongs(account) {
  if (account.role === 'player') return 'the account of another player';
  return account.role === 'owner'
    ? 'an owner, who records no rounds'
    : `${account.role === 'analyst' ? 'an analyst' : 'a coach'}, who sees rounds and records none`;
}

/** @param {Session} session @param {import('./server-answers.js').Account|null} account @param {string} name */
function ways(session, account, name) {
  const own = account?.player_id ?? null;
  const change = async () => {
    await session.choosePlayer(/** @type {string} */ (own));
    await session.schedule.now();
    await session.load();
    session.frame?.go(session.player ? '' : 'players');
  };
  return h(
    'ul',
    { class: 'ways' },
    h(
      'li',
      null,
      h('h2', null, `Sign in as ${name}`),
      h('p', null, 'Then everything waiting is sent.'),
      h('a', { class: 'button wide strong', href: '#/sign-in', id: 'sign-in-other' }, 'Sign in with another account'),
    ),
    own
      ? h(
          'li',
          null,
          h('h2', null, `Record for ${account?.name} from now on`),
          h('p', null, `${name}’s rounds stay on this phone, under “Another player”.`),
          button(`Change to the player of ${account?.name}`, change, { class: 'wide', id: 'own-player' }),
        )
      : null,
    isReader(session.me)
      ? h(
          'li',
          null,
          h('h2', null, 'See players, as a coach'),
          h(
            'p',
            null,
            `${name} and the others who share with you are in the list of players; there is nothing to record there.`,
          ),
          h('a', { class: 'button wide', href: '#/evidence', id: 'to-read' }, 'Players who share with you'),
        )
      : null,
    session.me?.account
      ? h(
          'li',
          null,
          h('h2', null, `Clear ${name} from this phone`),
          h('p', null, 'What is not sent is asked about first, and can be saved to a file.'),
          button(`Clear ${name} from this phone`, () => clear(session, own, name), {
            class: 'wide',
            id: 'clear-other',
          }),
        )
      : null,
    h(
      'li',
      null,
      h('h2', null, 'Keep recording here'),
      h(
        'p',
        null,
        `It is all kept on this phone. Save the log to a file now and then: ${name}’s phone can restore it, and nothing is duplicated.`,
      ),
      h(
        'div',
        { class: 'row' },
        button('Save the log to a file', () => saveLog(session), { id: 'save-log' }),
        h('a', { class: 'button', href: '#/', id: 'go-on' }, 'To the rounds'),
      ),
    ),
  );
}

/** @param {Session} session @param {string|null} own the account's player @param {string} name */
async function clear(session, own, name) {
  const { askToClear, clearNow } = await import('./clearing.js');
  const calm = `Removes everything of ${name} from this phone. What was sent is on the server.`;
  const asked = await askToClear(session, { title: `Clear ${name}?`, calm, yes: 'Clear it', own });
  if (!asked) return;
  await clearNow(session, { own, lose: asked.lose });
  await session.frame?.refresh();
}

/** @param {Session} session */
async function sendNow(session) {
  await session.schedule.now();
  await session.frame?.refresh();
}
