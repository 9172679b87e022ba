/** A trial of A against B: the verdict first, then how it comes about. */
import { field, h, button, select } from '../ui/elements.js';
import { notesPart, trialId } from '../screens/notes.js';
import { counted, gained, tone } from '../ui/words.js';
import { addressOf, asked, queryOf } from './address.js';
import { figure, table } from '../charts/figure.js';
import { ballsOf, sidesOf, suggestions } from './sides.js';
import { whiskerChart } from '../charts/whisker-chart.js';
import { about, bandName, day, interval, percent, roundCount, signed } from './words.js';

export const name = 'Trial';

const MINIMUM_EFFECT = '0.1';
const SETTLED = ['better', 'alike']; // verdicts that more shots are not needed for
const MINIMUM_EFFECTS = ['0.05', '0.1', '0.15', '0.2', '0.3'];

/** @typedef {import('./page.js').Context} Context @typedef {import('./sides.js').Side} Side */

/** @param {Context} context */
export function paths({ player, filters }) {
  const of = `/api/players/${encodeURIComponent(player)}`;
  const { a, b, minimum_effect: least } = filters;
  const trial = `${of}/trial${queryOf([['a', a], ['b', b], ['minimum_effect', least], ...asked(filters)])}`;
  return { needed: [`${of}/strokes-gained?by=setup`, `${of}/choices`], wished: a && b ? [trial] : [] };
}

/** @param {import('./asking.js').Answer[]} answers @param {Context} context */
export function build([setups, choices, trial], context) {
  const sides = [...sidesOf(setups.value.rows), ...ballsOf(choices.value.balls)];
  if (sides.length < 2)
    return [h('p', { class: 'empty' }, 'A trial needs two clubs, two setups of one club, or two balls.')];
  if (!trial) return [chooser(sides, context), ...offers(sides, context)];
  const [verdict, ...rest] = result(trial, context);
  const { a, b } = context.filters;
  return [
    verdict,
    chooser(sides, context),
    ...rest,
    notesPart(context.session, { player: context.player, about: 'trial', id: trialId(a, b) }),
  ];
}

/** @param {Side[]} sides @param {Context} context */
function chooser(sides, { filters, change }) {
  const options = /** @type {[string, string][]} */ ([
    ['', 'choose'],
    ...sides.map((side) => [side.value, side.words]),
  ]);
  const side = (/** @type {'a'|'b'} */ which) => {
    const chosen = filters[which] ?? '';
    const known = options.some(([value]) => value === chosen)
      ? options
      : [...options, /** @type {[string, string]} */ ([chosen, chosen])];
    return field(
      which.toUpperCase(),
      select(known, chosen, (value) => change({ [which]: value }), { id: `side-${which}` }),
    );
  };
  const worth = filters.minimum_effect ?? MINIMUM_EFFECT;
  const worths = (MINIMUM_EFFECTS.includes(worth) ? MINIMUM_EFFECTS : [...MINIMUM_EFFECTS, worth]).map(
    (value) => /** @type {[string, string]} */ ([value, `${value} strokes a shot`]),
  );
  return h(
    'div',
    { class: 'row chooser' },
    side('a'),
    side('b'),
    field(
      'A difference worth having',
      select(worths, worth, (value) => change({ minimum_effect: value === MINIMUM_EFFECT ? '' : value }), {
        id: 'minimum-effect',
      }),
    ),
    filters.a && filters.b ? button('Swap', () => change({ a: filters.b, b: filters.a }), { id: 'swap' }) : null,
  );
}

/** @param {Side[]} sides @param {Context} context */
function offers(sides, { player, filters }) {
  const pairs = suggestions(sides);
  return [
    h('p', { class: 'lead' }, 'Choose two clubs, two setups of one club, or two balls.'),
    pairs.length
      ? h(
          'ul',
          { class: 'list' },
          pairs.map(([a, b]) =>
            h(
              'li',
              null,
              h(
                'a',
                { class: 'list-row', href: `#/${addressOf(player, 'trial', { ...filters, a: a.value, b: b.value })}` },
                h('span', { class: 'list-main' }, a.words, h('span', { class: 'list-under' }, `against ${b.words}`)),
              ),
            ),
          ),
        )
      : null,
  ];
}

/** @param {import('./asking.js').Answer} answer @param {Context} context */
function result(answer, { filters }) {
  const found = answer.value;
  if (!found)
    return [
      h('p', { class: 'notice', role: 'alert' }, `${answer.failure?.message ?? 'No answer'}.`.replace(/\.\.$/, '.')),
    ];
  return [
    h('p', { class: 'verdict', 'data-code': found.verdict.code, 'aria-live': 'polite' }, found.verdict.words),
    h(
      'p',
      { class: 'hint' },
      `A is ${found.a.name}, B is ${found.b.name}; ${period(found, filters)}; strokes gained against the baseline “${found.baseline.id}”, every ball.`,
    ),
    difference(found),
    facts(found),
    sensitiveMeasures(found),
    places(found),
  ];
}

/** @param {any} found @param {import('./address.js').Filters} filters */
function period(found, filters) {
  const rounds = roundCount(found);
  if (!found.from || !found.to) return rounds;
  return `${rounds}, ${day(filters.from ?? found.from)} to ${day(filters.to ?? found.to)}`;
}

/** @param {any} found */
function difference(found) {
  const { difference: gap, minimum_effect: worth, level, a, b } = found;
  if (!gap) return null;
  const words = {
    title: `Difference a shot: ${a.name} less ${b.name}`,
    description: `${gained(gap.per_shot)} strokes a shot, ${percent(level)} interval ${interval(gap.low, gap.high)}. Right of the middle A is better. The shaded middle is too small to matter.`,
    left: '← B better',
    right: 'A better →',
    signed,
    zone: worth,
  };
  const row = { label: 'A less B', aside: 'strokes a shot', value: gap.per_shot, low: gap.low, high: gap.high };
  const line = (
    /** @type {string} */ what,
    /** @type {number} */ value,
    /** @type {number} */ low,
    /** @type {number} */ high,
  ) => [what, h('span', { class: tone(value) }, gained(value)), interval(low, high)];
  const numbers = table(
    `A less B from like places, with the ${percent(level)} interval`,
    ['difference', 'strokes', 'interval'],
    [
      line('a shot', gap.per_shot, gap.low, gap.high),
      line('a typical round', gap.per_round, gap.per_round_low, gap.per_round_high),
    ],
  );
  return figure(
    (room) => whiskerChart([row], words, room),
    numbers,
    h(
      'p',
      { class: 'hint' },
      `Shaded: less than ${worth} strokes a shot, not worth a change. A typical round has ${gap.shots_a_round.toFixed(1)} such shots.`,
    ),
  );
}

/** @param {any} found */
function facts(found) {
  const fact = (/** @type {string} */ title, /** @type {string} */ value, /** @type {string} */ under) =>
    h('div', null, h('dt', null, title), h('dd', null, value, h('span', { class: 'list-under' }, under)));
  const { a, b } = found;
  return h(
    'dl',
    { class: 'facts' },
    found.chance_a_better === null
      ? null
      : fact('Chance that A is better', percent(found.chance_a_better), `that B is: ${percent(found.chance_b_better)}`),
    fact('Shots still needed', ...missing(found)),
    fact(
      'Shots with A',
      String(a.shots),
      `${a.matched_shots} from like places, in ${counted(a.matched_rounds, 'round')}`,
    ),
    fact(
      'Shots with B',
      String(b.shots),
      `${b.matched_shots} from like places, in ${counted(b.matched_rounds, 'round')}`,
    ),
  );
}

/**
 * What is still needed, and what for.
 * @param {any} found @returns {[string, string]}
 */
function missing({ shots_missing: shots, minimum_effect: worth, verdict }) {
  if (SETTLED.includes(verdict.code)) return ['none', 'the verdict stands on the shots so far'];
  if (shots === null) return ['unknown', 'no spread is known yet'];
  return [shots ? about(shots) : 'none', `with each, from like places, to settle ${worth} a shot`];
}

/** @param {any} found */
function sensitiveMeasures(found) {
  const { length, playable, make_rate: makeRate } = found;
  if (!length && !playable && !makeRate) return null;
  const yards = (/** @type {number|null} */ value) => (value === null ? '–' : `${value.toFixed(1)} yd`);
  const rows = [
    ...(length
      ? [
          ['off its middle length, on average', yards(length.typical_a_yd), yards(length.typical_b_yd)],
          ['full swings measured', length.shots_a, length.shots_b],
        ]
      : []),
    ...(playable
      ? [
          ['stays playable', percent(playable.share_a), percent(playable.share_b)],
          ['shots counted for it', playable.shots_a, playable.shots_b],
        ]
      : []),
    ...(makeRate?.a.rate !== undefined
      ? [
          ['putts that fall, over your mix of lengths', percent(makeRate.a.rate), percent(makeRate.b.rate)],
          ['putts counted', makeRate.a.putts, makeRate.b.putts],
        ]
      : []),
  ];
  return h(
    'section',
    null,
    h('h2', null, 'Sharper measures'),
    h(
      'div',
      { class: 'pair' },
      h(
        'div',
        null,
        [length, playable, makeRate].filter(Boolean).map((one) => h('p', null, one.words)),
      ),
      table(makeRate ? 'Putts that fall' : 'Length and playable, from like places', ['measure', 'A', 'B'], rows),
    ),
  );
}

/** @param {any} found */
function places({ places: rows }) {
  if (!rows.length) return null;
  const cells = rows.map((/** @type {any} */ row) => [
    `${row.lie}, ${bandName(row.distance).replace(' putts', '')}`,
    `${gained(row.mean_a)} (${row.shots_a})`,
    `${gained(row.mean_b)} (${row.shots_b})`,
    percent(row.weight),
  ]);
  return h(
    'section',
    null,
    h('h2', null, 'Like places'),
    h('p', { class: 'hint' }, 'Only where both were used do they count, each place by how much both were.'),
    table('Strokes gained a shot and shots, by place', ['from', 'A', 'B', 'weight'], cells),
  );
}
