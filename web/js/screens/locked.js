/** What is shown in place of evidence while a competition round is open. */
import { button, h } from '../ui/elements.js';

export const LOCK_WORDS =
  'During a competition round the rules allow recording shots for later, but no device that recommends a line or a club (rule 4.3a). Strokes gained, patterns, trials, plans and notes stay locked until the round is finished.';

/**
 * @param {import('../session.js').Session} session @param {import('../log/store.js').StoredRecord} round
 * @returns {import('../routes.js').Drawn}
 */
export function lockedScreen(session, round) {
  return {
    title: 'Locked',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Locked until the round is finished'),
      h('p', null, LOCK_WORDS),
      h('p', null, "The Committee's local rules come first."),
      round.player_id !== session.playerId
        ? h(
            'p',
            { id: 'caddies-lock' },
            'You enter this round as a caddie: it is locked here for everybody. ',
            h('a', { href: '#/players' }, 'To the players of this phone'),
          )
        : round.deleted
          ? deletedPart(session, round)
          : h('p', null, h('a', { class: 'button', href: `#/round/${round.record_id}/card` }, 'To the open round')),
    ),
  };
}

/**
 * A deleted round locks while shots of it live, which another device had noted: the way out is to have it back.
 * @param {import('../session.js').Session} session @param {import('../log/store.js').StoredRecord} round
 */
function deletedPart(session, round) {
  const back = async () => {
    const edit = { record_id: round.record_id, kind: 'round', body: round.body };
    if (await session.write(null, () => ({ edits: [edit], words: 'Round restored' })))
      session.frame?.go(`round/${round.record_id}/card`);
  };
  return [
    h(
      'p',
      null,
      'The competition round was deleted, but shots of it from another device are still here. Restore the round to finish it, or to delete it with its shots.',
    ),
    h('p', null, button('Restore the round', back, { id: 'bring-back' })),
  ];
}
