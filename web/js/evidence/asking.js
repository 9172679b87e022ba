/**
 * Asks the server for evidence and keeps the last answers on the phone, so that they stay readable without a network.
 *
 * @typedef {{value: any, at: string, old: boolean, failure: import('../sync/answers.js').ExchangeFailure|null}} Answer
 * `at`: when the server gave it, ISO 8601; `old`: kept from then, because the server was not reached now (`failure` says why);
 * `value` null: no answer at all
 * @typedef {{answers: Record<string, {at: string, value: any}>, locks: Record<string, string>}} Kept
 */
import { ExchangeFailure, ask } from '../sync/answers.js';
import { answer } from '../store/database.js';

/** @typedef {import('../session.js').Session} Session */

const SETTING = 'evidence kept';
const MOST_PLANS = 40; // two courses; a shelf of their own, so that the plan of a round pushes no other answer out. About 65 kB each
const MOST_KEPT = 60; // answers; the oldest go first. About 1 MB at the most, from the size of a season's summary
const PLAN = /\/tee-plan\?/;
const PATIENCE_MS = 15_000;
const LOCKED = 423;
const WITHDRAWN = [403, 404]; // the player is gone, or no longer shares with whoever asks
const UNREACHABLE = ['offline', 'foreign', 'busy'];

/** A competition round of the player is open: `message` is the server's reason. */
export class EvidenceLocked extends Error {}

/**
 * One answer a path, in their order. The first path is the player's own: where it may not be read (any longer), what was kept
 * of the player is forgotten. EvidenceLocked when the server says so, or said so last and cannot be reached now.
 * @param {Session} session @param {string} player id, for its lock @param {string[]} paths @returns {Promise<Answer[]>}
 */
export async function askEach(session, player, paths) {
  const asked = await Promise.all(paths.map((path) => askOne(path)));
  const locked = asked.find((one) => one.failure?.status === LOCKED)?.failure;
  const fresh = asked.filter((one) => one.value !== null);
  if (locked || fresh.length) await keep(session, player, paths, asked, locked?.message ?? null).catch(() => undefined); // without room the answers are shown all the same
  if (locked) throw new EvidenceLocked(locked.message);
  if (WITHDRAWN.includes(asked[0].failure?.status ?? 0)) {
    await forget(session, paths[0]).catch(() => undefined);
    return asked;
  }
  if (!asked.some((one) => UNREACHABLE.includes(one.failure?.kind ?? ''))) return asked;
  return fallBack(session, player, paths, asked);
}

/** @param {string} path @returns {Promise<Answer>} */
async function askOne(path) {
  const at = new Date().toISOString();
  try {
    return { value: await ask(fetch.bind(globalThis), path, {}, PATIENCE_MS), at, old: false, failure: null };
  } catch (error) {
    const failure = error instanceof ExchangeFailure ? error : new ExchangeFailure('offline', String(error));
    return { value: null, at, old: false, failure };
  }
}

/** What was kept stands in for what cannot be had now. @param {Session} session @param {string} player @param {string[]} paths @param {Answer[]} asked */
async function fallBack(session, player, paths, asked) {
  const kept = await keptAnswers(session);
  if (kept.locks[player]) throw new EvidenceLocked(kept.locks[player]);
  return asked.map((one, index) => {
    const known = kept.answers[paths[index]];
    const silent = UNREACHABLE.includes(one.failure?.kind ?? '');
    return silent && known ? { ...known, old: true, failure: one.failure } : one;
  });
}

/**
 * The kept answers alone, when all of them are there: shown while the server takes its time.
 * @param {Session} session @param {string} player @param {string[]} paths @returns {Promise<Answer[]|null>}
 */
export async function keptOnly(session, player, paths) {
  const kept = await keptAnswers(session);
  if (kept.locks[player] || !paths.every((path) => kept.answers[path])) return null;
  return paths.map((path) => ({ ...kept.answers[path], old: true, failure: null }));
}

/** @param {Session} session @returns {Promise<Kept>} */
async function keptAnswers(session) {
  return (await session.store.setting(SETTING)) ?? { answers: {}, locks: {} };
}

/**
 * Writes in one transaction, so that two tabs never lose each other's answers.
 * @param {Session} session @param {(kept: Kept) => void} change
 */
async function changeKept(session, change) {
  await session.store.run(['settings'], 'readwrite', async (transaction) => {
    const settings = transaction.objectStore('settings');
    /** @type {Kept} */
    const kept = (await answer(settings.get(SETTING)))?.value ?? { answers: {}, locks: {} };
    change(kept);
    settings.put({ name: SETTING, value: kept });
  });
}

/** @param {Session} session @param {string} player @param {string[]} paths @param {Answer[]} asked @param {string|null} lock */
async function keep(session, player, paths, asked, lock) {
  await changeKept(session, (kept) => {
    asked.forEach(({ value, at }, index) => {
      if (value !== null) kept.answers[paths[index]] = { at, value };
    });
    if (lock) kept.locks[player] = lock;
    else delete kept.locks[player];
    const latest = Object.entries(kept.answers).sort(([, a], [, b]) => b.at.localeCompare(a.at));
    const plans = latest.filter(([path]) => PLAN.test(path)).slice(0, MOST_PLANS);
    const others = latest.filter(([path]) => !PLAN.test(path)).slice(0, MOST_KEPT);
    kept.answers = Object.fromEntries([...others, ...plans]);
  });
}

/** @param {Session} session @param {string} path of the player */
async function forget(session, path) {
  await changeKept(session, (kept) => {
    for (const known of Object.keys(kept.answers)) if (known === path || known.startsWith(`${path}/`)) delete kept.answers[known];
  });
}
