/** The maps of a course: every hole with its drawing, or a way to enter it. */
import { addressOf } from '../views/address.js';
import { fromYards } from '../game/units.js';
import { h } from '../ui/elements.js';
import { courseOf, longestHoles, mapsOf } from './course-records.js';
import { holeStrip } from '../charts/hole-strip.js';
import { HOLES, styleSheet } from '../ui/style-sheet.js';
import { counted } from '../ui/words.js';

/** @param {import('../session.js').Session} session @param {string} courseId @returns {Promise<import('../routes.js').Drawn>} */
export async function courseMapsScreen(session, courseId) {
  await styleSheet(HOLES);
  const course = await courseOf(session, courseId);
  const maps = await mapsOf(session, courseId);
  const unit = session.units === 'metres' ? 'm' : 'yd';
  const holes = longestHoles(course);
  const mapped = holes.filter((hole) => maps.has(hole.number));
  const open = holes.find((hole) => !maps.has(hole.number));
  const rows = holes.map((hole) => {
    const found = maps.get(hole.number);
    const features = found?.[found.length - 1].body.features;
    const strip = h('div', { class: 'strip-holder hole-strip' });
    if (features)
      holeStrip(strip, features, unit, `Hole ${hole.number}, from the tee on the left to the green on the right.`, {
        plain: true,
      });
    const under = `par ${hole.par}, ${Math.round(fromYards(hole.length_yd, unit))} ${unit}`;
    return h(
      'li',
      null,
      h(
        'a',
        { class: 'list-row', href: `#/courses/${courseId}/map/${hole.number}`, id: `map-${hole.number}` },
        h('span', { class: 'list-main' }, `Hole ${hole.number}`, h('span', { class: 'list-under' }, under)),
        h('span', { class: 'list-side' }, features ? 'mapped' : 'not mapped yet'),
      ),
      features ? strip : null,
    );
  });
  const plan = mapped.length
    ? h(
        'a',
        {
          class: 'button wide',
          href: `#/${addressOf(/** @type {string} */ (session.playerId), 'plan', { ground: courseId })}`,
          id: 'to-plan',
        },
        'Plan these holes',
      )
    : null;
  return {
    title: `Maps of ${course.name}`,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, `Maps of ${course.name}`),
      h(
        'p',
        null,
        `${mapped.length} of ${counted(holes.length, 'hole')} mapped. A plan needs the map of its hole: widths, trouble and the green, about a minute each.`,
      ),
      h('ul', { class: 'list hole-list' }, rows),
      h(
        'div',
        { class: 'bottom-actions' },
        open
          ? h(
              'a',
              { class: 'button wide strong', href: `#/courses/${courseId}/map/${open.number}`, id: 'next-map' },
              `Map hole ${open.number}`,
            )
          : null,
        plan,
        h('a', { class: 'button wide', href: `#/courses/${courseId}` }, 'To the course'),
      ),
    ),
  };
}
