/**
 * Notes on a round, a club or a trial: a small list where the thing itself is shown, and for a coach a form. What is noted about
 * a player is the player's to take away; a note of one's own can be taken back.
 */
import { change, isReader, askOrCached, momentWords, tried, whoAmI } from './server-answers.js';
import { button, confirmSheet, field, h } from '../ui/elements.js';

/** @typedef {import('../session.js').Session} Session @typedef {{note_id: string, author: string, about: string, about_id: string, words: string, written_at: string}} Note */

export const LONGEST_NOTE = 2000;

/** @param {string} player @returns {string} */
export function notesAddress(player) {
  return `/api/players/${encodeURIComponent(player)}/notes`;
}

/** What a note on a trial is about, whichever side came first. @param {string} a @param {string} b @returns {string} */
export function trialId(a, b) {
  const [first, second] = [a, b].sort();
  return new URLSearchParams([
    ['a', first],
    ['b', second],
  ]).toString();
}

/**
 * The notes on one thing, filled in when they come; nothing is there while there is nothing to say.
 * @param {Session} session @param {{player: string, about: 'round'|'club'|'trial', id: string}} what @returns {HTMLElement}
 */
export function notesPart(session, what) {
  const part = h('section', { class: 'notes no-print', hidden: true, 'aria-label': `Notes on this ${what.about}` });
  const fill = async () => {
    if (!session.me) await whoAmI(session);
    if (!session.me?.account) return;
    const found = await askOrCached(session, notesAddress(what.player));
    const mine = /** @type {Note[]} */ (found.value?.notes ?? []).filter(
      (note) => note.about === what.about && note.about_id === what.id,
    );
    const writes = isReader(session.me) && !found.old && found.value;
    part.hidden = !mine.length && !writes;
    part.replaceChildren(
      h('h2', null, 'Notes'),
      found.old && mine.length
        ? h('p', { class: 'hint' }, `As of ${momentWords(found.at)}: the server cannot be reached now.`)
        : '',
      noteList(session, what.player, mine, fill),
      writes
        ? await noteForm(
            session,
            what.player,
            `${what.about} ${what.id}`,
            () => ({ about: what.about, about_id: what.id }),
            fill,
          )
        : '',
    );
  };
  fill().catch(() => undefined);
  return part;
}

/**
 * @param {Session} session @param {string} player @param {Note[]} notes @param {() => Promise<void>} again
 * @param {(note: Note) => any} [subject] what a note is about, where the list holds several things
 */
export function noteList(session, player, notes, again, subject) {
  const own = session.me?.account?.player_id === player;
  const remove = async (/** @type {Note} */ note) => {
    if (
      !(await confirmSheet(
        'Delete this note?',
        `“${note.words.slice(0, 120)}” by ${note.author} is deleted for everybody.`,
        'Delete it',
      ))
    )
      return;
    if (await tried(session, () => change('DELETE', `${notesAddress(player)}/${note.note_id}`)))
      session.frame?.say('Note deleted');
    await again();
  };
  const row = (/** @type {Note} */ note) =>
    h(
      'li',
      { class: 'note' },
      subject ? h('p', { class: 'note-subject' }, subject(note)) : null,
      h('p', { class: 'note-words' }, note.words),
      h(
        'p',
        { class: 'note-foot' },
        h('span', null, `${note.author}, ${momentWords(note.written_at)}`),
        own || session.me?.account?.name === note.author
          ? button('Delete', () => remove(note), {
              class: 'quiet',
              'aria-label': `Delete the note by ${note.author}, ${momentWords(note.written_at)}`,
            })
          : null,
      ),
    );
  return h('ul', { class: 'note-list' }, [...notes].reverse().map(row));
}

/**
 * @param {Session} session @param {string} player @param {string} place where the form is, for its draft
 * @param {() => {about: string, about_id: string}} subject @param {() => Promise<void>} again
 * @param {HTMLSelectElement} [about] what the note is about, where that is chosen
 */
export async function noteForm(session, player, place, subject, again, about) {
  const writer = `account:${session.me?.account?.name}`; // whose it is: it goes with whoever writes it, and with whom it is about
  const draft = await session.drafts.open(writer, `note on ${player}, ${place}`, player, () => ({
    words: '',
    about: about?.value,
  }));
  const words = h('textarea', {
    required: true,
    maxlength: String(LONGEST_NOTE),
    rows: '3',
    id: 'note-words',
    value: draft.value.words,
  });
  words.addEventListener('input', () => Object.assign(draft.value, { words: words.value }));
  if (about && [...about.options].some((one) => one.value === draft.value.about))
    about.value = draft.value.about ?? about.value;
  about?.addEventListener('change', () => Object.assign(draft.value, { about: about.value }));
  const form = h(
    'form',
    null,
    field('Leave a note', words, 'The player sees it, and everyone who can see this player.'),
    h('button', { class: 'wide', id: 'leave-note' }, 'Save the note'),
  );
  form.addEventListener('submit', async (/** @type {Event} */ event) => {
    event.preventDefault();
    if (!words.value.trim()) return;
    if (
      !(await tried(session, () => change('POST', notesAddress(player), { ...subject(), words: words.value.trim() })))
    )
      return;
    session.frame?.say('Note saved');
    words.value = '';
    await draft.drop();
    await again();
  });
  return form;
}
