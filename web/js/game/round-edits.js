/** Edits of a round: its holes mended, the round closed and opened again. */
import { MOST_CLOSINGS, NINE, NINE_HOLES, STOP_HERE } from './closings.js';
import { NotAllowed } from './hole-edits.js';
import { TEE } from './lies.js';

/** @typedef {import('./shot.js').Hole} Hole @typedef {import('./hole-edits.js').Edit} Edit */

/**
 * The holes whose par or length is not as it was. @param {Hole[]} before @param {Hole[]} after @returns {Hole[]}
 */
export function changedHoles(before, after) {
  const was = new Map(before.map((hole) => [hole.number, hole]));
  return after.filter(
    (hole) => was.get(hole.number)?.par !== hole.par || was.get(hole.number)?.length_yd !== hole.length_yd,
  );
}

/**
 * Pars and lengths of a round are mended. Shots that start on the tee at the hole's old length follow it: the length was
 * all that was known of them.
 * @param {string} roundId @param {any} body of the round @param {import('./shot.js').ShotRecord[]} shots of the round @param {Hole[]} holes
 * @returns {Edit[]} none when nothing changed
 */
export function mendHoles(roundId, body, shots, holes) {
  const changed = changedHoles(body.holes, holes);
  if (!changed.length) return [];
  const was = new Map(body.holes.map((/** @type {Hole} */ hole) => [hole.number, hole.length_yd]));
  const now = new Map(changed.map((hole) => [hole.number, hole.length_yd]));
  const follow = shots.flatMap(({ record_id, body: shot }) => {
    const length = now.get(shot.hole);
    if (length === undefined || length === was.get(shot.hole)) return [];
    const fields = {
      ...(shot.lie === TEE && shot.distance_yd === was.get(shot.hole) ? { distance_yd: length } : {}),
      ...(shot.end_lie === TEE && shot.end_distance_yd === was.get(shot.hole) ? { end_distance_yd: length } : {}),
    };
    return Object.keys(fields).length ? [{ record_id, kind: 'shot', body: { ...shot, ...fields } }] : [];
  });
  return [{ record_id: roundId, kind: 'round', body: { ...body, holes } }, ...follow];
}

/**
 * The body of a round that is closed now. @param {any} body @param {string} at @param {string|null} answer to missing holes
 */
export function closedRound(body, at, answer) {
  const before = body.closings ?? [];
  const closings = before.length < MOST_CLOSINGS ? [...before, { closed_at: at, reopened_at: null }] : before;
  return {
    ...body,
    closed: true,
    closings,
    holes_meant: answer === NINE_HOLES ? NINE : null,
    stopped: answer === STOP_HERE,
  };
}

/** The body of a round that is opened again: all its holes are to be played. @param {any} body @param {string} at */
export function reopenedRound(body, at) {
  const before = body.closings ?? [];
  if (before.length >= MOST_CLOSINGS)
    throw new NotAllowed(`this round was finished ${MOST_CLOSINGS} times and cannot be reopened`);
  const last = before[before.length - 1];
  const noted = last && (last.reopened_at ?? null) === null;
  const closings = noted
    ? [...before.slice(0, -1), { ...last, reopened_at: at }]
    : [...before, { closed_at: null, reopened_at: at }];
  return { ...body, closed: false, closings, holes_meant: null, stopped: false };
}

/**
 * Whether the holes that were begun could be a round of nine: they lie in one nine of a longer round.
 * @param {boolean[]} begun of each hole, in the order of the round @returns {boolean}
 */
export function couldBeNine(begun) {
  const nines = new Set(begun.flatMap((is, place) => (is ? [Math.floor(place / NINE)] : [])));
  return begun.length > NINE && nines.size === 1;
}
