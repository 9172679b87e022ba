/** Players beside others: one beside the squad or the field, two side by side, the holes of a course. Worked out when asked for. */
import { figure, table, valueCell } from '../charts/figure.js';
import { clearTone, whiskerChart } from '../charts/whisker-chart.js';
import { button, field, h, select } from '../ui/elements.js';
import { CATEGORY_WORDS, counted, gained } from '../ui/words.js';
import { EvidenceLocked, askEach } from './asking.js';
import { whyNot } from './page.js';
import { interval, percent, signed } from './words.js';

/** @typedef {import('../session.js').Session} Session @typedef {{player_id: string, name: string}} Listed */

const NOBODY = ''; // of several players
const REFERENCES = /** @type {[string, string][]} */ ([
  ['squad', 'the squad'],
  ['field', 'the field'],
]);
const VERDICTS = /** @type {Record<string, string>} */ ({ 'not clear': '–' });

/**
 * A question with its answer below: the last one that was asked is the one that is shown.
 * @param {Session} session @param {() => {player: string, path: string}} question @param {(found: any) => any[]} draw
 */
function asking(session, question, draw) {
  const body = h('div', { 'aria-live': 'polite' });
  let turn = 0;
  const show = async () => {
    turn += 1;
    const mine = turn;
    const { player, path } = question();
    body.replaceChildren(h('p', { class: 'hint' }, 'Working it out …'));
    const shown = await answered(session, player, path, draw);
    if (mine === turn) body.replaceChildren(...shown);
  };
  return { body, show };
}

/** @param {Session} session @param {string} player @param {string} path @param {(found: any) => any[]} draw @returns {Promise<any[]>} */
async function answered(session, player, path, draw) {
  try {
    const [answer] = await askEach(session, player, [path]);
    return answer.value ? draw(answer.value) : [whyNot(/** @type {any} */ (answer.failure))];
  } catch (error) {
    if (error instanceof EvidenceLocked) return [h('p', { class: 'notice', role: 'alert' }, error.message)];
    throw error;
  }
}

/** @param {string} part total or a category */
function partWords(part) {
  return CATEGORY_WORDS[part] ?? 'all strokes';
}

/** @param {{verdict: string, lacking: string|null}} row */
function verdictWords({ verdict, lacking }) {
  return lacking ?? VERDICTS[verdict] ?? verdict;
}

/** @param {Listed[]} players @returns {[string, string][]} */
function named(players) {
  return players.map((one) => [one.player_id, one.name]);
}

/** @param {any[]} leftOut */
function leftOutWords(leftOut) {
  return leftOut.map((one) => h('p', { class: 'hint' }, `Left out: ${one.name}, ${one.why}.`));
}

/** A player beside the mean of the others. @param {Session} session @param {Listed[]} players by name */
export function againstPart(session, players) {
  let player = players[0].player_id;
  let reference = players.length > 2 ? 'squad' : 'field';
  const { body, show } = asking(
    session,
    () => ({ player, path: `/api/players/${player}/against?reference=${reference}` }),
    besideOthers,
  );
  const who = select(named(players), player, (value) => {
    player = value;
    body.replaceChildren();
  });
  const whom = select(REFERENCES, reference, (value) => {
    reference = value;
    body.replaceChildren();
  });
  who.id = 'against-player';
  whom.id = 'against-reference';
  return h(
    'section',
    { class: 'against' },
    h(
      'div',
      { class: 'row chooser' },
      field('Player', who),
      field('Compared with', whom),
      button('Compare', show, { id: 'show-against' }),
    ),
    h(
      'p',
      { class: 'hint' },
      'The squad: the players you can see. The field: everyone on this server who shares with somebody, shown only as a whole, never by name.',
    ),
    body,
  );
}

/** @param {any} found @returns {any[]} */
function besideOthers({
  reference,
  others,
  rounds,
  rounds_of_others: theirs,
  courses,
  level,
  parts,
  words,
  lacking,
  left_out: leftOut,
}) {
  const verdict = h('p', { class: 'verdict small', id: 'against-words' }, words);
  if (lacking) return [verdict, ...leftOutWords(leftOut)];
  const rows = parts.map((/** @type {any} */ row) => [
    partWords(row.part),
    valueCell(gained(row.difference), interval(row.low, row.high), clearTone(row.difference, row.low, row.high)),
    gained(row.mean),
    verdictWords(row),
  ]);
  const whiskers = parts.map((/** @type {any} */ row) => ({
    label: partWords(row.part),
    aside: '',
    value: row.difference,
    low: row.low,
    high: row.high,
    few: row.lacking,
  }));
  const title = `Strokes gained a round compared with the ${reference}`;
  const drawing = {
    title,
    description: `The player minus the mean of the others, adjusted for courses, with the ${percent(level)} interval.`,
    left: '← loses to the others',
    right: 'gains on the others →',
    zero: 'level with the others',
    signed,
  };
  return [
    verdict,
    figure(
      (room) => whiskerChart(whiskers, drawing, room),
      table(title, ['part', `difference, ${percent(level)} interval`, 'as played', 'verdict'], rows),
      h(
        'p',
        { class: 'hint' },
        `${counted(rounds, 'round')} compared with ${theirs} of ${others} others, adjusted for ${counted(courses, 'course')}. Means of few rounds are pulled towards the mean of all. Each interval is for its own row.`,
      ),
    ),
    ...leftOutWords(leftOut),
  ];
}

/** Two players side by side. @param {Session} session @param {Listed[]} players by name, two at least */
export function pairPart(session, players) {
  let [a, b] = players.map((one) => one.player_id);
  const { body, show } = asking(
    session,
    () => ({ player: NOBODY, path: `/api/players/${a}/pair?other=${b}` }),
    sideBySide,
  );
  const first = select(named(players), a, (value) => {
    a = value;
    body.replaceChildren();
  });
  const second = select(named(players), b, (value) => {
    b = value;
    body.replaceChildren();
  });
  first.id = 'pair-a';
  second.id = 'pair-b';
  return h(
    'section',
    { class: 'pair-of-players' },
    h(
      'div',
      { class: 'row chooser' },
      field('Player 1', first),
      field('Player 2', second),
      button('Compare', show, { id: 'show-pair' }),
    ),
    body,
  );
}

/** @param {any} found @returns {any[]} */
function sideBySide({ a, b, level, shared_courses: shared, parts, words }) {
  const verdict = h('p', { class: 'verdict small', id: 'pair-words' }, words);
  if (parts.every((/** @type {any} */ row) => row.lacking)) return [verdict];
  const who = /** @type {Record<string, string>} */ ({
    'a better': `${a.name} better`,
    'b better': `${b.name} better`,
  });
  const rows = parts.map((/** @type {any} */ row) => [
    partWords(row.part),
    valueCell(
      gained(row.difference),
      interval(row.together_low, row.together_high),
      clearTone(row.difference, row.together_low, row.together_high),
    ),
    percent(row.chance_a_better),
    who[row.verdict] ?? verdictWords(row),
  ]);
  const whiskers = parts.map((/** @type {any} */ row) => ({
    label: partWords(row.part),
    aside: '',
    value: row.difference,
    low: row.together_low,
    high: row.together_high,
    few: row.lacking,
  }));
  const title = `${a.name} minus ${b.name}, strokes gained a round`;
  const drawing = {
    title,
    description: `Adjusted for courses and days, with the intervals of all rows together at ${percent(level)}.`,
    left: `← ${b.name} gains`,
    right: `${a.name} gains →`,
    zero: 'level',
    signed,
  };
  const where = shared.length ? `Courses of both: ${shared.join(', ')}.` : 'No course was played by both.';
  return [
    verdict,
    figure(
      (room) => whiskerChart(whiskers, drawing, room),
      table(title, ['part', 'difference', `chance for ${a.name}`, 'verdict'], rows),
      h(
        'p',
        { class: 'hint' },
        `${a.name}: ${counted(a.rounds, 'round')}, ${b.name}: ${counted(b.rounds, 'round')}. ${where} Intervals hold for all rows together: of ten pairs of equal players at most about one shows a difference.`,
      ),
    ),
  ];
}

/** How hard the holes of a course are. @param {Session} session */
export function holesPart(session) {
  let course = '';
  let part = 'total';
  /** @type {any} */
  let found = null;
  const choices = h('div', { class: 'row chooser' });
  const drawn = h('div');
  const draw = () => drawn.replaceChildren(...(found?.holes.length ? holesOf(found, part) : []));
  const { body, show } = asking(
    session,
    () => ({ player: NOBODY, path: `/api/squad/holes${course ? `?course=${encodeURIComponent(course)}` : ''}` }),
    (value) => {
      found = value;
      if (!course && value.courses.length) {
        course = value.courses[0].course;
        offer();
        show();
        return [];
      }
      draw();
      return [
        h('p', { class: 'verdict small', id: 'holes-words' }, value.words),
        drawn,
        ...leftOutWords(value.left_out),
      ];
    },
  );
  const offer = () => {
    const courses = select(
      found.courses.map((/** @type {any} */ one) => [one.course, `${one.course}, ${counted(one.rounds, 'round')}`]),
      course,
      (value) => {
        course = value;
        show();
      },
    );
    const parts = select(
      [['total', 'all strokes'], ...Object.entries(CATEGORY_WORDS).filter(([name]) => !name.endsWith('_game'))],
      part,
      (value) => {
        part = value;
        draw();
      },
    );
    courses.id = 'holes-course';
    parts.id = 'holes-part';
    choices.replaceChildren(field('Course', courses), field('By', parts));
  };
  choices.append(button('Show the holes', show, { id: 'show-holes' }));
  return h('section', { class: 'holes-of-course' }, choices, body);
}

/** @param {any} found @param {string} part @returns {any[]} */
function holesOf({ holes, level, rounds, players, course }, part) {
  const shown = holes.flatMap((/** @type {any} */ hole) => {
    const row = hole.parts.find((/** @type {any} */ one) => one.part === part);
    return row ? [{ ...hole, row }] : [];
  });
  if (!shown.length) return [h('p', { class: 'hint' }, 'These players count in other categories.')];
  const rows = shown.map((/** @type {any} */ { hole, par, times, row }) => [
    valueCell(`${hole}`, `par ${par}, ${times} times`),
    valueCell(
      gained(row.beside),
      interval(row.together_low, row.together_high),
      clearTone(row.beside, row.together_low, row.together_high),
    ),
    valueCell(gained(row.mean), interval(row.mean_low, row.mean_high)),
    verdictWords(row),
  ]);
  const whiskers = shown.map((/** @type {any} */ { hole, par, row }) => ({
    label: `${hole}`,
    aside: `par ${par}`,
    value: row.beside,
    low: row.together_low,
    high: row.together_high,
    few: row.lacking,
  }));
  const title = `${course}: strokes gained compared with the mean of its holes, ${partWords(part)}`;
  const drawing = {
    title,
    description: `Each hole minus the mean of the course's holes, adjusted for player and day, with the intervals of all holes together at ${percent(level)}.`,
    left: '← harder',
    right: 'easier →',
    zero: 'as hard as expected',
    signed,
  };
  return [
    figure(
      (room) => whiskerChart(whiskers, drawing, room),
      table(title, ['hole', 'compared with the others', 'a time, as played', 'verdict'], rows),
      h(
        'p',
        { class: 'hint' },
        `${counted(rounds, 'round')} of ${counted(players, 'player')}. Adjusted for who played and when. Intervals compared with the others hold for all holes together; as played, for each hole.`,
      ),
    ),
  ];
}
