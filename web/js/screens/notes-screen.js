/** All notes on a player; for a coach the place to leave one on a round or a club. */
import { ask } from '../log/answers.js';
import { ageNotice, isReader, askOrCached, whoAmI } from './server-answers.js';
import { field, h, select } from '../ui/elements.js';
import { noteForm, noteList, notesAddress } from './notes.js';
import { dayWords } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session @typedef {{name: string, rounds: Map<string, string>, clubs: string[]}} Things */

/** @param {Session} session @param {string} player @returns {Promise<import('../routes.js').Drawn>} */
export async function notesScreen(session, player) {
  await whoAmI(session);
  const own = player === session.playerId;
  const [found, things] = await Promise.all([
    askOrCached(session, notesAddress(player)),
    thingsOf(session, player, own),
  ]);
  const again = async () => {
    await session.frame?.refresh();
  };
  const notes = found.value?.notes ?? [];
  return {
    title: 'Notes',
    still: true,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, own ? 'Notes on your game' : `Notes on ${things.name}`),
      session.me?.open_house
        ? h('p', { class: 'lead' }, 'This server has no accounts, so nobody can leave a note.')
        : [
            ageNotice(found, 'This list'),
            isReader(session.me) && found.value && !found.old ? await form(session, player, things, again) : null,
            found.value
              ? notes.length
                ? noteList(session, player, notes, again, (note) => subjectOf(note, player, own, things))
                : h('p', { class: 'empty' }, 'No note yet.')
              : null,
          ],
      own ? null : h('p', null, h('a', { class: 'button', href: `#/evidence/${player}/overview` }, 'Strokes gained')),
    ),
  };
}

/** @param {Session} session @param {string} player @param {Things} things @param {() => Promise<void>} again */
async function form(session, player, things, again) {
  const options = /** @type {[string, string][]} */ ([
    ...things.clubs.map((label) => [`club ${label}`, `club: ${label}`]),
    ...[...things.rounds].map(([id, words]) => [`round ${id}`, `round: ${words}`]),
  ]);
  if (!options.length) return h('p', { class: 'hint' }, 'There is no round yet to leave a note on.');
  const about = select(options, options[0][0], () => undefined, { id: 'note-about' });
  const subject = () => {
    const [kind, ...rest] = about.value.split(' ');
    return { about: kind, about_id: rest.join(' ') };
  };
  return h(
    'section',
    null,
    field('About', about, h('span', null, 'Notes on a trial are left on the trial page.')),
    await noteForm(session, player, 'of all', subject, again, about),
  );
}

/**
 * The names of what notes are about: from this phone for its own player, else from the server.
 * @param {Session} session @param {string} player @param {boolean} own @returns {Promise<Things>}
 */
async function thingsOf(session, player, own) {
  if (own) {
    const [rounds, clubs] = await Promise.all([
      session.store.records(player, 'round'),
      session.store.records(player, 'club'),
    ]);
    return {
      name: session.playerName,
      rounds: new Map(rounds.map((round) => [round.record_id, dayWords(round.body.played_on)])),
      clubs: clubs.map((club) => club.body.label),
    };
  }
  const of = `/api/players/${encodeURIComponent(player)}`;
  const get = (/** @type {string} */ path) => ask(fetch.bind(globalThis), of + path).catch(() => null);
  const [about, listed, byClub] = await Promise.all([get(''), get('/rounds'), get('/strokes-gained?by=club')]);
  const rounds = [...(listed?.rounds ?? [])].sort((a, b) => b.played_on.localeCompare(a.played_on));
  return {
    name: about?.name ?? 'a player',
    rounds: new Map(rounds.map((round) => [round.round_id, dayWords(round.played_on)])),
    clubs: (byClub?.rows ?? []).map((/** @type {any} */ row) => row.club),
  };
}

/** @param {import('./notes.js').Note} note @param {string} player @param {boolean} own @param {Things} things */
function subjectOf(note, player, own, things) {
  if (note.about === 'round') {
    const words = `Round of ${things.rounds.get(note.about_id) ?? 'a day that is not here'}`;
    return own && things.rounds.has(note.about_id) ? h('a', { href: `#/round/${note.about_id}/review` }, words) : words;
  }
  if (note.about === 'club') return `Club: ${note.about_id}`;
  const sides = new URLSearchParams(note.about_id);
  return h(
    'a',
    { href: `#/evidence/${player}/trial?${sides}` },
    `Trial: ${sides.get('a') ?? note.about_id} against ${sides.get('b') ?? ''}`,
  );
}
