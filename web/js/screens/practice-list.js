/** The balls of a session as a list; a long one in parts, so that drawing it stays quick. */
import { button, h } from '../ui/elements.js';
import { ballSheet } from './practice-ball.js';
import { ballWords } from './practice-data.js';

/** @typedef {import('../game/practice.js').BallRecord} BallRecord */

const ROWS_AT_ONCE = 300;

/**
 * @param {import('./practice-ball.js').OfSession} of @param {BallRecord[]} balls in the order in which they are listed
 * @param {(id: string) => string} label of a club
 * @returns {{element: HTMLElement, add: (ball: BallRecord) => void}} `add` puts a ball first and leaves the others alone
 */
export function ballList(of, balls, label) {
  const list = h('ol', { class: 'balls-hit', 'aria-label': 'Balls of this session' });
  const more = h('div');
  let shown = 0;
  const showMore = () => {
    list.append(...balls.slice(shown, shown + ROWS_AT_ONCE).map((ball) => ballRow(of, ball, label)));
    shown = Math.min(shown + ROWS_AT_ONCE, balls.length);
    more.replaceChildren(
      ...(shown < balls.length
        ? [button(`Show more, ${shown} of ${balls.length} are shown`, showMore, { class: 'wide', id: 'more-balls' })]
        : []),
    );
  };
  showMore();
  return { element: h('div', null, list, more), add: (ball) => list.prepend(ballRow(of, ball, label)) };
}

/** @param {import('./practice-ball.js').OfSession} of @param {BallRecord} ball @param {(id: string) => string} label */
function ballRow(of, { record_id: id, body }, label) {
  const { tried, came } = ballWords(body, label, of.session.units);
  return h(
    'li',
    null,
    button(
      [
        h('span', { class: 'shot-number' }, body.order),
        h('span', { class: 'shot-words' }, tried, h('span', { class: 'shot-told' }, came)),
        body.duel_id ? h('span', { class: 'shot-value' }, 'duel') : null,
      ],
      () => ballSheet(of, id),
      { class: 'shot', 'aria-label': `Ball ${body.order}: ${tried}: ${came}. Change or delete it` },
    ),
  );
}
