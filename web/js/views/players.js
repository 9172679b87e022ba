/** Whose evidence: the players that may be read, each with a small line of the latest rounds, three parts of the game and the last note. */
import { hatching } from '../charts/pencil.js';
import { choices, h } from '../ui/elements.js';
import { folded, keepFolds, method } from '../ui/fold.js';
import { KIND_WORDS, gained } from '../ui/words.js';
import { addressOf, queryOf } from './address.js';
import { askEach } from './asking.js';
import { extent, linearScale, svg } from '../charts/drawing.js';
import { isClear } from '../charts/whisker-chart.js';
import { againstPart, holesPart, pairPart } from './others.js';
import { whyNot } from './page.js';
import { ways } from './questions.js';
import { ranksPart } from './ranks.js';
import { asOf, day, interval, roundCount } from './words.js';

const NOBODY = ''; // the list is of no one player, and never locked
const LINE = { width: 150, height: 44 };
const BARS = { width: 92, row: 15 };
const LEAST_SCALE = 1; // strokes: smaller parts are drawn small
const NOTE_LETTERS = 90;
const PARTS = /** @type {Record<string, string>} */ ({
  long_game: 'long game',
  short_game: 'short game',
  putting: 'putting',
});
const ORDERS = /** @type {[string, string][]} */ ([
  ['', 'last round'],
  ['change', 'change'],
  ['mean', 'strokes gained'],
  ['name', 'name'],
]);
const SHORT_CUTS = /** @type {[import('./address.js').View, string][]} */ ([
  ['priorities', 'priorities'],
  ['compare', 'periods'],
  ['report', 'report'],
]);
const MORE_PAGES = 20; // of 200 players: more than a federation's squad

/** @param {import('../session.js').Session} session @param {string} [query] @returns {Promise<import('../routes.js').Drawn>} */
export async function evidencePlayersScreen(session, query = '') {
  const order = new URLSearchParams(query).get('sort') ?? '';
  const found = await askAll(session);
  const players = sorted(found.players, order);
  const choose = (/** @type {string|null} */ sort) => {
    history.replaceState(null, '', `#/evidence${queryOf([['sort', sort]])}`);
    session.frame?.refresh();
  };
  const scale = scaleOf(players);
  const page = h(
    'div',
    { class: 'page evidence' },
    session.player && session.playerId
      ? h('div', { class: 'evidence-head' }, ...ways(session.playerId, 'squad', {}))
      : null,
    h('h1', null, 'Squad'),
    h('p', { class: 'lead' }, 'Player by player, with intervals.'),
    found.old
      ? h('p', { class: 'notice', role: 'status' }, `The list as of ${asOf(found.at)}: ${found.failure?.message}.`)
      : null,
    found.failure && !found.old ? whyNot(found.failure) : null,
    !found.failure && !players.length ? h('p', { class: 'empty' }, 'No player shares with you yet.') : null,
    players.length > 1
      ? [h('p', { class: 'hint sort-by' }, 'Sorted by'), choices('Sorted by', ORDERS, order, choose, { id: 'sort' })]
      : null,
    players.length
      ? h(
          'div',
          { class: 'squad-head', 'aria-hidden': 'true' },
          COLUMNS.map((words) => h('span', null, words)),
        )
      : null,
    h(
      'ul',
      { class: 'list squad' },
      players.map((player) => h('li', null, row(session, player, scale))),
    ),
    players.length > 1 ? folded('The squad in order', ranksPart(session)) : null,
    players.length ? folded('One player compared with the others', againstPart(session, byName(players))) : null,
    players.length > 1 ? folded('Two players side by side', pairPart(session, byName(players))) : null,
    players.length ? folded('The holes of a course', holesPart(session)) : null,
    players.length
      ? method(
          h(
            'p',
            { class: 'hint' },
            'The line: strokes gained in each of the latest rounds, the latest on the right; the horizontal line is zero. “No clear change”: chance alone could explain it; of ten players who stay the same, about one seems to change.',
          ),
        )
      : null,
  );
  keepFolds(page, 'squad', session.state.folds);
  return { title: 'Squad', content: page };
}

const COLUMNS = ['Player', 'Last 12 rounds', 'Parts of the game', 'Last note', ''];

/** The longest bar of all players, in strokes a round. @param {any[]} players @returns {number} */
function scaleOf(players) {
  const sizes = players.flatMap(({ parts }) => (parts ?? []).map((/** @type {any} */ one) => Math.abs(one.per_round)));
  return Math.max(LEAST_SCALE, ...sizes);
}

/** All pages of the list. @param {import('../session.js').Session} session */
async function askAll(session) {
  /** @type {any[]} */
  const players = [];
  /** @type {string|null} */
  let path = '/api/squad?limit=200';
  let page = (await askEach(session, NOBODY, [path]))[0];
  const first = page;
  for (let count = 0; page.value && count < MORE_PAGES; count += 1) {
    players.push(...page.value.players);
    path = page.value.next;
    if (!path) break;
    page = (await askEach(session, NOBODY, [path]))[0];
  }
  return { players, at: first.at, old: first.old, failure: first.failure ?? page.failure };
}

/** @param {any[]} players by name @param {string} order @returns {any[]} */
function sorted(players, order) {
  const known = (/** @type {number|null|undefined} */ value) => value ?? -Infinity;
  const by = /** @type {Record<string, (a: any, b: any) => number>} */ ({
    name: () => 0,
    change: (a, b) => compared(known(b.trend.difference), known(a.trend.difference)),
    mean: (a, b) => compared(known(b.trend.mean), known(a.trend.mean)),
  });
  const last = (/** @type {any} */ a, /** @type {any} */ b) =>
    (b.last_round?.played_on ?? '').localeCompare(a.last_round?.played_on ?? '');
  return [...players].sort(by[order] ?? last);
}

/** @param {any[]} players @returns {any[]} */
function byName(players) {
  return [...players].sort((a, b) => a.name.localeCompare(b.name));
}

/** @param {number} a @param {number} b */
function compared(a, b) {
  return a === b ? 0 : a < b ? -1 : 1;
}

/** @param {import('../session.js').Session} session @param {any} player @param {number} scale of the bars */
function row(session, player, scale) {
  const id = player.player_id;
  const own = id === session.playerId ? 'on this phone · ' : '';
  return h(
    'div',
    { class: 'player-row' },
    h(
      'a',
      { class: 'list-row', href: `#/${addressOf(id, 'overview')}`, id: `evidence-${id}` },
      h('span', { class: 'list-main' }, player.name, h('span', { class: 'list-under' }, `${own}${lastRound(player)}`)),
    ),
    h(
      'div',
      { class: 'player-trend' },
      player.locked ? h('p', { class: 'few' }, 'locked: a competition round is open') : trendPart(player),
    ),
    h('div', { class: 'player-parts' }, player.parts?.length ? partBars(player, scale) : null),
    h('div', { class: 'player-note' }, lastNote(player.last_note)),
    h(
      'nav',
      { class: 'row-views', 'aria-label': `Evidence of ${player.name}` },
      player.last_round ? SHORT_CUTS.map(([view, words]) => h('a', { href: `#/${addressOf(id, view)}` }, words)) : null,
      session.me?.account ? h('a', { href: `#/notes/${id}` }, 'notes') : null,
    ),
  );
}

/** @param {any} player */
function lastRound({ last_round: last, rounds, short_rounds }) {
  if (!last) return 'no round yet';
  const where = last.course ? `, ${last.course}` : '';
  return `${day(last.played_on)}${where}, ${KIND_WORDS[last.kind] ?? last.kind}${last.closed ? '' : ', open'}${rounds === null ? '' : ` · ${roundCount({ rounds, short_rounds })}`}`;
}

/** The line and what it says in words. @param {any} player */
function trendPart({ name, recent, trend, last_round: last }) {
  if (!last) return h('p', { class: 'few' }, 'Needed: a round with its shots, sent by the phone or imported.');
  if (!recent.length) return h('p', { class: 'few' }, 'no round of nine holes or more with strokes gained');
  const said =
    trend.low === null
      ? trend.words
      : `${trend.words}: ${gained(trend.difference)}, interval ${interval(trend.low, trend.high)}`;
  return [
    recent.length > 1 ? sparkline(name, recent) : null,
    h(
      'p',
      { class: 'trend-words' },
      h('span', { class: 'number' }, gained(trend.mean)),
      ` a round over the last ${recent.length}`,
      h('span', { class: 'list-under' }, said),
    ),
  ];
}

/** Long game, short game and putting as bars from a middle line; filled where clear of zero. @param {any} player @param {number} scale */
function partBars({ name, parts }, scale) {
  const middle = BARS.width / 2;
  const words = `Strokes gained a round of ${name} by part of the game, with the 90 % interval: ${parts
    .map((/** @type {any} */ one) => `${PARTS[one.part]} ${gained(one.per_round)}, ${interval(one.low, one.high)}`)
    .join('; ')}`;
  const bars = parts.flatMap((/** @type {any} */ one, /** @type {number} */ place) => {
    const size = (Math.abs(one.per_round) / scale) * (middle - 2);
    const side = isClear(one) ? (one.per_round < 0 ? 'lost' : 'gained') : 'either';
    const [x, y] = [one.per_round < 0 ? middle - size : middle, place * BARS.row + 3];
    const [width, height] = [Math.max(1, size), BARS.row - 6];
    return [
      side === 'either'
        ? null
        : svg('path', { d: hatching(x, y, width, height, side === 'gained', 5), class: 'hatch' }),
      svg('rect', { x, y, width, height, class: `part-bar ${side}` }),
    ];
  });
  const height = BARS.row * parts.length;
  return h(
    'div',
    { class: 'part-bars' },
    h(
      'div',
      { class: 'part-names', 'aria-hidden': 'true' },
      parts.map((/** @type {any} */ one) => h('span', null, PARTS[one.part])),
    ),
    svg(
      'svg',
      {
        width: BARS.width,
        height,
        viewBox: `0 0 ${BARS.width} ${height}`,
        class: 'picture',
        role: 'img',
        'aria-label': words,
      },
      ...bars,
      svg('path', { d: `M${middle},0 V${height}`, class: 'zero-line' }),
    ),
    h(
      'div',
      { class: 'part-values', 'aria-hidden': 'true' },
      parts.map((/** @type {any} */ one) => h('span', null, gained(one.per_round))),
    ),
  );
}

/** @param {{author: string, words: string, written_at: string}|null|undefined} note */
function lastNote(note) {
  if (!note) return null;
  const words = note.words.length > NOTE_LETTERS ? `${note.words.slice(0, NOTE_LETTERS).trimEnd()}…` : note.words;
  return h(
    'p',
    null,
    words,
    h('span', { class: 'list-under' }, `${note.author}, ${day(note.written_at.slice(0, 10))}`),
  );
}

/** Strokes gained for 18 holes of the latest rounds as a small line over zero. @param {string} name @param {any[]} recent earliest first */
function sparkline(name, recent) {
  const values = recent.map((one) => one.per_round ?? one.strokes_gained);
  const x = linearScale([0, values.length - 1], [5, LINE.width - 5]);
  const y = linearScale(extent([0, ...values], { least: 2, room: 0 }), [LINE.height - 5, 5]);
  const words = `Strokes gained for 18 holes in the last ${values.length} rounds of ${name}, earliest first: ${values.map(gained).join(', ')}`;
  return svg(
    'svg',
    {
      width: LINE.width,
      height: LINE.height,
      viewBox: `0 0 ${LINE.width} ${LINE.height}`,
      class: 'picture sparkline',
      role: 'img',
      'aria-label': words,
    },
    svg('path', { d: `M0,${y(0).toFixed(2)} H${LINE.width}`, class: 'grid-line' }),
    svg('path', {
      d: `M${values.map((value, place) => `${x(place).toFixed(2)},${y(value).toFixed(2)}`).join(' L')}`,
      class: 'curve',
    }),
    svg('circle', { cx: x(values.length - 1), cy: y(values[values.length - 1]), r: 4, class: 'dot' }),
  );
}
