/** A hole mapped by walking: stand at a corner, mark it, and the map grows. Works without a network. */
import { holeStrip } from '../charts/hole-strip.js';
import { MOST_WALKED, nameOf, walkedMap } from '../game/walked-map.js';
import { greenOf } from '../game/greens.js';
import { MOST_ACCURACY_M, isUsable } from '../game/positions.js';
import { fromYards } from '../game/units.js';
import { button, choices, h } from '../ui/elements.js';
import { askPosition } from '../ui/position.js';
import { HOLES, styleSheet } from '../ui/style-sheet.js';
import { counted } from '../ui/words.js';
import { courseOf, longestHoles, mapsOf } from './course-records.js';
import { draftNotice } from './draft-notice.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../game/walked-map.js').Walked} Walked @typedef {{shapes: Walked[], at: string}} Entered `at`: what the player stands at */

const PLACES = /** @type {[string, string][]} */ ([
  ['tee', 'tee'],
  ['green', 'green'],
  ['fairway-left', 'fairway, left'],
  ['fairway-right', 'fairway, right'],
  ['bunker', 'bunker'],
  ['lateral_water_hazard', 'red water'],
  ['water_hazard', 'yellow water'],
]);
const HINTS = /** @type {Record<string, string>} */ ({
  tee: 'One mark on the tee will do.',
  green: 'Walk around its edge: three corners or more. One mark in the middle will do to begin with.',
  bunker: 'One mark in the middle, or its corners.',
  lateral_water_hazard: 'Its corners, or two places on the edge towards the hole.',
  water_hazard: 'Its corners, or two places on the edge towards the hole.',
});
const EDGE = 'Places on this edge, from the tee to the green.';

/** @param {Session} session @param {string} courseId @param {string} number @returns {Promise<import('../routes.js').Drawn>} */
export async function holeWalkScreen(session, courseId, number) {
  await styleSheet(HOLES);
  const course = await courseOf(session, courseId);
  const hole = longestHoles(course).find((one) => one.number === Number(number));
  if (!hole) throw new Error(`${course.name} has no hole ${number}`);
  const records = (await mapsOf(session, courseId)).get(hole.number) ?? [];
  const record = records[records.length - 1] ?? null;
  const empty = () => ({ shapes: structuredClone(record?.body.walk ?? []), at: 'tee' });
  const player = /** @type {string} */ (session.playerId);
  const draft = await session.drafts.open(player, `walk ${courseId} ${hole.number}`, courseId, empty, record?.head);
  const entered = /** @type {Entered} */ (draft.value);
  const notice = draftNotice(session, draft);
  const unit = session.units === 'metres' ? 'm' : 'yd';
  const back = `courses/${courseId}/map/${hole.number}`;
  const page = h('div', { class: 'page' });
  const status = h('p', { class: 'hint', id: 'walk-said', role: 'status' });
  let asking = false;
  const draw = () => {
    const focused = document.activeElement?.id;
    const map = walkedMap(entered.shapes, record?.body ?? null);
    const strip = h('div', { class: 'strip-holder', id: 'walk-drawing' });
    const green = greenOf(map.features);
    const long = green ? `${Math.round(fromYards(Math.hypot(...green.middle), unit))} ${unit}` : '';
    if (green) holeStrip(strip, map.features, unit, `Hole ${hole.number} as it was walked, ${long} to the green`);
    const card = `${Math.round(fromYards(hole.length_yd, unit))} ${unit}`;
    const parts = [
      notice,
      h('h1', null, `Hole ${hole.number}: map by walking`),
      h(
        'p',
        { class: 'hint' },
        'Walk to a place and tap “Mark here”. Tee and green make a map; add the rest as you pass it.',
      ),
      h('div', { class: 'map-head' }, strip),
      green ? h('p', { id: 'walk-length' }, `Tee to the middle of the green: ${long}. On the card: ${card}.`) : null,
      map.faults.length
        ? h(
            'ul',
            { class: 'notice', id: 'walk-faults' },
            map.faults.map((one) => h('li', null, sentence(one))),
          )
        : null,
      standing(entered, draw),
      status,
      walkedList(entered, draw),
    ];
    page.replaceChildren(...parts.filter((one) => one !== null));
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  };
  draw();
  const mark = async () => {
    if (asking) return;
    asking = true;
    status.textContent = 'Asking for the position…';
    const { at } = entered;
    const found = await askPosition();
    asking = false;
    if ('words' in found)
      status.textContent = found.words.replace('Type the distance.', 'Try again, or map the hole by numbers.');
    else if (!isUsable(found.position))
      status.textContent = `Accuracy ±${Math.ceil(found.position[2])} m: not marked, it takes ±${MOST_ACCURACY_M} m or better.`;
    else {
      const shape = shapeOf(entered, at);
      if (!shape || shape.corners.length >= MOST_WALKED)
        status.textContent = `A map takes ${MOST_WALKED} shapes of ${MOST_WALKED} corners.`;
      else {
        shape.corners.push(found.position);
        status.textContent = `Marked: ${nameOf(entered.shapes, entered.shapes.indexOf(shape))}, ±${Math.ceil(found.position[2])} m.`;
        session.drafts.soon();
      }
      draw();
    }
  };
  const save = async () => {
    const map = walkedMap(entered.shapes, record?.body ?? null);
    if (map.faults.length || !map.frame) {
      session.frame?.alert(`Not saved. ${map.faults.map(sentence).join(' ')}`);
      return;
    }
    const shapes = entered.shapes.filter((one) => one.corners.length);
    const body = {
      ...record?.body,
      course_id: courseId,
      hole: hole.number,
      features: map.features,
      frame: map.frame,
      walk: shapes,
    };
    const others = records
      .slice(0, -1)
      .map((/** @type {any} */ one) => ({ record_id: one.record_id, kind: 'hole_map', body: null }));
    const edits = [
      { record_id: record?.record_id ?? crypto.randomUUID(), kind: 'hole_map', body, ...draft.parents },
      ...others,
    ];
    if (await session.write(null, () => ({ edits, words: `Map of hole ${hole.number} saved` }), draft))
      session.frame?.go(back);
  };
  const bar = h(
    'div',
    { class: 'actions three' },
    button('Back', () => session.frame?.go(back), { class: 'act', id: 'walk-back' }),
    button('Save', save, { class: 'act', id: 'save-walk' }),
    button('Mark here', mark, { class: 'act strong', id: 'mark-here' }),
  );
  return { title: `Hole ${hole.number}, map by walking`, still: true, content: page, bar };
}

/** @param {string} words */
const sentence = (words) => `${words[0].toUpperCase()}${words.slice(1)}`;

/** The shape that a mark belongs to: the last of its kind, made when there is none. @param {Entered} entered @param {string} at @returns {Walked|null} */
function shapeOf({ shapes }, at) {
  const [golf, side] = /** @type {[string, 'left'|'right'|undefined]} */ (at.split('-'));
  const found = shapes.filter((one) => one.golf === golf && (one.side ?? undefined) === side).at(-1);
  if (found) return found;
  if (shapes.length >= MOST_WALKED) return null;
  shapes.push({ golf, side: side ?? null, corners: [] });
  return shapes[shapes.length - 1];
}

/** @param {Entered} entered @param {() => void} draw */
function standing(entered, draw) {
  const { at, shapes } = entered;
  const last = shapes.filter((one) => one.golf === at).at(-1);
  const several = at === 'bunker' || at.endsWith('water_hazard');
  const fresh = () => {
    shapes.push({ golf: at, side: null, corners: [] });
    draw();
  };
  return h(
    'section',
    null,
    h('h2', null, 'You are at'),
    choices(
      'You are at',
      PLACES,
      at,
      (chosen) => {
        entered.at = chosen ?? at;
        draw();
      },
      { id: 'walk-at' },
    ),
    h('p', { class: 'hint' }, HINTS[at] ?? EDGE),
    several && last?.corners.length && shapes.length < MOST_WALKED
      ? button(`Another ${PLACES.find(([key]) => key === at)?.[1]}`, fresh, { id: 'walk-another' })
      : null,
  );
}

/** @param {Entered} entered @param {() => void} draw */
function walkedList({ shapes }, draw) {
  const back = (/** @type {number} */ place) => {
    shapes[place].corners.pop();
    if (!shapes[place].corners.length) shapes.splice(place, 1);
    draw();
  };
  return h(
    'ul',
    { class: 'list', id: 'walked', 'aria-label': 'Marked' },
    shapes.map(({ corners }, place) =>
      h(
        'li',
        { class: 'list-row' },
        h(
          'span',
          { class: 'list-main' },
          sentence(nameOf(shapes, place)),
          h(
            'span',
            { class: 'list-under' },
            corners.length
              ? `${counted(corners.length, 'mark')}, ±${Math.ceil(Math.max(...corners.map((corner) => corner[2] ?? 0)))} m`
              : 'no mark yet',
          ),
        ),
        button('Delete last', () => back(place), { 'aria-label': `Delete the last mark of ${nameOf(shapes, place)}` }),
      ),
    ),
  );
}
