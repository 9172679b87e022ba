/** The totals of a practice session, worked out on the phone: balls, putts holed by length, how far and how spread each club. */
import { finishedAt } from './practice.js';

/** Bands of putts in feet, those of the putting tables. */
export const BANDS_FT = [0, 3, 6, 10, 15, 20, 30, 40, 60, 150];

/** @typedef {import('./practice.js').PracticeBall} PracticeBall */

/**
 * @typedef {{count: number, mean: number, spread: number|null}} Figure `spread`: the standard deviation (n − 1), null of one value
 * @typedef {{over: number, to: number, putts: number, holed: number, left_ft: Figure|null}} PuttBand
 * @typedef {{club_id: string, swing: string, balls: number, carry: Figure|null, finished: Figure|null, right: Figure|null}} ClubRow
 * @typedef {{club_id: string, balls: number, holed: number, left_ft: Figure|null}} ShortRow
 */

/**
 * Mean and standard deviation; null of nothing. @param {(number|null|undefined)[]} values those not recorded do not count
 * @returns {Figure|null}
 */
export function figureOf(values) {
  const known = values.filter((value) => typeof value === 'number');
  if (!known.length) return null;
  const mean = known.reduce((sum, value) => sum + value, 0) / known.length;
  const squares = known.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return { count: known.length, mean, spread: known.length > 1 ? Math.sqrt(squares / (known.length - 1)) : null };
}

/**
 * Putts by length; bands without a putt are left out. @param {PracticeBall[]} balls @returns {PuttBand[]}
 */
export function puttBands(balls) {
  return BANDS_FT.slice(1).flatMap((to, place) => {
    const over = BANDS_FT[place];
    const putts = balls.filter(({ length_ft: ft }) => typeof ft === 'number' && ft > over && ft <= to);
    if (!putts.length) return [];
    const left_ft = figureOf(putts.map((putt) => putt.left_ft));
    return [{ over, to, putts: putts.length, holed: putts.filter((putt) => putt.holed).length, left_ft }];
  });
}

/** @template T @param {T[]} all @param {(one: T) => string} key @returns {Map<string, T[]>} in the order of their first */
function grouped(all, key) {
  /** @type {Map<string, T[]>} */
  const groups = new Map();
  for (const one of all) groups.set(key(one), [...(groups.get(key(one)) ?? []), one]);
  return groups;
}

/** Full and part swings of each club apart. @param {PracticeBall[]} balls of a range @returns {ClubRow[]} */
export function clubRows(balls) {
  return [...grouped(balls, ({ club_id, swing }) => `${club_id} ${swing ?? 'full'}`).values()].map((some) => ({
    club_id: some[0].club_id,
    swing: some[0].swing ?? 'full',
    balls: some.length,
    carry: figureOf(some.map((ball) => ball.carry_yd)),
    finished: figureOf(some.map(finishedAt)),
    right: figureOf(some.map((ball) => ball.right_yd)),
  }));
}

/** What each club left of the short game. @param {PracticeBall[]} balls @returns {ShortRow[]} */
export function shortRows(balls) {
  return [...grouped(balls, ({ club_id }) => club_id).values()].map((some) => ({
    club_id: some[0].club_id,
    balls: some.length,
    holed: some.filter((ball) => ball.holed).length,
    left_ft: figureOf(some.map((ball) => (ball.holed ? 0 : ball.left_ft))),
  }));
}
