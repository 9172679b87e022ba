/** Marking the ball and the hole by position: the buttons, and the distances that follow. Distances alone: no slope, no wind, no club (rule 4.3a). */
import { GREEN } from '../game/lies.js';
import { defaultUnit, fromYards } from '../game/units.js';
import { button, h } from '../ui/elements.js';
import { part } from '../ui/parts.js';
import { mapsOf } from './course-records.js';
import { guardOf } from './tap-guard.js';

/** @typedef {import('./play.js').Place} Place @typedef {import('../game/positions.js').Figures} Figures */

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
    keepInSight();
  };
  const mark = async (/** @type {'ball'|'hole'} */ what) => {
    guardOf(session).touched(place.entry);
    try {
      await (await part(() => import('./play-marking.js')))[what](place, redraw);
    } catch (error) {
      session.state.position = {
        key: draft.key,
        words: `${/** @type {Error} */ (error).message} Type the distance.`,
        asking: false,
      };
      redraw();
    }
  };
  return h(
    'div',
    { class: 'position', role: 'group', 'aria-label': 'Position' },
    h(
      'div',
      { class: 'row' },
      isOnGreen(draft)
        ? null
        : button(draft.position ? 'Ball marked' : 'Mark ball', () => mark('ball'), {
            id: 'mark-ball',
            'aria-disabled': asking ? 'true' : null,
          }),
      session.caddying // the holes of the round are the player's own to change
        ? null
        : button(flagOf(place) ? 'Hole marked' : 'Mark hole', () => mark('hole'), {
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

/** What was found and the clubs below it; but the distance that was filled in comes first. */
function keepInSight() {
  const main = document.getElementById('main');
  const figure = document.querySelector('.distance-row');
  const head = document.querySelector('.hole-head');
  if (!main || !figure || !head) return;
  main.scrollTop = main.scrollHeight;
  main.scrollTop -= Math.max(0, head.getBoundingClientRect().bottom - figure.getBoundingClientRect().top);
}

/** Whether the ball lies on the green, and is not only guessed to. @param {import('./draft.js').Draft} draft */
export function isOnGreen({ lie, guessed, lie_chosen: chosen }) {
  return lie === GREEN && (Boolean(chosen) || !guessed);
}

/** Where the hole was marked in this round. @param {Place} place @returns {import('../game/geodesy.js').Position|null} */
export function flagOf({ hole: { flag } }) {
  return flag ?? null;
}

/** @param {number|undefined} metres */
export const within = (metres) => (metres === undefined ? '' : `±${Math.ceil(metres)} m`);

/** @param {Place} place what follows from where the ball was marked */
function marked({ draft, session }) {
  const figures = draft.figures ?? null;
  const accuracy = within(draft.position?.[2]);
  if (!figures) return h('p', null, `Ball marked, ${accuracy}. No map of this hole has positions: type the distance.`);
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

/** The hole's map where it lies on the earth. @param {Place} place @returns {Promise<import('../game/positions.js').EarthMap|null>} */
export async function earthMap({ session, data, hole: { number } }) {
  const courseId = data.round.body.course_id;
  const records = courseId ? ((await mapsOf(session, courseId)).get(number) ?? []) : [];
  const body = records[records.length - 1]?.body;
  const frame = (await earth()).frameOf(body);
  return frame && { features: body.features, frame };
}
