/** The report of a player: everything on one printed page, A4 or Letter, black on white. */
import { plain, signed } from '../game/numbers.js';
import { folded } from '../ui/fold.js';
import { toParWords } from '../game/score.js';
import { button, h } from '../ui/elements.js';
import { shareButton } from '../ui/share.js';
import { counted, gained } from '../ui/words.js';
import { asked, queryOf } from './address.js';
import { scrolling } from '../charts/figure.js';
import { clubTable, categoryTable } from './report-tables.js';
import { cut } from '../charts/row-labels.js';
import { day, interval, percent, roundCount, selection, shortRounds } from './words.js';

export const name = 'Report';

const MOST_ROUNDS = 8;
const MOST_NOTES = 3;
const NOTE_LETTERS = 140; // about two lines of the page
const ABOUT_LETTERS = 40;
const MAKE_FT = [4, 8, 15, 30];

/** @typedef {import('./page.js').Context} Context */

/** @param {Context} context */
export function paths({ player, filters }) {
  const of = `/api/players/${encodeURIComponent(player)}`;
  const query = (/** @type {string} */ by) => `${of}/strokes-gained${queryOf([['by', by], ...asked(filters)])}`;
  const rest = queryOf(asked(filters));
  return {
    needed: [`${of}/scores${rest}`, query('club'), query('category')],
    wished: [`${of}/putting${rest}`, `${of}/priorities${rest}`, `${of}/notes`],
  };
}

/** @param {import('./asking.js').Answer[]} answers @param {Context} context */
export function build([scores, clubs, categories, putting, priorities, notes], { session, filters }) {
  const rounds = scores.value.rounds;
  return [
    h(
      'div',
      { class: 'row no-print report-actions' },
      button('Print', () => print(), { id: 'print-report', class: 'strong' }),
      shareButton(session, `Report of ${scores.value.player}`, '.report'),
      h('p', { class: 'hint' }, 'One page, on A4 or Letter. The filters above choose what is in it.'),
    ),
    h(
      'article',
      { class: 'report', 'aria-label': `Report of ${scores.value.player}` },
      header(scores.value, clubs.value, filters),
      rounds.length
        ? facts(scores.value, categories.value, putting.value)
        : h(
            'p',
            { class: 'verdict small' },
            `No round that counts: there is nothing to report yet. ${shortRounds(scores.value)}`,
          ),
      rounds.length
        ? h(
            'div',
            { class: 'report-columns' },
            h(
              'div',
              null,
              categoryTable(categories.value),
              puttingPart(putting.value),
              prioritiesPart(priorities.value),
            ),
            h(
              'div',
              null,
              folded('By club', clubTable(clubs.value), { beside: true, class: 'report-fold' }),
              notesPart(notes.value?.notes ?? [], rounds),
            ),
          )
        : null,
      rounds.length ? folded('Rounds', roundsPart(scores.value), { beside: true, class: 'report-fold' }) : null,
      rounds.length ? null : notesPart(notes.value?.notes ?? [], rounds),
      h(
        'p',
        { class: 'report-foot' },
        'Evidence to talk over with a coach, not advice. An interval that contains zero could be either; with few rounds most differences are chance. ',
        `Made by Pencilbag on ${day(new Date().toISOString().slice(0, 10))}.`,
      ),
    ),
  ];
}

/** @param {any} scores @param {any} clubs @param {import('./address.js').Filters} filters */
function header({ player, from, to, baseline, level, rounds, short_rounds: short }, { total }, filters) {
  const span = from ? `${day(from)} to ${day(to ?? from)}` : 'no round yet';
  const kinds = selection({ kind: filters.kind ?? '', course: filters.course ?? '' });
  return h(
    'header',
    { class: 'report-head' },
    h('h2', null, player),
    h(
      'p',
      null,
      `${span}: ${kinds}, ${roundCount({ rounds: rounds.length, short_rounds: short })}, ${counted(total.shots, 'shot')}. Strokes gained against “${baseline.id}” ${baseline.version}, ${percent(level)} intervals.`,
    ),
  );
}

/** @param {any} scores @param {any} categories @param {any} putting */
function facts({ means, rounds }, { total }, putting) {
  const known = total.per_round_low !== null && total.per_round_low !== undefined;
  const basis = means ? `mean of ${counted(means.rounds, 'round')} of 18 holes` : 'no whole round of 18 holes';
  const three = putting?.three_putts;
  return h(
    'dl',
    { class: 'facts report-facts' },
    fact('Score', means ? means.score.toFixed(1) : '–', basis),
    fact('To par', means ? toPar(means.to_par) : '–', `best ${bestOf(rounds)}`),
    fact(
      'Strokes gained a round',
      known ? gained(total.per_round) : '–',
      known ? interval(total.per_round_low, total.per_round_high) : 'too few rounds to say',
    ),
    fact(
      'Putts a round',
      means ? means.putts.toFixed(1) : '–',
      three && three.share !== null ? `three putts on ${percent(three.share)} of holes` : '',
    ),
    fact('Penalty strokes a round', means ? means.penalty_strokes.toFixed(1) : '–', ''),
  );
}

/** @param {string} title @param {string} value @param {string} under */
function fact(title, value, under) {
  return h('div', null, h('dt', null, title), h('dd', null, value, h('span', { class: 'list-under' }, under)));
}

/** @param {number} value */
function toPar(value) {
  if (Math.abs(value) < 0.05) return 'level';
  return signed(value, 1);
}

/** The best full round. @param {any[]} rounds */
function bestOf(rounds) {
  const full = rounds.filter((one) => one.complete === 18);
  if (!full.length) return '–';
  const best = full.reduce((least, one) => (one.to_par < least.to_par ? one : least));
  return `${best.score} on ${day(best.played_on)}`;
}

/** @param {any} putting the server's, or null */
function puttingPart(putting) {
  if (!putting) return null;
  if (!putting.curve.length) return h('section', null, h('h3', null, 'Putting'), h('p', null, putting.lacking));
  const rows = MAKE_FT.flatMap((feet) => putting.curve.filter((/** @type {any} */ row) => row.feet === feet));
  const far = putting.speed.far;
  return h(
    'section',
    null,
    h('h3', null, 'Putting'),
    scrolling(
      h(
        'div',
        { class: 'table-box' },
        h(
          'table',
          { class: 'report-table' },
          h('caption', { class: 'hidden' }, 'Share holed by length'),
          h(
            'thead',
            null,
            h(
              'tr',
              null,
              ['length', 'holed', 'interval', 'tour'].map((title) => h('th', { scope: 'col' }, title)),
            ),
          ),
          h(
            'tbody',
            null,
            rows.map((/** @type {any} */ row) =>
              h(
                'tr',
                null,
                h('th', { scope: 'row' }, `${row.feet} ft`),
                h('td', null, percent(row.rate)),
                h('td', null, `${Math.round(100 * row.low)} to ${percent(row.high)}`),
                h('td', null, percent(row.tour)),
              ),
            ),
          ),
        ),
      ),
      'Share holed by length',
    ),
    h(
      'p',
      null,
      `${putting.putts} putts. ${putting.half_ft === null ? '' : `Half are holed from ${Number(putting.half_ft.toFixed(1))} ft; tour players from ${Number(putting.tour_half_ft.toFixed(1))} ft. `}${far.median_ft === null ? '' : `Misses from afar leave ${far.median_ft.toFixed(1)} ft.`}`,
    ),
  );
}

/** @param {any} found the server's, or null */
function prioritiesPart(found) {
  if (!found) return null;
  const list = found.priorities.length
    ? h(
        'ol',
        { class: 'report-priorities' },
        found.priorities.map((/** @type {any} */ one) =>
          h(
            'li',
            null,
            h('strong', null, `${one.what} cost about ${one.strokes_a_round.toFixed(1)} strokes a round`),
            ` (as measured ${plain(-one.per_round, 1)}, interval ${plain(-one.high, 1)} to ${plain(-one.low, 1)}). ${one.next}`,
          ),
        ),
      )
    : h('p', null, found.words.split(/(?<=\.) /)[0]);
  return h('section', null, h('h3', null, 'Priorities'), list);
}

/** @param {any} scores rounds latest first */
function roundsPart(scores) {
  const { rounds } = scores;
  const shown = rounds.slice(0, MOST_ROUNDS);
  const more = rounds.length > shown.length ? ` The latest ${shown.length} of ${rounds.length}.` : '';
  const titles = ['day', 'course', 'kind', 'score', 'to par', 'putts', 'penalties', 'strokes gained'];
  const rows = shown.map((/** @type {any} */ one) => {
    const score =
      one.score === null
        ? '–'
        : one.complete < one.holes || one.holes < 9
          ? `${one.score} (${one.complete} holes)`
          : String(one.score);
    return h(
      'tr',
      null,
      h('th', { scope: 'row' }, day(one.played_on)),
      [
        one.course ?? '–',
        one.kind,
        score,
        one.to_par === null ? '–' : toParWords(one.to_par),
        one.putts,
        one.penalty_strokes,
        gained(one.strokes_gained),
      ].map((cell, place) => h('td', { class: place < 2 ? 'words' : null }, cell)),
    );
  });
  return h(
    'section',
    null,
    h('h3', null, 'Rounds'),
    scrolling(
      h(
        'div',
        { class: 'table-box' },
        h(
          'table',
          { class: 'report-table report-rounds' },
          h('caption', { class: 'hidden' }, 'The latest rounds'),
          h(
            'thead',
            null,
            h(
              'tr',
              null,
              titles.map((title, place) =>
                h('th', { scope: 'col', class: place === 1 || place === 2 ? 'words' : null }, title),
              ),
            ),
          ),
          h('tbody', null, rows),
        ),
      ),
      'The latest rounds',
    ),
    h('p', null, `Scores over complete holes; ball 1 only.${more} ${shortRounds(scores)}`),
  );
}

/** @param {any[]} notes oldest first @param {any[]} rounds */
function notesPart(notes, rounds) {
  if (!notes.length) return null;
  const latest = [...notes].reverse().slice(0, MOST_NOTES);
  const days = new Map(rounds.map((one) => [one.round_id, day(one.played_on)]));
  const about = (/** @type {any} */ note) =>
    note.about === 'round'
      ? `round${days.has(note.about_id) ? ` of ${days.get(note.about_id)}` : ''}`
      : `${note.about} ${note.about_id}`;
  const more =
    notes.length > latest.length ? h('p', null, `The latest ${latest.length} of ${notes.length} notes.`) : null;
  return h(
    'section',
    null,
    h('h3', null, 'Notes'),
    h(
      'ul',
      { class: 'report-notes' },
      latest.map((note) =>
        h(
          'li',
          null,
          h(
            'strong',
            null,
            `${note.author}, ${day(note.written_at.slice(0, 10))}, ${cut(about(note), ABOUT_LETTERS)}: `,
          ),
          cut(note.words, NOTE_LETTERS),
        ),
      ),
    ),
    more,
  );
}
