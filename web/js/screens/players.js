/** Who plays: the first screen of a new phone. */
import { ExchangeFailure, ask } from '../log/answers.js';
import { everyCaddying } from '../log/caddying.js';
import { button, choices, field, h, rowTo } from '../ui/elements.js';
import { installHint } from '../ui/install.js';
import { firstWays } from './first-ways.js';
import { isReader, whoAmI } from './server-answers.js';

/** @typedef {import('../session.js').Session} Session */

/** A usual bag of 14 to start from; lofts: common practice, no source. */
const DEFAULT_BAG = [
  ['Driver', 'driver', 10],
  ['3-wood', 'wood', 15],
  ['3-hybrid', 'hybrid', 19],
  ['4-iron', 'iron', 23],
  ['5-iron', 'iron', 26],
  ['6-iron', 'iron', 30],
  ['7-iron', 'iron', 34],
  ['8-iron', 'iron', 38],
  ['9-iron', 'iron', 42],
  ['PW', 'wedge', 46],
  ['50°', 'wedge', 50],
  ['54°', 'wedge', 54],
  ['58°', 'wedge', 58],
  ['Putter', 'putter', 3],
];

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function playersScreen(session) {
  const { here, there, door } = await knownPlayers(session);
  const caddied = new Set((await everyCaddying(session.store)).map((one) => one.player_id));
  const listed = (/** @type {string} */ title, /** @type {{player_id: string, name: string}[]} */ players) =>
    players.length
      ? h(
          'section',
          null,
          h('h2', null, title),
          h(
            'ul',
            { class: 'list' },
            players.map(({ player_id: id, name }) =>
              h(
                'li',
                null,
                button(caddied.has(id) ? `${name}, one round, as a caddie` : name, () => choosePlayer(session, id), {
                  class: 'list-row',
                  id: `player-${id}`,
                }),
              ),
            ),
          ),
        )
      : null;
  const fields = { name: '', plays: 'right', units: 'yards' };
  const form = h('form', { class: 'page-part' });
  const name = h('input', { required: true, maxlength: '80', autocomplete: 'name', id: 'new-name' });
  const set = (/** @type {any} */ change) => {
    Object.assign(fields, change);
    draw();
  };
  const draw = () =>
    form.replaceChildren(
      h('h2', null, here.length || there.length ? 'New player' : 'Your name'),
      field('Name', name),
      choices(
        'Plays',
        [
          ['right', 'right-handed'],
          ['left', 'left-handed'],
        ],
        fields.plays,
        (plays) => set({ plays }),
      ),
      choices(
        'Units',
        [
          ['yards', 'yards'],
          ['metres', 'metres'],
        ],
        fields.units,
        (units) => set({ units }),
      ),
      h('div', { class: 'row' }, h('button', { class: 'wide strong', id: 'create-player' }, 'Start')),
    );
  form.addEventListener('submit', (/** @type {Event} */ event) => {
    event.preventDefault();
    fields.name = name.value.trim();
    if (fields.name) createPlayer(session, fields);
  });
  draw();
  if (isReader(session.me) && !here.length) return forReaders(session);
  return {
    title: 'Who plays?',
    still: true,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Pencilbag'),
      h('p', { class: 'lead' }, 'Pencil in every shot, practice too; see what each club gains and loses.'),
      session.erasures.length ? (await import('./erasing.js')).erasureNotice(session) : null,
      installHint(),
      listed('Who plays?', here),
      form,
      here.length ? null : firstWays(false),
      listed('Players on this server', there),
      h('p', null, h('a', { href: '#/evidence' }, 'For coaches: strokes gained, player by player')),
      door
        ? h(
            'p',
            null,
            h('a', { class: 'button wide', href: '#/sign-in', id: 'to-sign-in' }, 'I have an account: sign in'),
          )
        : null,
      h('p', null, h('a', { href: '#/caddie', id: 'to-caddie' }, 'Enter a round for another player, by an invitation')),
      h('p', null, h('a', { href: '#/saving' }, 'Restore from a file')),
    ),
  };
}

/** A coach's device: nobody to note for. @param {Session} session @returns {import('../routes.js').Drawn} */
function forReaders(session) {
  return {
    title: 'Pencilbag',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Pencilbag'),
      h('p', { class: 'lead' }, `Signed in as ${session.me?.account?.name}, to see what players share.`),
      h(
        'ul',
        { class: 'list' },
        rowTo('evidence', 'to-read', 'Players who share with you', 'their strokes gained'),
        rowTo('invitation', 'to-accept', 'Accept an invitation', 'with the link or code from a player'),
        rowTo('account', 'to-account', 'Account', 'devices, tokens, password'),
      ),
      h('p', { class: 'hint' }, 'To record your own shots, sign in with a player’s account.'),
    ),
  };
}

/** Players that this phone holds, and others that the server lists, by name; `door`: the server wants an account. @param {Session} session */
async function knownPlayers(session) {
  const erased = new Set(session.erasures.map((one) => one.player_id));
  const here = (await session.store.allPlayers()).map(({ record_id, body }) => ({
    player_id: record_id,
    name: /** @type {string} */ (body.name),
  }));
  const known = new Set(here.map((one) => one.player_id));
  /** @type {typeof here} */
  let there = [];
  let door = false;
  try {
    const answer = await ask(fetch.bind(globalThis), '/api/players', {}, 4000);
    await whoAmI(session);
    there = isReader(session.me) ? [] : (answer?.players ?? []);
  } catch (error) {
    // Offline: those on the phone are enough. A server with accounts shows its door.
    door = error instanceof ExchangeFailure && ['sign_in', 'erased'].includes(error.kind);
  }
  const sorted = (/** @type {typeof here} */ players) =>
    players.filter((one) => !erased.has(one.player_id)).sort((a, b) => a.name.localeCompare(b.name));
  return { here: sorted(here), there: sorted(there.filter((one) => !known.has(one.player_id))), door };
}

/** @param {Session} session @param {string} playerId */
async function choosePlayer(session, playerId) {
  await session.choosePlayer(playerId);
  if (!session.player) await session.schedule.now();
  await session.load();
  if (!session.player) session.warn('This player is not on the phone yet: connect to the server and try again.');
  session.frame?.go('');
}

/** @param {Session} session @param {any} fields */
async function createPlayer(session, fields) {
  const before = session.playerId;
  const own = session.player ? null : before; // an account brings the id of its own player
  const playerId = own ?? crypto.randomUUID();
  session.playerId = playerId;
  const body = { ...fields, baseline: 'tour', category_scheme: 'four_part' };
  const clubs = DEFAULT_BAG.map(([label, sort, loft]) => ({
    record_id: crypto.randomUUID(),
    kind: 'club',
    body: { label, sort, loft_deg: loft, on_trial: false },
  }));
  const saved = await session.write(null, () => ({
    edits: [{ record_id: playerId, kind: 'player', body }, ...clubs],
    words: `Welcome, ${body.name}`,
  }));
  if (!saved) {
    session.playerId = before;
    return;
  }
  await session.choosePlayer(playerId);
  askToPersist();
  session.frame?.go('');
  await session.frame?.refresh();
}

/** Asks the browser to keep what is stored; its answer is shown on the saving screen. */
export async function askToPersist() {
  if (navigator.storage?.persist) await navigator.storage.persist();
}
