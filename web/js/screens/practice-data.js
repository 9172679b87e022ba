/** What the screens of a practice session need, read at once, and the words for its balls. */
import { PUTTING_GREEN, RANGE, SHORT_GAME, inOrder } from '../game/practice.js';
import { longestFirst } from '../game/guess.js';
import { fromYards } from '../game/units.js';
import { PRACTICE_BALL } from '../log/store.js';
import { answer } from '../log/database.js';
import { loadStockDistances } from './round-data.js';
import { h } from '../ui/elements.js';
import { LIE_WORDS, counted } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../log/store.js').StoredRecord} StoredRecord */
/** @typedef {import('../game/practice.js').PracticeBall} PracticeBall */

export const SHEET = '/css/practice.css';
/** @type {Record<string, string>} */
export const PLACE_WORDS = { [RANGE]: 'Range', [PUTTING_GREEN]: 'Putting green', [SHORT_GAME]: 'Short game' };
const INDEXED = 'practice balls indexed';

/**
 * A session, its balls in order and the clubs for it, longest first.
 * @param {Session} session @param {string} id
 */
export async function practiceData(session, id) {
  const player = /** @type {string} */ (session.playerId);
  await indexOnce(session);
  const record = await session.store.record(player, id);
  if (!record || record.deleted || record.kind !== 'session') throw new Error('this session is not on this phone');
  const [balls, clubs, lock] = await Promise.all([
    session.store.balls(player, id),
    session.store.records(player, 'club'),
    session.lockingRound(),
  ]);
  const stock = await loadStockDistances(session, clubs);
  const putting = record.body.place === PUTTING_GREEN;
  const used = new Set(balls.map((ball) => ball.body.club_id));
  const inUse = clubs.filter((club) => !club.body.retired_on || used.has(club.record_id));
  const fitting = inUse.filter((club) => (club.body.sort === 'putter') === putting || used.has(club.record_id));
  return {
    record,
    balls: inOrder(balls),
    clubs,
    bag: longestFirst(fitting.length ? fitting : inUse, stock),
    stock,
    locked: lock !== null,
  };
}

/**
 * Balls that came from the server before this app knew them lack the id by which a session's are found.
 * @param {Session} session
 */
async function indexOnce(session) {
  if (await session.store.setting(INDEXED)) return;
  await session.store.run(['records', 'settings'], 'readwrite', async (transaction) => {
    const records = transaction.objectStore('records');
    for (const row of await answer(records.index('kind').getAll(PRACTICE_BALL)))
      if (!row.round_id && row.body?.session_id) records.put({ ...row, round_id: row.body.session_id });
    transaction.objectStore('settings').put({ name: INDEXED, value: true });
  });
}

/** That the server is older than practice sessions, where it is. @param {Session} session */
export function keptNotice({ later }) {
  return later ? h('p', { class: 'notice', id: 'kept-for-later' }, keptWords(later)) : null;
}

/** @param {number} count of records @returns {string} */
export function keptWords(count) {
  return `This server is older than this app and does not take practice sessions yet. ${counted(count, 'record')} ${count === 1 ? 'stays' : 'stay'} on this phone, and ${count === 1 ? 'goes' : 'go'} by ${count === 1 ? 'itself' : 'themselves'} once the server can.`;
}

/** @param {'yards'|'metres'|undefined} units @returns {'yd'|'m'} in which lengths off the green are shown */
export function unitOf(units) {
  return units === 'metres' ? 'm' : 'yd';
}

/** Yards in whole units. @param {number} yards @param {'yards'|'metres'|undefined} units @returns {string} */
export function lengthWords(yards, units) {
  return `${Math.round(fromYards(yards, unitOf(units)))} ${unitOf(units)}`;
}

/** @param {number} feet @returns {string} */
export function feetWords(feet) {
  return `${Math.round(feet * 10) / 10} ft`;
}

/** "6 yd right", "on line". @param {number} yards @param {string} more @param {string} less @param {string} none @param {'yards'|'metres'|undefined} units */
function sided(yards, more, less, none, units) {
  const words = lengthWords(Math.abs(yards), units);
  if (words.startsWith('0 ')) return none;
  return `${words} ${yards > 0 ? more : less}`;
}

/** @param {any} value @returns {value is number} */
function known(value) {
  return typeof value === 'number';
}

/**
 * A ball in words: what was tried, and what came of it.
 * @param {PracticeBall} ball @param {(id: string) => string} label @param {'yards'|'metres'|undefined} units
 * @returns {{tried: string, came: string}}
 */
export function ballWords(ball, label, units) {
  const left = ball.holed ? 'holed' : known(ball.left_ft) ? `${feetWords(ball.left_ft)} left` : null;
  if (known(ball.length_ft))
    return { tried: `${feetWords(ball.length_ft)} putt, ${label(ball.club_id)}`, came: left ?? 'missed' };
  const part = ball.swing === 'part' ? ', part swing' : '';
  const from = ball.lie && ball.lie !== 'fairway' ? ` from ${LIE_WORDS[ball.lie] ?? ball.lie}` : '';
  const to = known(ball.target_yd) ? ` to ${lengthWords(ball.target_yd, units)}` : '';
  const came = [
    left,
    known(ball.carry_yd) ? `carry ${lengthWords(ball.carry_yd, units)}` : null,
    known(ball.total_yd) ? `total ${lengthWords(ball.total_yd, units)}` : null,
    known(ball.long_yd) ? sided(ball.long_yd, 'long', 'short', 'pin high', units) : null,
    known(ball.right_yd) ? sided(ball.right_yd, 'right', 'left', 'on line', units) : null,
    ball.actual_shape ?? null,
    ball.strike ? `${ball.strike} strike` : null,
  ].filter(Boolean);
  return { tried: `${label(ball.club_id)}${part}${from}${to}`, came: came.join(', ') || 'finish not recorded' };
}
