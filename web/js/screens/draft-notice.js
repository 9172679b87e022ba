/** That a form holds something that was entered before and not saved, and a way to throw it away. */
import { button, confirmSheet, h } from '../ui/elements.js';

/**
 * @param {import('../session.js').Session} session @param {import('../log/drafts.js').Draft<any>} draft
 * @param {string} [id] of the button @returns {HTMLElement|null} null when there is nothing to throw away
 */
export function draftNotice(session, draft, id = 'throw-away') {
  if (!draft.changed) return null;
  const throwAway = async () => {
    if (
      !(await confirmSheet(
        'Discard what you entered?',
        'It was not saved and cannot be recovered.',
        'Discard',
        'Keep it',
      ))
    )
      return;
    await draft.drop();
    await session.frame?.refresh();
  };
  return h(
    'p',
    { class: 'notice' },
    'Entered before and not saved yet. ',
    button('Discard', throwAway, { class: 'quiet', id }),
  );
}
