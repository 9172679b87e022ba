/** Reminds of what is on this phone alone, where the browser has not promised to keep it. */
import { h } from './elements.js';
import { counted } from './words.js';

/** @returns {Promise<boolean>} whether the browser may clear the storage: it was asked and refused, or cannot be asked */
export async function mayBeCleared() {
  return !(navigator.storage?.persisted && (await navigator.storage.persisted()));
}

const ID = 'unsent-reminder';

/** Where the reminder is shown. @param {import('../session.js').Session} session @returns {HTMLElement} */
export function unsentReminder(session) {
  const element = h('div', { id: ID });
  void remind(session, element);
  return element;
}

/**
 * Shows it or takes it away: at a drawing, and after every exchange. It is there when something is unsent, the server did not
 * answer, and the storage may be cleared. @param {import('../session.js').Session} session @param {HTMLElement|null} [element]
 */
export async function remind(session, element = document.getElementById(ID)) {
  if (!element) return;
  const unsent = () => session.waiting && session.schedule.state.state === 'failed';
  const may = unsent() && (await mayBeCleared().catch(() => false)); // the screen of saving says that nothing is known
  element.replaceChildren(...(may && unsent() ? [words(session.waiting)] : []));
}

/** @param {number} waiting */
function words(waiting) {
  return h(
    'p',
    { class: 'notice' },
    `${counted(waiting, 'change')} not sent yet, on this phone alone. The browser has not promised to keep them: send them as soon as there is a network. `,
    h('a', { href: '#/saving', id: 'to-saving' }, 'Saving and sending'),
  );
}
