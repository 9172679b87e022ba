/** Where the player stands is asked, and marked as the place of the ball or of the hole: loaded with the first tap on either. */
import { GREEN, TEE } from '../game/lies.js';
import { MOST_ACCURACY_M, figuresFrom, isElsewhere, isUsable, lieOffGreen, lieOn } from '../game/positions.js';
import { askPosition } from '../ui/position.js';
import { markBall, withGuessedClub } from './draft.js';
import { earthMap, flagOf, isOnGreen, within } from './play-position.js';

/** @typedef {import('./play.js').Place} Place */

/**
 * Asks for the position, once: null when there is none to use, and why stands on the screen.
 * @param {Place} place @param {() => void} redraw @returns {Promise<import('../game/geodesy.js').Position|null>}
 */
async function asked(place, redraw) {
  const { session, draft } = place;
  if (session.state.position?.asking) return null;
  const say = (/** @type {string} */ words, asking = false) => {
    session.state.position = { key: draft.key, words, asking };
    redraw();
  };
  say('Asking for the position…', true);
  const found = await askPosition();
  if ('words' in found) {
    say(found.words);
    return null;
  }
  if (!isUsable(found.position)) {
    say(
      `Accuracy ${within(found.position[2])}: not used, it takes ±${MOST_ACCURACY_M} m or better. Type the distance.`,
    );
    return null;
  }
  say('');
  return place.draft.key === draft.key ? found.position : null;
}

/** Where balls were marked on this hole. @param {Place} place @returns {import('../game/geodesy.js').Position[]} */
function markedOn({ data, hole, draft }) {
  const shots = data.shots.map(({ body }) => body).filter((shot) => shot.hole === hole.number);
  return [...shots, draft].flatMap(({ position }) => (position ? [position] : []));
}

/** @param {Place} place @param {() => void} redraw */
export async function ball(place, redraw) {
  const { key } = place.draft;
  const { session } = place;
  const position = await asked(place, redraw);
  if (!position) return;
  const map = await earthMap(place);
  if (place.draft.key !== key || isOnGreen(place.draft)) return; // hit meanwhile, or on the green after all
  const say = (/** @type {string} */ words) => {
    session.state.position = { key, words, asking: false };
    redraw();
  };
  const flag = flagOf(place);
  const figures = figuresFrom(map, flag, position);
  if (!figures && (map || flag || isElsewhere(map, position, markedOn(place)))) {
    say(`This position is not on hole ${place.hole.number}: not used. Type the distance.`);
    return;
  }
  let { draft } = place;
  if (draft.lie === GREEN) {
    const lie = lieOffGreen(map, flag, position);
    if (!lie) {
      say('On or beside the green a position is not used. Tap the lie and type the distance.');
      return;
    }
    draft = { ...draft, lie };
  } else if (draft.lie !== TEE && !draft.lie_chosen) draft = { ...draft, lie: lieOn(map, position) ?? draft.lie };
  place.draft = withGuessedClub(markBall(draft, position, figures, place.hole.par), place.at);
  session.drafts.soon();
  redraw();
}

/** The hole is where the player stands: kept for this hole of this round. @param {Place} place @param {() => void} redraw */
export async function hole(place, redraw) {
  const { session, round_id: roundId } = place;
  const position = await asked(place, redraw);
  if (!position) return;
  const { key } = place.draft;
  const map = await earthMap(place);
  if (isElsewhere(map, position, markedOn(place))) {
    const words = `This position is not on hole ${place.hole.number}: not marked.`;
    session.state.position = { key, words, asking: false };
    redraw();
    return;
  }
  const round = await session.store.record(/** @type {string} */ (session.playerId), roundId);
  if (!round || round.deleted) return;
  const holes = round.body.holes.map((/** @type {any} */ one) =>
    one.number === place.hole.number ? { ...one, flag: position } : one,
  );
  const edits = [{ record_id: roundId, kind: 'round', body: { ...round.body, holes } }];
  await session.write(roundId, () => ({
    edits,
    words: `Hole ${place.hole.number}: flag marked, ${within(position[2])}`,
  }));
  await session.frame?.refresh();
}
