/** The rounds by month under a slip of the last one; the action of the thumb goes on with the open round, or starts one. */
import { roundScore, toParWords } from '../game/score.js';
import { KINDS } from '../game/shot.js';
import { field, h, button, select } from '../ui/elements.js';
import { ballCounts, placeWords, practiceLink, sessionRow, sessionsCounted } from './practice-rows.js';
import { firstWays } from './first-ways.js';
import { lastRoundSlip } from './last-round.js';
import { talliesOf } from './round-data.js';
import { unsentReminder } from '../ui/unsent.js';
import { KIND_WORDS, counted, dayWords } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../log/store.js').StoredRecord} StoredRecord */

const ROUNDS_AT_ONCE = 25;
const MOST_OPEN = 3;
const SESSIONS = 'session';

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function homeScreen(session) {
  const player = /** @type {string} */ (session.playerId);
  const [rounds, courses, practised] = await Promise.all([
    session.store.records(player, 'round'),
    session.store.records(player, 'course'),
    session.store.records(player, SESSIONS),
  ]);
  const names = new Map(courses.map((course) => [course.record_id, course.body.name]));
  const sorted = rounds.sort(byDay);
  const sessions = practised.sort(byDay);
  const open = sorted.filter((round) => !round.body.closed).slice(0, MOST_OPEN);
  const [tallies, balls, [goOnButton, ...others]] = await Promise.all([
    talliesOf(session, sorted),
    ballCounts(session, sessions),
    Promise.all(open.map((round, place) => goOn(session, round, names, place === 0))),
  ]);
  const start = (/** @type {string} */ look, /** @type {string} */ words) =>
    h('a', { class: `button ${look}`, href: '#/new', id: 'new-round' }, words);
  return {
    title: 'Rounds',
    action: goOnButton ?? start('strong action', 'Start a round'),
    content: h(
      'div',
      { class: 'page home' },
      h('h1', null, 'Rounds'),
      unsentReminder(session),
      await lastRoundSlip(session, sorted, tallies, names),
      h(
        'div',
        { class: 'row quick' },
        others,
        goOnButton ? start('', 'Start another round') : null,
        practiceLink(sessions),
      ),
      roundList(session, [...sorted, ...sessions].sort(byDay), tallies, balls, names),
    ),
  };
}

/** @param {StoredRecord} one a round or a practice session @returns {string} */
function dayOf({ kind, body }) {
  return kind === SESSIONS ? body.date : body.played_on;
}

/** The last day first. @param {StoredRecord} a @param {StoredRecord} b */
function byDay(a, b) {
  return dayOf(b).localeCompare(dayOf(a)) || b.record_id.localeCompare(a.record_id);
}

/**
 * Straight to the hole being played: the one that is begun and open, else the first that is open.
 * @param {Session} session @param {StoredRecord} round @param {Map<string, string>} names
 * @param {boolean} first the action of the screen
 */
async function goOn(session, round, names, first) {
  const shots = (await session.store.shots(round.player_id, round.record_id)).map((record) => record.body);
  const { holes } = roundScore(shots, round.body.holes);
  const begun = holes.filter((hole) => hole.shots);
  const hole =
    begun.reverse().find((one) => one.state === 'open') ??
    holes.find((one) => one.state === 'open' && one.hole > (begun[0]?.hole ?? 0)) ??
    holes.find((one) => one.state === 'open');
  const where = names.get(round.body.course_id) ?? KIND_WORDS[round.body.kind];
  const address = hole ? `#/round/${round.record_id}/${hole.hole}` : `#/round/${round.record_id}/card`;
  return h(
    'a',
    { class: `button go-on ${first ? 'strong action' : ''}`, href: address },
    `${hole ? `Continue, hole ${hole.hole}` : 'Finish the round'}${first ? '' : `, ${where}`}`,
  );
}

/**
 * @param {Session} session @param {StoredRecord[]} rounds and practice sessions @param {Map<string, import('../game/tally.js').Tally>} tallies
 * @param {Map<string, number>} balls by session @param {Map<string, string>} names
 */
function roundList(session, rounds, tallies, balls, names) {
  if (!rounds.length) return [h('p', { class: 'empty' }, 'No round yet.'), firstWays(true)];
  session.state.roundSearch ??= { words: '', kind: '', shown: ROUNDS_AT_ONCE };
  const search = session.state.roundSearch;
  const list = h('div');
  const draw = () => {
    const found = rounds.filter((round) => matches(round, names, search));
    list.replaceChildren(
      ...byMonth(found.slice(0, search.shown)).flatMap(([month, ones]) => [
        h('h2', { class: 'month' }, monthWords(month)),
        h(
          'ul',
          { class: 'list' },
          ones.map((one) =>
            one.kind === SESSIONS
              ? sessionRow(one, balls.get(one.record_id) ?? 0)
              : roundRow(one, tallies.get(one.record_id), names),
          ),
        ),
      ]),
      h('p', { class: 'hint', role: 'status' }, countWords(found, rounds)),
    );
    if (found.length > search.shown) {
      list.append(
        button(
          'Show more',
          () => {
            search.shown += ROUNDS_AT_ONCE;
            draw();
          },
          { class: 'wide' },
        ),
      );
    }
  };
  const words = h('input', { type: 'search', value: search.words, placeholder: 'May, links, 2026-05…', id: 'search' });
  words.addEventListener('input', () => {
    search.words = words.value;
    draw();
  });
  const kind = select(
    [
      ['', 'all kinds'],
      ...KINDS.map((name) => /** @type {[string, string]} */ ([name, KIND_WORDS[name]])),
      ...(balls.size ? [/** @type {[string, string]} */ ([SESSIONS, 'practice sessions'])] : []),
    ],
    search.kind,
    (value) => {
      search.kind = value;
      draw();
    },
  );
  draw();
  const finder =
    rounds.length > 4
      ? h(
          'details',
          { class: 'finder', open: Boolean(search.words || search.kind) },
          h('summary', { id: 'find' }, 'Find a round'),
          h('div', { class: 'row' }, field('Find a date or a course', words), field('Kind', kind)),
        )
      : null;
  return h('section', null, finder, list);
}

/** @param {StoredRecord[]} records in order of days @returns {[string, StoredRecord[]][]} by month, YYYY-MM */
function byMonth(records) {
  /** @type {Map<string, StoredRecord[]>} */
  const months = new Map();
  for (const one of records) {
    const month = dayOf(one).slice(0, 7);
    months.set(month, [...(months.get(month) ?? []), one]);
  }
  return [...months];
}

/** @param {string} month YYYY-MM @returns {string} such as "May 2026" */
function monthWords(month) {
  const date = new Date(`${month}-15T12:00:00`);
  return Number.isNaN(date.getTime()) ? month : date.toLocaleDateString('en-GB', { month: 'long', year: 'numeric' });
}

/** "12 rounds of 30", and the sessions beside them where there are any. @param {StoredRecord[]} found @param {StoredRecord[]} all */
function countWords(found, all) {
  const rounds = (/** @type {StoredRecord[]} */ list) => list.filter((one) => one.kind !== SESSIONS).length;
  const words = `${counted(rounds(found), 'round')} of ${rounds(all)}`;
  if (rounds(all) === all.length) return words;
  const practised = `${sessionsCounted(found.length - rounds(found))} of ${all.length - rounds(all)}`;
  return rounds(all) ? `${words}, ${practised}` : practised;
}

/** @param {StoredRecord} round or practice session @param {Map<string, string>} names @param {{words: string, kind: string}} search */
function matches(round, names, search) {
  const practised = round.kind === SESSIONS;
  if (search.kind && (practised ? SESSIONS : round.body.kind) !== search.kind) return false;
  const text =
    `${dayOf(round)} ${dayWords(dayOf(round))} ${practised ? `practice session ${placeWords(round)}` : ''} ${names.get(round.body.course_id) ?? ''} ${round.body.tees ?? ''} ${round.body.note ?? ''}`.toLowerCase();
  return search.words
    .toLowerCase()
    .split(/\s+/)
    .every((word) => text.includes(word));
}

/** @param {StoredRecord} round @param {import('../game/tally.js').Tally|undefined} tally @param {Map<string, string>} names */
function roundRow(round, tally, names) {
  const score = !tally?.done
    ? '–'
    : tally.incomplete
      ? `${tally.strokes} (${counted(tally.done, 'hole')})`
      : String(tally.strokes);
  return h(
    'li',
    null,
    h(
      'a',
      { class: 'list-row', href: `#/round/${round.record_id}/card` },
      h(
        'span',
        { class: 'list-main' },
        dayWords(round.body.played_on),
        h(
          'span',
          { class: 'list-under' },
          `${names.get(round.body.course_id) ?? 'no course'} · ${KIND_WORDS[round.body.kind]}${round.body.closed ? '' : ' · open'}`,
        ),
      ),
      h(
        'span',
        { class: 'list-side' },
        h('span', { class: 'score' }, score),
        tally?.done ? h('span', { class: 'list-under' }, toParWords(tally.to_par)) : null,
      ),
    ),
  );
}
