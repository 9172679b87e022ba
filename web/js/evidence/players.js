/** Whose evidence: the players that the server lists. */
import { h } from '../screens/elements.js';
import { VIEWS, addressOf } from './address.js';
import { askEach } from './asking.js';
import { whyNot } from './page.js';
import { asOf } from './words.js';

const NOBODY = ''; // the list is of no one player, and never locked

/** @param {import('../session.js').Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function evidencePlayersScreen(session) {
  const [found] = await askEach(session, NOBODY, ['/api/players']);
  const players = found.value?.players ?? [];
  return {
    title: 'Evidence',
    content: h(
      'div',
      { class: 'page evidence' },
      h('h1', null, 'Evidence'),
      h('p', { class: 'lead' }, 'What the shots say, player by player, and how sure it is.'),
      found.old ? h('p', { class: 'notice', role: 'status' }, `The list as of ${asOf(found.at)}: ${found.failure?.message}.`) : null,
      !found.value ? whyNot(found.failure) : null,
      found.value && !players.length ? h('p', { class: 'empty' }, 'No player is on the server yet.') : null,
      h('ul', { class: 'list' }, players.map((/** @type {any} */ player) => h('li', null, row(session, player)))),
    ),
  };
}

/** @param {import('../session.js').Session} session @param {any} player */
function row(session, player) {
  const own = player.player_id === session.playerId ? 'on this phone · ' : '';
  return h(
    'div',
    { class: 'player-row' },
    h('a', { class: 'list-row', href: `#/${addressOf(player.player_id, 'overview')}`, id: `evidence-${player.player_id}` }, h('span', { class: 'list-main' }, player.name, h('span', { class: 'list-under' }, `${own}${player.plays}-handed`))),
    h('nav', { class: 'row-views', 'aria-label': `Evidence of ${player.name}` }, Object.keys(VIEWS).map((view) => h('a', { href: `#/${addressOf(player.player_id, /** @type {any} */ (view))}` }, view))),
  );
}
