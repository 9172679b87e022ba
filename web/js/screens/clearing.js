/** Clearing the phone of who leaves it. Nothing is lost silently: what the server lacks is named, and can be sent or saved first. */
import { clearPhone, unsentByPlayer } from '../log/clearing.js';
import { LOCK } from '../log/schedule.js';
import { button, confirmSheet, h, sheet } from '../ui/elements.js';
import { saveLog } from './saving.js';
import { counted } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session @typedef {Awaited<ReturnType<typeof unsentByPlayer>>} Unsent */

/** The way back for what stays unsent in a file. */
const READ_BACK = 'Restore it under “Saving and sending”, on this phone or another; nothing is duplicated.';

/**
 * Clears the phone of everybody but `own`, and of no change that is not named in `lose` and that the server lacks.
 * @param {Session} session @param {{own?: string|null, lose?: string[]}} [wish] @returns {Promise<string[]>} players who stay
 */
export async function clearNow(session, wish = {}) {
  const work = () => {
    session.drafts.forgetAll(); // nothing at hand is written again
    return clearPhone(session.store, wish);
  };
  // No exchange may be under way: it would bring back what is being cleared.
  const staying = await (navigator.locks ? navigator.locks.request(LOCK, work) : work());
  await session.cleared();
  return staying;
}

/**
 * Asks before a clearing. Null: nothing is to happen; else the changes that may be lost with it.
 * @param {Session} session @param {{title: string, calm: string, yes: string, own?: string|null}} words `calm`: what happens when the
 * server has everything; `own`: a player who stays anyway @returns {Promise<{lose: string[]}|null>}
 */
export async function askToClear(session, { title, calm, yes, own = null }) {
  const look = async () => (await unsentByPlayer(session.store)).filter((one) => one.player_id !== own);
  if (session.waiting) await session.schedule.now(); // most often that is all there is to do
  const unsent = await look();
  if (!unsent.length) return (await confirmSheet(title, calm, yes)) ? { lose: [] } : null;
  return new Promise((resolve) => {
    /** @type {{lose: string[]}|null} */
    let found = null;
    const choose = (/** @type {() => void} */ close, /** @type {string[]} */ lose) => {
      found = { lose };
      close();
    };
    const state = { unsent, saved: false };
    const dialog = sheet(title, (redraw, close) => {
      const again = async () => {
        await session.schedule.now();
        state.unsent = await look();
        redraw();
      };
      const save = async () => {
        await saveLog(session);
        state.saved = true;
        redraw();
      };
      return unsentParts(session, state, { yes, calm, again, save, choose: (lose) => choose(close, lose), close });
    });
    dialog.addEventListener('close', () => resolve(found));
  });
}

/**
 * @param {Session} session @param {{unsent: Unsent, saved: boolean}} state
 * @param {{yes: string, calm: string, again: () => void, save: () => void, choose: (lose: string[]) => void, close: () => void}} ways
 */
function unsentParts(session, { unsent, saved }, ways) {
  const no = button('No, change nothing', ways.close, { class: 'wide', id: 'clear-no' });
  if (!unsent.length)
    return [
      h('p', { id: 'clear-sent' }, `Everything is sent. ${ways.calm}`),
      button(ways.yes, () => ways.choose([]), { class: 'wide red', id: 'clear-now' }),
      no,
    ];
  const changes = unsent.flatMap((one) => one.changes);
  const lose = async () => {
    const sure =
      saved ||
      (await confirmSheet(
        'Delete them?',
        `${counted(changes.length, 'change')} ${changes.length === 1 ? 'is' : 'are'} stored nowhere else and cannot be recovered.`,
        'Delete them',
      ));
    if (sure) ways.choose(changes);
  };
  const why = session.schedule.state.failure ? ` Not sent: ${session.schedule.state.failure}.` : '';
  return [
    h(
      'p',
      { class: 'notice', id: 'clear-unsent' },
      h(
        'strong',
        null,
        `Not on the server: ${unsent.map((one) => `${counted(one.changes.length, 'change')} of ${one.name}`).join(', ')}.`,
      ),
      why,
    ),
    button('Send now', ways.again, { class: 'wide strong', id: 'clear-send' }),
    button('Save the log to a file', ways.save, { class: 'wide', id: 'clear-save' }),
    saved ? h('p', { role: 'status', id: 'clear-saved' }, `The log is saved. ${READ_BACK}`) : null,
    button(`${ways.yes}, and leave them here`, () => ways.choose([]), { class: 'wide', id: 'clear-keep' }),
    h(
      'p',
      { class: 'hint' },
      `Then everything of ${unsent.map((one) => one.name).join(' and ')} stays on this phone until it is sent, and anyone with the phone can see it.`,
    ),
    button(saved ? `${ways.yes}, and clear them from here` : `${ways.yes}, and delete them`, lose, {
      class: 'wide red',
      id: 'clear-lose',
    }),
    no,
  ];
}
