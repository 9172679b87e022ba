/** Wind and pin of a hole on the play screen: optional, each a tap, saved at once; wind goes on to the next holes. */
import {
  PIN_DEPTHS,
  PIN_SIDES,
  WINDS,
  conditionsByHole,
  pinWords,
  shortWind,
  withConditions,
} from '../game/hole-conditions.js';
import { button, choices, h, sheet } from '../ui/elements.js';
import { windCompass } from './wind-compass.js';

/** @typedef {import('./play.js').Place} Place @typedef {import('../game/hole-conditions.js').HoleConditions} HoleConditions */

/** @type {Record<string, string>} */
const WIND_HINTS = { none: 'to 3 mph', light: '4 to 12', fresh: '13 to 24', strong: 'from 25' };

/** @param {any} body of the round @param {number} hole @returns {HoleConditions} */
function now(body, hole) {
  return conditionsByHole([hole], body.hole_conditions).get(hole) ?? {};
}

/** Par, length and, once recorded, wind and pin: a tap records them. @param {Place} place @param {string} words par and length */
export function conditionsButton(place, words) {
  const recorded = now(place.data.round.body, place.hole.number);
  const short = [shortWind(recorded), pinWords(recorded)].filter(Boolean).join(', ');
  return button(
    [h('span', null, words), h('span', { class: 'conditions-words' }, short || 'wind, pin')],
    () => conditionsSheet(place),
    {
      class: 'quiet conditions',
      id: 'conditions',
      'aria-label': `${words} ${short || 'wind, pin'}: record wind and pin`,
    },
  );
}

/** Wind in one tap before the first shot of a hole, carried on from the hole before. @param {Place} place */
export function windPart(place) {
  const change = (/** @type {HoleConditions} */ tapped) => record(place, notTwice(place, tapped));
  return windCompass('wind-at', now(place.data.round.body, place.hole.number), change);
}

/** The wind that was tapped; none when this hole records the very same: it is taken back. @param {Place} place @param {HoleConditions} tapped @returns {HoleConditions} */
function notTwice({ data, hole }, tapped) {
  const here = (data.round.body.hole_conditions ?? []).find((/** @type {any} */ one) => one.hole === hole.number);
  const same = here?.wind === tapped.wind && (here?.wind_from_deg ?? null) === (tapped.wind_from_deg ?? null);
  return same ? { wind: null, wind_from_deg: null } : tapped;
}

/**
 * Writes to the round as it is at this moment: another tap or device may have changed it since it was drawn.
 * @param {Place} place @param {HoleConditions} change
 */
async function record(place, change) {
  const { session, round_id: roundId, hole } = place;
  const round = await session.store.record(place.data.round.player_id, roundId);
  if (!round || round.deleted) return null;
  const body = { ...round.body, hole_conditions: withConditions(round.body.hole_conditions, hole.number, change) };
  const saved = await session.write(null, () => ({
    edits: [{ record_id: roundId, kind: 'round', body }],
    words: `Hole ${hole.number}: conditions saved`,
  }));
  const left = document.getElementById('wind-at')?.scrollLeft ?? 0;
  await session.frame?.refresh();
  document.getElementById('wind-at')?.scrollTo(left, 0);
  return saved ? body : null;
}

/** @param {Place} place */
function conditionsSheet(place) {
  const { hole } = place;
  let body = place.data.round.body;
  let last = Promise.resolve();
  sheet(`Hole ${hole.number}: wind and pin`, (redraw) => {
    const conditions = now(body, hole.number);
    const set = (/** @type {HoleConditions} */ change) => {
      last = last.then(async () => {
        body = (await record(place, change)) ?? body;
        redraw();
      });
    };
    const clearable = true;
    return [
      windCompass('compass', conditions, (tapped) =>
        set(notTwice({ ...place, data: { ...place.data, round: { ...place.data.round, body } } }, tapped)),
      ),
      h('h3', null, 'Wind, mph'),
      choices(
        'Wind',
        WINDS.map((wind) => [wind, `${wind}, ${WIND_HINTS[wind]}`]),
        conditions.wind,
        (wind) => set({ wind }),
        { id: 'wind', clearable },
      ),
      h('p', { class: 'hint' }, 'Wind carries over to the next holes until you change it.'),
      h('h3', null, 'Pin'),
      choices(
        'Pin, depth',
        PIN_DEPTHS.map((word) => [word, word]),
        conditions.pin_depth,
        (depth) => set({ pin_depth: depth }),
        {
          id: 'pin-depth',
          clearable,
        },
      ),
      choices(
        'Pin, side',
        PIN_SIDES.map((word) => [word, word]),
        conditions.pin_side,
        (side) => set({ pin_side: side }),
        {
          id: 'pin-side',
          clearable,
        },
      ),
      h('p', { class: 'hint' }, 'All of this is optional. Green speed and temperature are with the bag of the round.'),
      place.data.locked
        ? h(
            'p',
            { class: 'hint' },
            'You may record what you see. Nothing is advised from it while a competition round is open. Local rules and the Committee decide what a device may do (rule 4.3a).',
          )
        : null,
    ];
  });
}
