/** What an app without a round offers: log one, import some, or look at the demo where the server has it. */
import { ask } from '../log/answers.js';
import { h, rowTo } from '../ui/elements.js';

/** The invented player of the demo season, as `demo_rounds` names them. */
export const DEMO_PLAYER = 'Wren Quillfeather';
const PATIENCE_MS = 4000;

/** @param {boolean} player whether the phone has a player: without one, rounds cannot be logged yet @returns {HTMLElement} */
export function firstWays(player) {
  const list = h(
    'ul',
    { class: 'list first-ways' },
    player
      ? [
          rowTo('new', 'log-a-round', 'Log a round', 'practice rounds count too'),
          rowTo('import', 'import-rounds', 'Import', 'rounds from a table, one shot a row'),
        ]
      : null,
  );
  demoPlayer().then((id) => {
    if (id)
      list.append(
        rowTo(
          `evidence/${id}`,
          'try-the-demo',
          'Try the demo',
          `an invented season of ${DEMO_PLAYER}, to look around in`,
        ),
      );
  });
  return list;
}

/** The demo's player on the server; null where there is none, or no network. @returns {Promise<string|null>} */
async function demoPlayer() {
  try {
    const { players } = await ask(fetch.bind(globalThis), '/api/players', {}, PATIENCE_MS);
    return players.find((/** @type {any} */ one) => one.name === DEMO_PLAYER)?.player_id ?? null;
  } catch {
    return null;
  }
}
