/** Practice sessions among the rounds of the first screen. */
import { h } from '../ui/elements.js';
import { counted, dayWords, today } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../log/store.js').StoredRecord} StoredRecord */

/** @type {Record<string, string>} */
const PLACES = { range: 'range', putting_green: 'putting green', short_game: 'short game' };
/** Raised when what is kept of a session means something else than before. */
const VERSION = 'practice 1';

/** @param {StoredRecord} session @returns {string} */
export function placeWords({ body }) {
  return PLACES[body.place] ?? 'practice';
}

/**
 * How many balls each session has; counted anew where one has changed since.
 * @param {Session} session @param {StoredRecord[]} sessions @returns {Promise<Map<string, number>>}
 */
export async function ballCounts(session, sessions) {
  const stored = await session.store.tallies(sessions.map((one) => one.record_id));
  /** @type {Map<string, number>} */
  const counts = new Map();
  const fresh = [];
  for (const { record_id: id, player_id: player } of sessions) {
    const kept = /** @type {any} */ (stored.get(id));
    const balls = kept?.version === VERSION ? kept.balls : (await session.store.balls(player, id)).length;
    counts.set(id, balls);
    if (kept?.version !== VERSION) fresh.push(/** @type {any} */ ({ round_id: id, version: VERSION, balls }));
  }
  if (fresh.length) await session.store.saveTallies(fresh).catch(() => undefined); // without room they are counted again
  return counts;
}

/** @param {StoredRecord} session @param {number} balls */
export function sessionRow(session, balls) {
  const { body, record_id: id } = session;
  return h(
    'li',
    null,
    h(
      'a',
      { class: 'list-row', href: `#/practice/${id}${body.closed ? '/review' : ''}` },
      h(
        'span',
        { class: 'list-main' },
        dayWords(body.date),
        h(
          'span',
          { class: 'list-under' },
          `practice session · ${placeWords(session)}${body.closed || body.from_file ? '' : ' · open'}`,
        ),
      ),
      h(
        'span',
        { class: 'list-side' },
        h('span', { class: 'score' }, balls),
        h('span', { class: 'list-under' }, balls === 1 ? 'ball' : 'balls'),
      ),
    ),
  );
}

/**
 * The way to practice: on with the session of today that is not finished, else to a new one.
 * @param {StoredRecord[]} sessions newest first
 */
export function practiceLink(sessions) {
  const open = sessions.find(({ body }) => body.date === today() && !body.closed && !body.from_file);
  return h(
    'a',
    {
      class: 'button quiet',
      href: open ? `#/practice/${open.record_id}` : '#/practice/new',
      id: 'to-practice',
    },
    open ? `Continue practice: ${placeWords(open)}` : 'Practice session',
  );
}

/** @param {number} count @returns {string} */
export function sessionsCounted(count) {
  return counted(count, 'practice session');
}
