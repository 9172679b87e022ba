/** A hole that is done turns to the next one by itself; what it came to is shown on the screen that follows. */
import { stillToHit } from '../game/alternation.js';
import { needsNumbering, recordsOfBall } from '../game/hole-edits.js';
import { holeWords } from '../game/score.js';
import { byHole } from '../game/summaries.js';
import { button, h } from '../ui/elements.js';
import { gained } from '../ui/words.js';
import { guardOf } from './tap-guard.js';

/** @typedef {import('./play.js').Place} Place @typedef {import('../session.js').Session} Session @typedef {import('../game/shot.js').Shot} Shot */

/**
 * The hole after this one in the order of play; from the last one to the first, where that is still to be played.
 * @param {Place} place @returns {{number: number}|null} null: the card
 */
export function nextHole({ data, hole }) {
  const { holes } = data.round.body;
  const next = holes[holes.findIndex((/** @type {any} */ one) => one.number === hole.number) + 1];
  return next ?? (isPlayed(data, holes[0].number) ? null : holes[0]);
}

/** @param {Place['data']} data @param {number} number */
function isPlayed({ shots }, number) {
  return shots.some(({ body }) => body.hole === number);
}

/**
 * Turns, unless something on this hole is still open or the next one has been begun: then the hole stays, as the player may want it.
 * @param {Place} place @param {Partial<Shot>} [last] the shot that was written @returns {boolean}
 */
export function turnOn(place, last) {
  const { session, data, hole, round_id: roundId } = place;
  session.state.turned = null;
  if (session.staysOnHole || place.ball !== 1 || data.round.body.closed) return false;
  const next = nextHole(place);
  const others = data.score.holes.filter((one) => one.hole !== hole.number);
  const begun = next && isPlayed(data, next.number);
  if (begun && others.some((one) => one.state === 'open')) return false;
  const first = recordsOfBall(data.shots, hole.number, 1);
  const bodies = data.shots.map(({ body }) => body);
  const shots = last ? [...bodies, { ...last, order: first.length + 1 }] : bodies;
  const trial = (session.state.playing?.trial?.clubs ?? []).map(({ id }) => id);
  if (needsNumbering(first) || stillToHit(shots, trial, hole.number, 1).length || hasOpenBall(bodies, hole.number))
    return false;
  const to = next && !begun ? String(next.number) : 'card';
  guardOf(session).turns();
  const here = `round/${roundId}`;
  session.state.turned = { hole: hole.number, from: `${here}/${hole.number}`, to: `${here}/${to}` };
  session.frame?.go(session.state.turned.to);
  return true;
}

/** Whether an extra ball of a hole has no end yet. @param {Shot[]} shots @param {number} hole */
function hasOpenBall(shots, hole) {
  const extra = shots.filter((shot) => shot.hole === hole && shot.ball !== 1 && !shot.provisional);
  return [...new Set(extra.map(({ ball }) => ball))].some(
    (ball) => !extra.some((shot) => shot.ball === ball && (shot.holed || shot.picked_up)),
  );
}

/**
 * What the hole before came to: "Hole 6: par, +0.31. Saved." Only where the round turned to by itself.
 * @param {Session} session @param {Place['data']} data @param {string} here address of the screen
 */
export function turnedLine(session, data, here) {
  const { turned } = session.state;
  if (!turned || turned.to !== here) {
    // the hole that is being left may be drawn once more on the way
    if (here !== turned?.from) session.state.turned = null;
    return null;
  }
  const score = data.score.holes.find((one) => one.hole === turned.hole);
  const [, , at] = here.split('/');
  if (!score || score.state === 'open' || isPlayed(data, Number(at))) {
    session.state.turned = null;
    return null;
  }
  const pickedUp = score.state === 'picked_up';
  const words = pickedUp ? 'picked up, no score' : lowered(holeWords(score.strokes, score.par));
  const valued = !pickedUp && !data.locked && !data.caddying;
  const value = valued ? byHole(data.valued).get(turned.hole)?.strokes_gained : null;
  return h(
    'p',
    { class: 'turned', id: 'turned', role: 'status' },
    h('span', null, `Hole ${turned.hole}: ${words}${value == null ? '' : `, ${gained(value)}`}. Saved.`),
    at === 'card' ? button('Undo', () => undoOf(session, data.round.record_id), { id: 'undo', class: 'quiet' }) : null,
  );
}

/** Takes back the last step of a round and shows the hole that it was on. @param {Session} session @param {string} roundId */
export async function undoOf(session, roundId) {
  guardOf(session).turned = false; // this tap was meant, and so is what follows
  session.state.turned = null;
  const [was] = (await session.undo(roundId))?.before ?? [];
  const bodies = was ? [was, ...(await session.store.changesOf(was.record_id))].map(({ body }) => body) : [];
  const hole = bodies.find((body) => body?.hole)?.hole;
  const to = `round/${roundId}/${hole}`;
  if (hole && session.frame?.hash !== to) session.frame?.go(to);
  else await session.frame?.refresh();
}

/** @param {string} words */
const lowered = (words) => words[0].toLowerCase() + words.slice(1);
