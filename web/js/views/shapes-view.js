/** Whether the planned shape is the one that comes, club by club. */
import { h } from '../ui/elements.js';
import { method } from '../ui/fold.js';
import { queryOf } from './address.js';
import { lengthsIn } from './lengths.js';
import { shapesAnswer, shapesMethod, shapesTables } from './shapes.js';

export const name = 'Shapes';

/** The patterns of the full bag. @param {import('./page.js').Context} context @returns {string} */
export function bagPath({ player, filters: { source, from, to, kind, course } }) {
  return `/api/players/${encodeURIComponent(player)}/patterns${queryOf([
    ['source', source],
    ['from', from],
    ['to', to],
    ['kind', kind],
    ['course', course],
  ])}`;
}

/** @param {import('./page.js').Context} context */
export function paths(context) {
  return { needed: [bagPath(context)] };
}

/** @param {import('./asking.js').Answer[]} answers @param {import('./page.js').Context} context */
export function build([bag], context) {
  const { shapes, level } = bag.value;
  if (!shapes.length)
    return [
      h('p', { class: 'empty' }, 'No shape was planned in these shots.'),
      h('p', null, 'Record the planned and the actual shape with a shot: a tap on it shows both.'),
    ];
  return [
    ...shapesAnswer(shapes, level, lengthsIn(context.units)),
    shapesTables(shapes, level, true),
    method(shapesMethod()),
  ];
}
