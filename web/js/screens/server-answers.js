/**
 * Asking the server about one's own account, sharing and notes. The last answers stay on the phone, with their day, so that
 * they can be read without a network.
 *
 * @typedef {{name: string, role: string, player_id: string|null, squads: string[]}} Account
 * @typedef {{open_house: boolean, account: Account|null}} Me
 * @typedef {{value: any, at: string, old: boolean, failure: ExchangeFailure|null}} Answer `old`: from then, since the server was not
 * reached now (`failure` says why); `value` null: no answer at all
 */
import { cacheTurn, cachedAnswers, forgetAnswer, cacheAnswers } from '../log/cache.js';
import { ExchangeFailure, ask } from '../log/answers.js';
import { h } from '../ui/elements.js';

/** @typedef {import('../session.js').Session} Session */

const PATIENCE_MS = 8000;
const UNKNOWN_CALLER = 401;
const UNREACHABLE = ['offline', 'foreign', 'busy'];
const READERS = ['coach', 'analyst'];

/** @param {Me|null} me @returns {boolean} whether a coach or an analyst is signed in, who reads others and notes no shots */
export function isReader(me) {
  return READERS.includes(me?.account?.role ?? '');
}

/**
 * The answer at an address, or the one that the phone has cached. @param {Session} session @param {string} address @returns {Promise<Answer>}
 */
export async function askOrCached(session, address) {
  const { store } = session;
  const turn = await cacheTurn(store).catch(() => 0);
  const at = new Date().toISOString();
  try {
    const value = await ask(fetch.bind(globalThis), address, {}, PATIENCE_MS);
    await cacheAnswers(store, turn, 'own', [{ path: address, at, value }]).catch(() => undefined); // shown all the same without room
    return { value, at, old: false, failure: null };
  } catch (error) {
    const failure = error instanceof ExchangeFailure ? error : new ExchangeFailure('offline', String(error));
    if (!UNREACHABLE.includes(failure.kind)) {
      await forgetAnswer(store, address).catch(() => undefined);
      return { value: null, at, old: false, failure };
    }
    const [known] = await cachedAnswers(store, [address]);
    return known ? { value: known.value, at: known.at, old: true, failure } : { value: null, at, old: false, failure };
  }
}

/** Who is signed in here. @param {Session} session @returns {Promise<Answer>} */
export async function whoAmI(session) {
  const found = await askOrCached(session, '/api/me');
  if (found.value) session.me = found.value;
  return found;
}

/**
 * Changes something on the server. @param {string} method @param {string} address @param {any} [body] @param {number} [patienceMs]
 * @returns {Promise<any>}
 */
export function change(method, address, body, patienceMs) {
  const sent =
    body === undefined ? {} : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) };
  return ask(fetch.bind(globalThis), address, { method, ...sent }, patienceMs);
}

/**
 * Does something that may fail, and says so. @param {Session} session @param {() => Promise<void>} work @returns {Promise<boolean>}
 */
export async function tried(session, work) {
  try {
    await work();
    return true;
  } catch (error) {
    const failure = /** @type {any} */ (error);
    const lost =
      failure?.kind === 'offline' ? ' This phone knows of no change:  try again when there is a network.' : '';
    session.warn(`${sentence(failure?.message ?? String(error))}${lost}`);
    return false;
  }
}

/** A sentence with a capital and a full stop. @param {string} words @returns {string} */
export function sentence(words) {
  return `${words.slice(0, 1).toUpperCase()}${words.slice(1)}`.replace(/([^.…!?])$/, '$1.');
}

/** @param {string} moment ISO 8601 @returns {string} such as "12 May 2026, 18:40" */
export function momentWords(moment) {
  const date = new Date(moment);
  if (Number.isNaN(date.getTime())) return moment;
  const day = date.toLocaleDateString('en-GB', { day: 'numeric', month: 'short', year: 'numeric' });
  return `${day}, ${date.toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' })}`;
}

/** @param {string} moment ISO 8601 @returns {string} its day here, such as "12 May 2026" */
export function dayOf(moment) {
  return momentWords(moment).split(',')[0];
}

/** How old an answer is, or why there is none; null when it is of now. @param {Answer} found @param {string} what such as "This list" */
export function ageNotice(found, what) {
  const why = sentence(found.failure?.message ?? '');
  if (found.value && !found.old) return null;
  if (found.value)
    return h(
      'p',
      { class: 'notice', role: 'status' },
      h('strong', null, `${what} is as of ${momentWords(found.at)}.`),
      ` ${why}`,
    );
  if (found.failure?.status === UNKNOWN_CALLER)
    return h(
      'p',
      { class: 'notice', role: 'status' },
      `${why} `,
      h('a', { href: '#/sign-in', id: 'to-sign-in' }, 'Sign in'),
    );
  const silent = UNREACHABLE.includes(found.failure?.kind ?? '');
  return h(
    'p',
    { class: 'notice', role: 'status' },
    why,
    silent ? ` ${what} comes from the server and is not on this phone yet: open it once with a network.` : '',
  );
}
