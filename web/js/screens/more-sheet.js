/** Everything that is not a plain hit: penalty, provisional, extra ball, pick up. */
import { REASONS, WAYS_ON } from '../game/penalties.js';
import { PRACTICE } from '../game/shot.js';
import { spoken } from '../game/units.js';
import { button, h, sheet } from '../ui/elements.js';
import { lastShot, pickUpBall, playExtra, playProvisional, takePenalty } from './play-actions.js';
import { labels } from './round-data.js';
import { shotSheet } from './shot-sheet.js';
import { REASON_WORDS } from '../ui/words.js';

/** @typedef {import('./play.js').Place} Place */

/** @param {Place} place */
export function moreSheet(place) {
  const last = lastShot(place);
  const units = place.session.units;
  const shotWords = last
    ? `Shot ${last.body.order}: ${labels(place.data.clubs)(last.body.club_id)} from ${last.body.lie} ${spoken(last.body.distance_yd, last.body.lie, units)}`
    : '';
  let reason = /** @type {string|null} */ (null);
  sheet('More', (redraw, close) => {
    const act = (/** @type {() => any} */ work) => () => {
      close();
      work();
    };
    if (reason) return waysOn(place, reason, shotWords, act);
    const choose = (/** @type {string} */ chosen) => () => {
      reason = chosen;
      redraw();
    };
    return [
      last
        ? penalties(shotWords, last.body, choose)
        : h('p', null, 'Tap Hit first; a penalty, a second ball or picking up comes after the shot.'),
      balls(place, last, act),
    ];
  });
}

/** @param {string} shotWords @param {any} shot @param {(reason: string) => () => void} choose */
function penalties(shotWords, shot, choose) {
  if (shot.holed) return h('p', null, `${shotWords} was holed.`);
  return h(
    'section',
    null,
    h('h3', null, 'Penalty'),
    h('p', { class: 'hint' }, `${shotWords}. What happened to it?`),
    h(
      'div',
      { class: 'choices' },
      REASONS.map((reason) =>
        button(REASON_WORDS[reason], choose(reason), { class: 'choice', id: `penalty-${reason}` }),
      ),
    ),
  );
}

/**
 * @param {Place} place @param {string} reason @param {string} shotWords @param {(work: () => any) => () => void} act
 */
function waysOn(place, reason, shotWords, act) {
  const last = lastShot(place);
  const fromSand = place.draft.lie === 'sand' || last?.body.lie === 'sand';
  return [
    h('p', null, `${shotWords}: ${REASON_WORDS[reason]}. Where is the next one played?`),
    h(
      'ul',
      { class: 'list' },
      WAYS_ON[reason]
        .filter((way) => !way.from_sand || fromSand)
        .map((way) =>
          h(
            'li',
            null,
            button(
              [
                h('span', { class: 'list-main' }, way.words),
                h('span', { class: 'list-side' }, `${way.strokes ? `+${way.strokes}` : 'no stroke'} · ${way.rule}`),
              ],
              act(() => takePenalty(place, reason, way)),
              { class: 'list-row', id: `way-${way.name}` },
            ),
          ),
        ),
    ),
    h(
      'p',
      { class: 'hint' },
      "The Committee's local rules come first; in doubt play two balls where the rules allow it and ask.",
    ),
  ];
}

/** @param {Place} place @param {any} last @param {(work: () => any) => () => void} act */
function balls(place, last, act) {
  const done = last?.body.holed || last?.body.picked_up;
  const practice = place.data.round.body.kind === PRACTICE;
  const { lie, distance_yd: yards } = place.draft;
  const where = yards === null ? null : `${lie} ${spoken(yards, lie, place.session.units)}`;
  const row = (/** @type {string} */ id, /** @type {string} */ words, /** @type {() => any} */ work) =>
    h('li', null, button(words, act(work), { class: 'list-row', id }));
  return h(
    'section',
    null,
    h('h3', null, 'Balls'),
    h(
      'ul',
      { class: 'list' },
      last && !done && place.ball === 1
        ? row('provisional', 'Provisional ball (rule 18.3)', () => playProvisional(place))
        : null,
      practice && last ? row('extra-same', 'Extra ball from the same spot', () => playExtra(place, true)) : null,
      practice ? row('extra-other', 'Extra ball from another spot', () => playExtra(place, false)) : null,
      last && !done && where ? row('pick-up', `Pick up the ball: ${where}`, () => pickUpBall(place, true)) : null,
      last && !done
        ? row('pick-up-unknown', 'Pick up the ball: lie and distance not known', () => pickUpBall(place, false))
        : null,
      last
        ? row('details', `Details of shot ${last.body.order}: shape, height, strike, finish, note`, () =>
            shotSheet(place, last.record_id),
          )
        : null,
    ),
    practice ? null : h('p', { class: 'hint' }, 'Extra balls are for practice rounds only (rule 5.5).'),
  );
}
