/** A trial of A against B: the verdict first, then how it comes about. */
import { field, h, button, select } from '../ui/elements.js';
import { notesPart, trialId } from '../screens/notes.js';
import { folded, method } from '../ui/fold.js';
import { counted, gained } from '../ui/words.js';
import { addressOf, asked, queryOf } from './address.js';
import { figure, table } from '../charts/figure.js';
import { ballsOf, sidesOf, suggestions } from './sides.js';
import { clearTone, whiskerChart } from '../charts/whisker-chart.js';
import { about, bandName, day, interval, percent, roundCount, signed, twoFigures } from './words.js';

export const name = 'Trial';

const MINIMUM_EFFECT = '0.3';
const MINIMUM_EFFECTS = ['0.1', '0.2', '0.3', '0.5', '1'];

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
    ...rest,
    trial.value ? folded('Compare others', chooser(sides, context), { id: 'trial-sides' }) : chooser(sides, context),
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
    (value) => /** @type {[string, string]} */ ([value, `${value} ${value === '1' ? 'stroke' : 'strokes'} a round`]),
  );
  return h(
    'div',
    { class: 'row chooser' },
    side('a'),
    side('b'),
    field(
      'Smallest difference that matters',
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
    difference(found),
    facts(found),
    folded('More sensitive measures', sensitiveMeasures(found)),
    folded('By lie and distance', places(found)),
    folded('Duels in practice', duelsPart(found.practice)),
    method(
      found.design.words ? h('p', { class: 'design' }, found.design.words) : null,
      h(
        'p',
        { class: 'hint' },
        `A is ${found.a.name}, B is ${found.b.name}; ${period(found, filters)}; strokes gained against the baseline “${found.baseline.id}”, every ball.`,
      ),
      shaded(found),
    ),
  ];
}

/** Pairs of practice sessions, where they are asked for: they are no part of the verdict. @param {any} practice */
function duelsPart(practice) {
  if (!practice) return null;
  return h(
    'section',
    { id: 'practice-duels' },
    practice.words.map((/** @type {string} */ words) => h('p', null, words)),
    h(
      'p',
      { class: 'hint' },
      `${counted(practice.pairs, 'pair')} of balls from one spot in ${counted(practice.sessions, 'session')}. The verdict above is of rounds alone.`,
    ),
  );
}

/** @param {any} found @param {import('./address.js').Filters} filters */
function period(found, filters) {
  const rounds = roundCount(found);
  if (!found.from || !found.to) return rounds;
  return `${rounds}, ${day(filters.from ?? found.from)} to ${day(filters.to ?? found.to)}`;
}

/**
 * The difference as a round has it, from the side of the one in front.
 * @param {any} found
 */
function difference(found) {
  const { difference: gap, minimum_effect: worth, level, a, b } = found;
  if (!gap || gap.per_round === null) return null;
  const leads = gap.per_shot > 0;
  const [front, rear] = leads ? [a.name, b.name] : [b.name, a.name];
  const turned = (/** @type {number|null} */ low, /** @type {number|null} */ high) =>
    leads || low === null || high === null ? [low, high] : [-high, -low];
  const size = Math.abs(gap.per_round);
  const [low, high] = /** @type {number[]} */ (turned(gap.per_round_low, gap.per_round_high));
  const [alwaysLow, alwaysHigh] = turned(gap.per_round_always_low, gap.per_round_always_high);
  const words = {
    title: `Strokes gained a round: ${front} against ${rear}`,
    description: `${gained(size)} strokes a round, ${percent(level)} interval ${interval(low, high)}. Right of the middle ${front} is better. The shaded middle is too small to matter.`,
    left: `← ${rear} better`,
    right: `${front} better →`,
    zero: 'no difference',
    signed,
    zone: worth,
  };
  const row = { label: front, aside: 'strokes a round', value: size, low, high };
  const [shotLow, shotHigh] = /** @type {number[]} */ (turned(gap.low, gap.high));
  const numbers = table(
    `${front} against ${rear}, from the same lie and distance`,
    ['strokes gained', 'estimate', `${percent(level)} interval`],
    [
      ['a round', h('span', { class: clearTone(size, low, high) }, gained(size)), interval(low, high)],
      ['a shot', gained(Math.abs(gap.per_shot)), interval(shotLow, shotHigh)],
      [
        `a round, at every check (${percent((1 + level) / 2)})`,
        '',
        alwaysLow === null || alwaysHigh === null ? 'no end yet' : interval(alwaysLow, alwaysHigh),
      ],
    ],
  );
  return figure((room) => whiskerChart([row], words, room), numbers);
}

/** What the shaded middle is, and how often one may look. @param {any} found */
function shaded({ difference: gap, minimum_effect: worth }) {
  if (!gap || gap.per_round === null) return null;
  return h(
    'p',
    { class: 'hint' },
    `Shaded: less than ${worth} strokes a round, not worth a change. A round has ${gap.shots_a_round.toFixed(1)} such shots. “At every check” stays valid even if you look after every round; only it settles a verdict.`,
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
      : fact(
          `Chance that ${a.name} is better`,
          percent(found.chance_a_better),
          `that ${b.name} is: ${percent(found.chance_b_better)}`,
        ),
    fact('Shots still needed', ...missing(found)),
    fact(
      `Shots with ${a.name}`,
      String(a.shots),
      `${a.matched_shots} from the same lie and distance, in ${counted(a.matched_rounds, 'round')}`,
    ),
    fact(
      `Shots with ${b.name}`,
      String(b.shots),
      `${b.matched_shots} from the same lie and distance, in ${counted(b.matched_rounds, 'round')}`,
    ),
  );
}

/**
 * What is still needed, and what for.
 * @param {any} found @returns {[string, string]}
 */
function missing({
  shots_missing: shots,
  shots_missing_low: low,
  shots_missing_high: high,
  minimum_effect: worth,
  verdict,
}) {
  if (verdict.settled) return ['none', 'the verdict is settled with the shots so far'];
  if (shots === null) return ['unknown', 'no spread is known yet'];
  return [
    shots ? about(shots) : 'none',
    `with each, to settle ${worth} a round${shots ? `; ${twoFigures(low)} to ${twoFigures(high)}, given how well the spread is known` : ''}`,
  ];
}

/** @param {any} found */
function sensitiveMeasures(found) {
  const { length, playable, make_rate: makeRate } = found;
  if (!length && !playable && !makeRate) return null;
  const yards = (/** @type {number|null} */ value) => (value === null ? '–' : `${value.toFixed(1)} yd`);
  const rows = [
    ...(length
      ? [
          ['off its median length, on average', yards(length.typical_a_yd), yards(length.typical_b_yd)],
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
          ['putts holed, over your mix of lengths', percent(makeRate.a.rate), percent(makeRate.b.rate)],
          ['putts counted', makeRate.a.putts, makeRate.b.putts],
        ]
      : []),
  ];
  return h(
    'section',
    null,
    h(
      'div',
      { class: 'pair' },
      h(
        'div',
        null,
        [length, playable, makeRate].filter(Boolean).map((one) => h('p', null, one.words)),
      ),
      table(makeRate ? 'Putts holed' : 'Length and playable', ['measure', found.a.name, found.b.name], rows),
    ),
  );
}

/** @param {any} found */
function places({ places: rows, a, b }) {
  if (!rows.length) return null;
  const cells = rows.map((/** @type {any} */ row) => [
    `${row.lie}, ${bandName(row.distance).replace(' putts', '')}${row.paired ? ', same spot' : ''}`,
    `${gained(row.mean_a)} (${row.shots_a})`,
    `${gained(row.mean_b)} (${row.shots_b})`,
    percent(row.weight),
  ]);
  return h(
    'section',
    null,
    h('p', { class: 'hint' }, 'Only lies and distances where both were used count, weighted by use.'),
    table('Strokes gained a shot and shots, by place', ['from', a.name, b.name, 'weight'], cells),
  );
}
