/** Marking the ball and the hole by position, and the distances that follow. Distances alone: no slope, no wind, no club (rule 4.3a). */
import { GREEN } from '../game/lies.js';
import { defaultUnit, fromYards } from '../game/units.js';
import { button, h } from '../ui/elements.js';
import { askPosition } from '../ui/position.js';
import { part } from '../ui/parts.js';
import { markBall, withGuessedClub } from './draft.js';
import { mapsOf } from './course-records.js';
import { guardOf } from './tap-guard.js';

/** @typedef {import('./play.js').Place} Place @typedef {import('../game/positions.js').Figures} Figures */

const reckoning = () => part(() => import('../game/positions.js'));
const earth = () => part(() => import('../game/geodesy.js'));

/** @param {Place} place @param {() => void} draw @returns {HTMLElement|null} */
export function positionPart(place, draw) {
  const { session, draft } = place;
  if (session.positionOff) return null;
  const said = session.state.position;
  const asking = Boolean(said?.asking);
  const words = said && (asking || said.key === draft.key) ? said.words : '';
  const redraw = () => {
    draw();
    const main = document.getElementById('main');
    if (main) main.scrollTop = main.scrollHeight; // what was found, and the clubs below it
  };
  return h(
    'div',
    { class: 'position', role: 'group', 'aria-label': 'Position' },
    h(
      'div',
      { class: 'row' },
      isOnGreen(draft)
        ? null
        : button(draft.position ? 'Ball marked' : 'Mark ball', () => ball(place, redraw), {
            id: 'mark-ball',
            'aria-disabled': asking ? 'true' : null,
          }),
      session.caddying // the holes of the round are the player's own to change
        ? null
        : button(flagOf(place) ? 'Hole marked' : 'Mark hole', () => hole(place, redraw), {
            id: 'mark-hole',
            'aria-disabled': asking ? 'true' : null,
          }),
    ),
    h(
      'div',
      { class: 'position-words', id: 'position-words', role: 'status' },
      words ? h('p', null, words) : null,
      draft.position && draft.lie !== GREEN ? marked(place) : null,
    ),
  );
}

/** Whether the ball lies on the green, and is not only guessed to. @param {import('./draft.js').Draft} draft */
function isOnGreen({ lie, guessed, lie_chosen: chosen }) {
  return lie === GREEN && (Boolean(chosen) || !guessed);
}

/** Where the hole was marked in this round. @param {Place} place @returns {import('../game/geodesy.js').Position|null} */
function flagOf({ hole: { flag } }) {
  return flag ?? null;
}

/** @param {number|undefined} metres */
const within = (metres) => (metres === undefined ? '' : `±${Math.ceil(metres)} m`);

/** @param {Place} place what follows from where the ball was marked */
function marked({ draft, session }) {
  const figures = draft.figures ?? null;
  const accuracy = within(draft.position?.[2]);
  if (!figures)
    return h(
      'p',
      null,
      `Ball marked, ${accuracy}. This hole has no map with its place on the earth: type the distance.`,
    );
  const unit = defaultUnit('fairway', session.units);
  const shown = (/** @type {number} */ yards) => Math.round(fromYards(yards, unit));
  const { green, between, to } = figures;
  const middle = to === 'flag' && green ? `middle ${shown(green.middle)}, ` : '';
  const near = green ? `, front ${shown(green.front)}, ${middle}back ${shown(green.back)}` : '';
  const trouble = between.map(
    ({ kind, side, reach_yd, carry_yd }) =>
      `${kind} ${side} ${shown(reach_yd)}${carry_yd === null ? ' and on' : `–${shown(carry_yd)}`}`,
  );
  return [
    h('p', null, `${to === 'flag' ? 'Flag' : 'Green'} ${shown(figures.hole_yd)}${near} ${unit}, ${accuracy}`),
    trouble.length ? h('p', { id: 'trouble-ahead' }, `Reach–carry: ${trouble.join(', ')}`) : null,
  ];
}

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
  const here = await reckoning().catch((/** @type {Error} */ error) => error);
  if (here instanceof Error) {
    say(`${here.message} Type the distance.`);
    return null;
  }
  const { isUsable, MOST_ACCURACY_M } = here;
  if (!isUsable(found.position)) {
    say(
      `Accuracy ${within(found.position[2])}: not used, it takes ±${MOST_ACCURACY_M} m or better. Type the distance.`,
    );
    return null;
  }
  if (place.draft.key !== draft.key) {
    say('');
    return null;
  }
  say('');
  return found.position;
}

/** The hole's map where it lies on the earth. @param {Place} place @returns {Promise<import('../game/positions.js').EarthMap|null>} */
export async function earthMap({ session, data, hole: { number } }) {
  const courseId = data.round.body.course_id;
  const records = courseId ? ((await mapsOf(session, courseId)).get(number) ?? []) : [];
  const body = records[records.length - 1]?.body;
  const frame = (await earth()).frameOf(body);
  return frame && { features: body.features, frame };
}

/** Where balls were marked on this hole. @param {Place} place @returns {import('../game/geodesy.js').Position[]} */
function markedOn({ data, hole, draft }) {
  const shots = data.shots.map(({ body }) => body).filter((shot) => shot.hole === hole.number);
  return [...shots, draft].flatMap(({ position }) => (position ? [position] : []));
}

/** @param {Place} place @param {() => void} redraw */
async function ball(place, redraw) {
  const { key } = place.draft;
  const { session } = place;
  guardOf(session).touched(place.entry);
  const position = await asked(place, redraw);
  if (!position) return;
  const [map, { figuresFrom, isElsewhere, lieOffGreen }] = await Promise.all([earthMap(place), reckoning()]);
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
  }
  place.draft = withGuessedClub(markBall(draft, position, figures, place.hole.par), place.at);
  session.drafts.soon();
  redraw();
}

/** The hole is where the player stands: kept for this hole of this round. @param {Place} place @param {() => void} redraw */
async function hole(place, redraw) {
  const { session, round_id: roundId } = place;
  guardOf(session).touched(place.entry);
  const position = await asked(place, redraw);
  if (!position) return;
  const { key } = place.draft;
  const [map, { isElsewhere }] = await Promise.all([earthMap(place), reckoning()]);
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
