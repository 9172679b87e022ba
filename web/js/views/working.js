/** How far a long answer is, and a button that stops it. It shows only while there is progress. */
import { button, h } from '../ui/elements.js';

/**
 * @param {string} words what is worked out @param {string} [id] of the button
 * @returns {{element: HTMLElement, waiting: import('./asking.js').Waiting, end: () => void}} `waiting`: for `askEach`
 */
export function working(words, id = 'stop-working') {
  const stop = new AbortController();
  const bar = h('progress', { max: '1', value: '0', 'aria-label': words });
  const share = h('span', { class: 'working-share' });
  const element = h(
    'div',
    { class: 'working no-print', hidden: true },
    h('p', { role: 'status' }, words),
    bar,
    share,
    button('Stop', () => stop.abort(), { id }),
  );
  return {
    element,
    waiting: {
      stopped: stop.signal,
      done(part) {
        element.hidden = false;
        bar.value = part;
        share.textContent = `${Math.round(100 * part)} %`;
      },
    },
    end: () => element.remove(),
  };
}
