/** Actions on the ball: penalties, a provisional, extra balls, picking up. Each is one write. */
import { addShot, bringProvisionalIntoPlay, editShot, nextBall, pickUp, recordsOfBall } from '../game/hole-edits.js';
import { LOST, OUT_OF_BOUNDS } from '../game/penalties.js';
import { iso } from '../log/clock.js';
import { button, h } from '../ui/elements.js';
import { turnOn } from './play-turn.js';
import { guardOf, tappedSpot } from './tap-guard.js';

/** @typedef {import('./play.js').Place} Place */

/**
 * @param {Place} place @param {string} words @param {(records: any[]) => import('../game/hole-edits.js').Edit[]} plan
 * @param {() => boolean} [turned] whether another screen is on its way once it is saved
 * @returns {Promise<boolean>}
 */
export async function writeHole(place, words, plan, turned = () => false) {
  const { session } = place;
  const guard = guardOf(session);
  guard.close(tappedSpot()); // no shot is hit from a spot that this is about to change, nor by the second tap of a double one
  let saved = false;
  try {
    saved = await session.write(place.round_id, (records) => ({ edits: plan(/** @type {any} */ (records)), words }));
  } finally {
    guard.end(saved);
  }
  if (!(saved && turned())) await session.frame?.refresh();
  return saved;
}

/** The last shot of the ball being entered. @param {Place} place */
export function lastShot(place) {
  const played = recordsOfBall(place.data.shots, place.hole.number, place.ball);
  return played[played.length - 1] ?? null;
}

/**
 * The last shot brought a penalty. @param {Place} place @param {string} reason @param {import('../game/penalties.js').WayOn} way
 */
export async function takePenalty(place, reason, way) {
  const last = lastShot(place);
  if (!last) return;
  const spot = way.same_spot
    ? { end_lie: last.body.lie, end_distance_yd: last.body.distance_yd }
    : { end_lie: null, end_distance_yd: null };
  await writeHole(place, `Hole ${place.hole.number}: penalty saved`, (records) =>
    editShot(records, last.record_id, {
      penalty_reason: reason,
      penalty_strokes: way.strokes,
      picked_up: false,
      holed: false,
      ...spot,
    }),
  );
}

/** To another ball: the second tap of a double one does not hit it. @param {Place} place @param {number} ball @param {any} start */
function turnByTap(place, ball, start) {
  const guard = guardOf(place.session);
  guard.close(tappedSpot());
  guard.end(true);
  place.turnTo(ball, start);
}

/** A provisional ball from where the last shot was played. @param {Place} place */
export function playProvisional(place) {
  const last = recordsOfBall(place.data.shots, place.hole.number, 1).at(-1);
  if (!last) return;
  turnByTap(place, nextBall(/** @type {any} */ (place.data.shots), place.hole.number), {
    lie: last.body.lie,
    distance_yd: last.body.distance_yd,
    provisional: true,
  });
}

/** An extra ball, from the spot of the last shot or from another one. @param {Place} place @param {boolean} sameSpot */
export function playExtra(place, sameSpot) {
  const last = lastShot(place);
  const spot =
    sameSpot && last
      ? { lie: last.body.lie, distance_yd: last.body.distance_yd }
      : { lie: place.draft.lie, distance_yd: place.draft.distance_yd };
  turnByTap(place, nextBall(/** @type {any} */ (place.data.shots), place.hole.number), { ...spot, provisional: false });
}

/**
 * A duel: the other club was hit from the spot of the last shot, with a ball of its own, whose finish is entered next.
 * @param {Place} place @param {string} clubId
 */
export async function playDuel(place, clubId) {
  const last = lastShot(place);
  if (!last) return;
  const { hole, lie, distance_yd } = last.body;
  const ball = nextBall(/** @type {any} */ (place.data.shots), hole);
  const body = {
    round_id: place.round_id,
    hole,
    ball,
    lie,
    distance_yd,
    club_id: clubId,
    holed: false,
    at: iso(Date.now()),
  };
  const recordId = crypto.randomUUID();
  const saved = await writeHole(place, `Hole ${hole}: duel saved`, (records) =>
    addShot(records, recordId, /** @type {any} */ (body)),
  );
  if (saved) place.turnTo(ball);
}

/** An extra ball went in with its last shot; back to ball 1. @param {Place} place */
export async function extraWentIn(place) {
  const last = lastShot(place);
  if (!last) return;
  const saved = await writeHole(place, `Hole ${place.hole.number}: holed`, (records) =>
    editShot(records, last.record_id, { holed: true, picked_up: false, end_lie: null, end_distance_yd: null }),
  );
  if (saved) place.turnTo(1);
}

/**
 * The ball is picked up where the entry says it lies, or with no end known.
 * @param {Place} place @param {boolean} known
 */
export async function pickUpBall(place, known) {
  const { lie, distance_yd: yards } = place.draft;
  const end = known && yards !== null ? { lie, distance_yd: yards } : null;
  const saved = await writeHole(
    place,
    `Hole ${place.hole.number}: picked up`,
    (records) => pickUp(records, place.hole.number, place.ball, end),
    () => turnOn(place),
  );
  if (saved && place.ball !== 1) place.turnTo(1);
}

/** The question of a provisional ball: what became of the first? @param {Place} place @param {number} ball */
export function settleProvisional(place, ball) {
  const into = async (/** @type {string} */ reason) => {
    await writeHole(place, `Hole ${place.hole.number}: provisional in play`, (records) =>
      bringProvisionalIntoPlay(records, place.hole.number, ball, reason),
    );
    place.turnTo(1);
  };
  return h(
    'div',
    { class: 'notice provisional', role: 'group', 'aria-label': 'The first ball' },
    h('p', null, 'Provisional played. The first ball is:'),
    h(
      'div',
      { class: 'choices' },
      button('found', () => place.turnTo(1), { class: 'choice', id: 'first-found' }),
      button('lost', () => into(LOST), { class: 'choice', id: 'first-lost' }),
      button('out of bounds', () => into(OUT_OF_BOUNDS), { class: 'choice', id: 'first-out' }),
    ),
  );
}
