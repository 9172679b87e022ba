/** Your data: everything to a file, also without a network; and erasing it, asked twice. */
import { LOCK } from '../log/schedule.js';
import { erasePlayer } from '../log/erasing.js';
import { everythingFile } from './everything.js';
import { button, field, h, sheet } from '../ui/elements.js';
import { askAgain, retryErasures } from './erasing.js';
import { saveFile } from './saving.js';
import { counted } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session */

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function ownDataScreen(session) {
  const rounds = await session.store.records(/** @type {string} */ (session.playerId), 'round');
  return {
    title: 'Your data',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Your data'),
      h(
        'p',
        { class: 'lead' },
        `${session.playerName}: ${counted(rounds.length, 'round')} on this phone${session.waiting ? `, ${counted(session.waiting, 'change')} not sent yet` : ''}.`,
      ),
      downloadPart(session),
      erasePart(session, rounds.length),
    ),
  };
}

/** @param {Session} session */
function downloadPart(session) {
  const report = h('div', { role: 'status', id: 'downloaded' });
  const save = button(
    'Download everything',
    async () => {
      save.disabled = true;
      report.replaceChildren(h('p', null, 'Gathering…'));
      try {
        const { name, content, inside, missing } = await everythingFile(session);
        saveFile(name, content);
        report.replaceChildren(
          h('p', null, h('strong', null, `${name} is saved.`), ` In it: ${inside.join(', ')}.`),
          ...(missing.length ? [h('p', { class: 'notice' }, `Not in it: ${missing.join('; ')}.`)] : []),
        );
      } catch (error) {
        report.replaceChildren(
          h('p', { class: 'notice' }, `Nothing was saved: ${error instanceof Error ? error.message : error}.`),
        );
      } finally {
        save.disabled = false;
      }
    },
    { class: 'wide strong', id: 'download' },
  );
  return h(
    'section',
    null,
    h('h2', null, 'Download'),
    h(
      'p',
      null,
      'One ZIP file: the log of this phone, all that the server keeps of you (log, sharing, notes), and the tables of every season as CSV with their descriptor. Offline it contains the phone’s log and lists what is missing.',
    ),
    save,
    report,
  );
}

/** @param {Session} session @param {number} rounds */
function erasePart(session, rounds) {
  return h(
    'section',
    null,
    h('h2', null, 'Erase'),
    h(
      'p',
      null,
      'Deletes everything of this player: from this phone at once, even offline; then from the server, once it can be reached. Everyone you share with loses access, your account ends, and your other devices follow.',
    ),
    button('Erase everything', () => askFirst(session, rounds), { class: 'wide red', id: 'erase' }),
  );
}

/** The first question: what goes. @param {Session} session @param {number} rounds */
function askFirst(session, rounds) {
  sheet('Erase everything?', (_redraw, close) => [
    h(
      'p',
      null,
      `${session.playerName}: ${counted(rounds, 'round')} with every shot, clubs, courses, notes, sharing, and the account.${session.waiting ? ` ${counted(session.waiting, 'change')} of them ${session.waiting === 1 ? 'was' : 'were'} never sent, and ${session.waiting === 1 ? 'is' : 'are'} nowhere else.` : ''}`,
    ),
    h(
      'p',
      { class: 'notice' },
      h('strong', null, 'It cannot be undone.'),
      ' Download everything first if you may want it later. Older backups are for the server’s owner to delete.',
    ),
    h(
      'div',
      { class: 'row' },
      button('No', close, { class: 'wide', id: 'erase-no' }),
      button(
        'Continue',
        () => {
          close();
          askAgainByTyping(session);
        },
        { class: 'wide red', id: 'erase-go-on' },
      ),
    ),
  ]);
}

/** The second: typed by hand. @param {Session} session */
function askAgainByTyping(session) {
  const name = session.playerName;
  const typed = h('input', {
    autocomplete: 'off',
    autocapitalize: 'none',
    spellcheck: 'false',
    id: 'erase-name',
    required: true,
  });
  sheet('Type the name to erase it', (_redraw, close) => {
    const form = h(
      'form',
      null,
      field(`The player’s name: ${name}`, typed),
      h('button', { class: 'wide red', id: 'erase-now' }, 'Erase for good'),
    );
    form.addEventListener('submit', (/** @type {Event} */ event) => {
      event.preventDefault();
      if (typed.value.trim() !== name) {
        refusal.replaceChildren(h('p', { class: 'notice' }, `That is not “${name}”. Nothing was erased.`));
        return;
      }
      close();
      erase(session);
    });
    const refusal = h('div', { role: 'alert' });
    return [form, refusal, button('No, keep everything', close, { class: 'wide', id: 'erase-keep' })];
  });
  typed.focus();
}

/** The phone first, whatever the network does; then the server. @param {Session} session */
async function erase(session) {
  const playerId = /** @type {string} */ (session.playerId);
  const work = () => erasePlayer(session.store, playerId);
  try {
    // No exchange may be under way: it would bring back what is being erased.
    await (navigator.locks ? navigator.locks.request(LOCK, work) : work());
  } catch (error) {
    session.notSaved(error);
    return;
  }
  await session.cleared();
  session.frame?.say('Erased from this phone');
  session.frame?.go('players');
  await retryErasures(session);
  await askAgain(session);
}
