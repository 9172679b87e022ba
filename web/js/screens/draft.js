/** The shot about to be played: pencilled in from the last shot, corrected by taps, until it is hit. */
import { guessClub, nextSpot, withLie } from '../game/guess.js';
import { recordsOfBall } from '../game/hole-edits.js';
import { GREEN, TEE } from '../game/lies.js';
import { FARTHEST_ON_GREEN_YD, FARTHEST_YD } from '../game/ranges.js';
import { fromYards, toYards, defaultUnit } from '../game/units.js';

const UNKNOWN_DISTANCE_YD = 150;

/**
 * `guessed`: the distance is still a guess. `typed`: the digits of the entry that is going on. `club_chosen`: by hand.
 * @typedef {object} Draft
 * @property {string} key @property {string} lie @property {number|null} distance_yd null: to be typed @property {string|null} club_id
 * @property {boolean} guessed @property {string} typed @property {boolean} club_chosen @property {number|null|undefined} off_green
 * @property {boolean} provisional
 * @property {import('../game/geodesy.js').Position} [position] where the ball was marked @property {import('../game/positions.js').Figures|null} [figures] from there
 * @property {boolean} [lie_chosen] by hand
 */

/**
 * The draft for a ball on a hole; the one at hand stays as long as nothing on that ball has changed.
 * @param {Draft|undefined} current @param {object} at
 * @param {import('../log/store.js').StoredRecord[]} at.shots of the round @param {import('../game/shot.js').Hole} at.hole
 * @param {number} at.ball @param {string} at.round_id @param {import('../log/store.js').StoredRecord[]} at.bag
 * @param {Map<string, {yards: number}>} at.stock @param {boolean} at.guess_club
 * @param {import('./play-trial.js').TrialOfHole|null} at.trial
 * @param {{lie: string, distance_yd: number|null, provisional: boolean}|null} at.start of a ball that has no shot yet
 * @returns {Draft}
 */
export function draftFor(current, at) {
  const played = recordsOfBall(at.shots, at.hole.number, at.ball);
  const last = played[played.length - 1];
  const key = [at.round_id, at.hole.number, at.ball, played.length, last?.head ?? ''].join(' ');
  if (current?.key === key && (!current.club_id || at.bag.some((club) => club.record_id === current.club_id)))
    return current;
  const spot = last
    ? nextSpot(last.body, at.stock.get(last.body.club_id)?.yards ?? UNKNOWN_DISTANCE_YD)
    : firstSpot(at);
  const draft = {
    key,
    lie: spot.lie,
    distance_yd: spot.distance_yd,
    club_id: null,
    guessed: Boolean(last) && spot.distance_yd !== null,
    typed: '',
    club_chosen: false,
    off_green: last && last.body.lie !== GREEN ? undefined : spot.distance_yd,
    provisional: last ? Boolean(last.body.provisional) : Boolean(at.start?.provisional),
  };
  return withGuessedClub(draft, at);
}

/** @param {any} at */
function firstSpot(at) {
  return at.start ?? { lie: TEE, distance_yd: at.hole.length_yd };
}

/** @param {Draft} draft @param {any} at @returns {Draft} */
export function withGuessedClub(draft, at) {
  if (draft.club_chosen) return draft;
  const guess = at.guess_club ? guessClub(at.bag, at.stock, draft, at.hole.par) : null;
  const tried = at.trial?.clubs.some((/** @type {{id: string}} */ club) => club.id === guess);
  return { ...draft, club_id: tried ? at.trial.next : guess }; // of clubs on trial the hole's own
}

/** @param {Draft} draft @param {string} lie @returns {Draft} */
export function tapLie(draft, lie) {
  const spot = withLie(draft, lie, draft.off_green ?? undefined);
  const offGreen = draft.lie === GREEN ? draft.off_green : draft.distance_yd;
  return {
    ...draft,
    ...spot,
    off_green: offGreen,
    lie_chosen: true,
    typed: '',
    club_chosen: lie === GREEN || draft.lie === GREEN ? false : draft.club_chosen,
  };
}

/** The largest number that can be entered. @param {string} lie @param {string} unit @returns {number} */
function largest(lie, unit) {
  return Math.floor(fromYards(lie === GREEN ? FARTHEST_ON_GREEN_YD : FARTHEST_YD, /** @type {any} */ (unit)) + 1e-9);
}

/**
 * A digit: the first starts a new number, the next ones follow, and a number that would be too large starts over.
 * @param {Draft} draft @param {string} digit @param {'yards'|'metres'|undefined} units @returns {Draft}
 */
export function tapDigit(draft, digit, units) {
  const unit = defaultUnit(draft.lie, units);
  let typed = draft.typed + digit;
  if (Number(typed) > largest(draft.lie, unit)) typed = digit;
  if (Number(typed) === 0) return { ...draft, typed: '' };
  return { ...draft, typed, distance_yd: toYards(Number(typed), unit), guessed: false };
}

/** A length by one tap. @param {Draft} draft @param {number} feet @returns {Draft} */
export function tapLength(draft, feet) {
  return { ...draft, typed: '', distance_yd: feet / 3, guessed: false };
}

/** @param {Draft} draft @param {number} step @param {'yards'|'metres'|undefined} units @returns {Draft} */
export function tapStep(draft, step, units) {
  const unit = defaultUnit(draft.lie, units);
  const now = (draft.distance_yd === null ? 0 : Math.round(fromYards(draft.distance_yd, unit))) + step;
  const bounded = Math.min(Math.max(now, 1), largest(draft.lie, unit));
  return { ...draft, typed: '', distance_yd: toYards(bounded, unit), guessed: false };
}

/**
 * The ball was marked. The distance follows it where it is known, but not from a long hole's tee: there the card's length is that of the
 * way that is played. @param {Draft} draft @param {import('../game/geodesy.js').Position} position
 * @param {import('../game/positions.js').Figures|null} figures @param {number} par @returns {Draft}
 */
export function markBall(draft, position, figures, par) {
  const marked = { ...draft, position, figures };
  if (!figures || (draft.lie === TEE && par > 3)) return marked;
  return { ...marked, typed: '', distance_yd: figures.hole_yd, guessed: false };
}

/** Starts the number over: the next digit is its first. @param {Draft} draft @returns {Draft} */
export function tapAgain(draft) {
  return { ...draft, typed: '', guessed: draft.distance_yd !== null };
}
