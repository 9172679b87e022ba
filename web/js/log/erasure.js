/** Asking the server to erase the players that were erased on this device. Safe to repeat at any moment. */
import { erasureOver } from './erasing.js';
import { ExchangeFailure, ask } from './answers.js';

const MEANT = 'erase everything'; // the words by which the server knows that it is meant
const NOT_THERE = 404;

/**
 * How the asking went: `done`, or why it still waits: no answer, nobody or somebody else signed in, or refused in words.
 * @typedef {{player_id: string, state: 'done'|'offline'|'sign_in'|'another'|'refused', words: string}} Asked
 */

/**
 * @param {import('./store.js').Store} store @param {{player_id: string}[]} waiting @param {typeof fetch} fetcher
 * @returns {Promise<Asked[]>} one for each that waits
 */
export async function askToErase(store, waiting, fetcher) {
  const found = [];
  for (const { player_id } of waiting) {
    const asked = await askOne(player_id, fetcher);
    if (asked.state === 'done') await erasureOver(store, player_id);
    found.push({ ...asked, player_id });
  }
  return found;
}

/**
 * The name is asked of the server, since nothing of the player is kept here. @param {string} playerId @param {typeof fetch} fetcher
 * @returns {Promise<{state: Asked['state'], words: string}>}
 */
async function askOne(playerId, fetcher) {
  const address = `/api/players/${encodeURIComponent(playerId)}`;
  try {
    const { name } = await ask(fetcher, address);
    const body = JSON.stringify({ name, meant: MEANT });
    await ask(fetcher, `${address}/erasure`, { method: 'POST', headers: { 'content-type': 'application/json' }, body });
    return { state: 'done', words: 'erased on the server' };
  } catch (error) {
    if (!(error instanceof ExchangeFailure)) throw error;
    if (error.kind === 'erased') return { state: 'done', words: 'it was erased there before' };
    if (error.status === NOT_THERE) return notThere(playerId, fetcher);
    if (error.kind === 'sign_in') return { state: 'sign_in', words: error.message };
    const silent = ['offline', 'foreign', 'busy'].includes(error.kind);
    return { state: silent ? 'offline' : 'refused', words: error.message };
  }
}

/**
 * Never sent, or another's: an account sees no player but its own.
 * @param {string} playerId @param {typeof fetch} fetcher @returns {Promise<{state: Asked['state'], words: string}>}
 */
async function notThere(playerId, fetcher) {
  const me = await ask(fetcher, '/api/me').catch(() => null);
  if (!me) return { state: 'offline', words: 'the server cannot be reached' };
  if (me.open_house || me.account?.player_id === playerId)
    return { state: 'done', words: 'nothing was ever sent there' };
  return { state: 'another', words: 'another account is signed in here' };
}
