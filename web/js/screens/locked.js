/** What stands in the place of evidence while a competition round is open. */
import { h } from './elements.js';

export const LOCK_WORDS =
  'During a competition round the rules allow noting shots for later, but no device that recommends a line or a club (rule 4.3a). Strokes gained, patterns, trials and plans stay locked until the round is closed.';

/**
 * @param {import('../session.js').Session} _session @param {import('../store/store.js').StoredRecord} round
 * @returns {import('../routes.js').Drawn}
 */
export function lockedScreen(_session, round) {
  return {
    title: 'Locked',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Locked until the round is closed'),
      h('p', null, LOCK_WORDS),
      h('p', null, "The Committee's local rules come first."),
      h('p', null, h('a', { class: 'button', href: `#/round/${round.record_id}/card` }, 'To the open round')),
    ),
  };
}
