/** Practice targets: drawn by the server from the player's own gaps and priorities, kept on the phone, shown one after another. */
import { cacheAnswers, cacheTurn, cachedAnswers, cachedLock } from '../log/cache.js';
import { ask } from '../log/answers.js';
import { button, h } from '../ui/elements.js';
import { lengthWords } from './practice-data.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('./practice.js').Practice} Practice @typedef {import('./practice.js').Carried} Carried */

const COUNT = 20;
const SEEDS = 2 ** 20;
/** The server's word for why a distance was drawn. @type {Record<string, string>} */
const WHY = {
  gap: 'in a gap between your clubs',
  'loses strokes': 'a distance that costs you strokes',
  bag: 'one of your distances',
};

/** @param {Session} session */
function targetsPath(session) {
  return `/api/players/${encodeURIComponent(/** @type {string} */ (session.playerId))}/practice-targets`;
}

/**
 * Fetches fresh targets for the next time they are wanted; without a network those that are kept stay.
 * @param {Session} session
 */
export async function fetchTargets(session) {
  try {
    const path = targetsPath(session);
    const turn = await cacheTurn(session.store);
    const seed = Math.floor(Math.random() * SEEDS);
    const value = await ask(fetch.bind(globalThis), `${path}?seed=${seed}&count=${COUNT}`);
    if (listOf(value).length)
      await cacheAnswers(session.store, turn, 'own', [{ path, at: new Date().toISOString(), value }]);
  } catch {
    // no network, an older server, or too few shots: nothing is offered, or what is kept
  }
}

/** The targets of an answer that can be shown. @param {any} value @returns {any[]} */
function listOf(value) {
  return Array.isArray(value?.targets) ? value.targets.filter((/** @type {any} */ one) => one?.target_yd > 0) : [];
}

/** Those kept on this phone. @param {Session} session @returns {Promise<any[]>} */
export async function keptTargets(session) {
  const player = /** @type {string} */ (session.playerId);
  if (await cachedLock(session.store, player)) return [];
  const [found] = await cachedAnswers(session.store, [targetsPath(session)]);
  return listOf(found?.value);
}

/**
 * What a target says of the next ball: how far, and with the club that goes nearest to it.
 * @param {Practice} practice @param {{target_yd: number}} target @returns {Partial<Carried>}
 */
function triedAt({ data }, { target_yd }) {
  const off = (/** @type {any} */ club) => Math.abs((data.stock.get(club.record_id)?.yards ?? 0) - target_yd);
  const club = data.bag.length ? data.bag.reduce((best, one) => (off(one) < off(best) ? one : best)) : null;
  return { typed: '', target_yd, ...(club ? { club_id: club.record_id } : {}) };
}

/** The entry at the first of the targets. @param {Practice} practice @param {any[]} list @returns {Partial<Carried>} */
export function withTargets(practice, list) {
  return list.length ? { targets: { list, next: 0 }, duel: null, ...triedAt(practice, list[0]) } : {};
}

/** The entry at the next target; none after the last. @param {Practice} practice @returns {Partial<Carried>} */
export function nextTarget(practice) {
  const { targets } = practice.carried;
  const next = (targets?.next ?? 0) + 1;
  const target = targets?.list[next];
  return targets && target ? { targets: { ...targets, next }, ...triedAt(practice, target) } : { targets: null };
}

/** The target that is asked for now. @param {Practice} practice */
export function targetLine(practice) {
  const { targets } = practice.carried;
  const target = targets?.list[targets.next];
  if (!targets || !target) return null;
  const why = WHY[target.why] ?? '';
  return h(
    'div',
    { class: 'target-line', id: 'target-line' },
    h(
      'p',
      null,
      h('strong', null, lengthWords(target.target_yd, practice.session.units)),
      h(
        'span',
        { class: 'list-under' },
        `target ${targets.next + 1} of ${targets.list.length}${why ? ` · ${why}` : ''}`,
      ),
    ),
    button('Skip', () => practice.set(nextTarget(practice)), { class: 'quiet', id: 'skip-target' }),
  );
}
