/** What the screens of a round need, read at once: round, shots, clubs, score, values, stock distances. */
import { attribute } from '../game/valuation.js';
import { roundScore } from '../game/score.js';
import { stockDistances } from '../game/distances.js';
import { longestFirst } from '../game/guess.js';
import { COMPETITION } from '../game/shot.js';
import { tallyRound, tallyVersion } from '../game/tally.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../log/store.js').StoredRecord} StoredRecord */

/** @param {import('../game/shot.js').Hole[]} holes @returns {(shot: {hole: number}) => number} */
export function parOfHoles(holes) {
  const pars = new Map(holes.map((hole) => [hole.number, hole.par]));
  return (shot) => pars.get(shot.hole) ?? 4;
}

/**
 * The tallies of the rounds, made anew where a shot has changed since.
 * @param {Session} session @param {StoredRecord[]} rounds @returns {Promise<Map<string, import('../game/tally.js').Tally>>}
 */
export async function talliesOf(session, rounds) {
  const stored = await session.store.tallies(rounds.map((round) => round.record_id));
  const fresh = [];
  for (const round of rounds) {
    if (stored.get(round.record_id)?.version === tallyVersion()) continue;
    const shots = (await session.store.shots(round.player_id, round.record_id)).map((record) => record.body);
    const tally = { round_id: round.record_id, ...tallyRound(shots, round.body.holes, round.body.holes_meant) };
    stored.set(round.record_id, tally);
    fresh.push(tally);
  }
  if (fresh.length) await session.store.saveTallies(fresh).catch(() => undefined); // only a cache: without room it is made again
  return stored;
}

/** The tallies of all rounds of the player. @param {Session} session @returns {Promise<import('../game/tally.js').Tally[]>} */
export async function seasonTallies(session) {
  const rounds = await session.store.records(/** @type {string} */ (session.playerId), 'round');
  return [...(await talliesOf(session, rounds)).values()];
}

/**
 * The stock distance of each club, from the full swings of all rounds.
 * @param {Session} session @param {StoredRecord[]} clubs
 */
export async function loadStockDistances(session, clubs) {
  return stockOf(clubs, await seasonTallies(session));
}

/** @param {StoredRecord[]} clubs @param {import('../game/tally.js').Tally[]} tallies */
export function stockOf(clubs, tallies) {
  /** @type {Record<string, import('../game/distances.js').Swing[]>} */
  const swings = {};
  for (const tally of tallies) {
    for (const [club, more] of Object.entries(tally.swings)) swings[club] = [...(swings[club] ?? []), ...more];
  }
  return stockDistances(clubs, swings);
}

/**
 * @param {Session} session @param {StoredRecord[]} records @param {import('../game/shot.js').Hole[]} holes
 * @returns {import('../game/summaries.js').ValuedShot[]} empty without a baseline
 */
export function valuedShots(session, records, holes) {
  if (!session.baseline) return [];
  const shots = records.map((record) => record.body);
  const values = attribute(shots, parOfHoles(holes), session.baseline, session.scheme);
  return records.map((record, place) => ({ record_id: record.record_id, shot: record.body, value: values[place] }));
}

/**
 * @param {Session} session @param {string} roundId
 */
export async function roundData(session, roundId) {
  const player = /** @type {string} */ (session.playerId);
  const round = await session.store.record(player, roundId);
  if (!round || round.deleted || round.kind !== 'round') throw new Error('this round is not on this phone');
  const [shots, clubs, lock] = await Promise.all([
    session.store.shots(player, roundId),
    session.store.records(player, 'club'),
    session.lockingRound(),
  ]);
  const inBag = clubs.filter((club) => round.body.bag.includes(club.record_id));
  return {
    round,
    shots,
    clubs,
    locked: lock !== null,
    caddying: session.caddying,
    competition: round.body.kind === COMPETITION,
    bag: inBag,
    score: roundScore(
      shots.map((record) => record.body),
      round.body.holes,
      round.body.holes_meant,
    ),
    valued: lock || session.caddying ? [] : valuedShots(session, shots, round.body.holes),
    versions: [round, ...shots].filter((record) => record.conflict).length,
  };
}

/**
 * Clubs of the bag by stock distance. @param {StoredRecord[]} bag @param {Map<string, {yards: number}>} stock
 */
export function bagInOrder(bag, stock) {
  return longestFirst(bag, stock);
}

/** @param {StoredRecord[]} clubs @returns {(id: string) => string} the label of a club */
export function labels(clubs) {
  const byId = new Map(clubs.map((club) => [club.record_id, club.body.label]));
  return (id) => byId.get(id) ?? 'a club';
}
