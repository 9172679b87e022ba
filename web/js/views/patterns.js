/** Patterns: where each club finishes against its target, whether the planned shape comes, and what strikes cost. */
import { choices, field, h, select } from '../ui/elements.js';
import { folded, method } from '../ui/fold.js';
import { counted } from '../ui/words.js';
import { addressOf, queryOf } from './address.js';
import { bagFigure, bagHeadline, bagMethod, bagTable, bagVerdict, centreFigure } from './pattern-bag.js';
import { directions, facts, groupsTable, plot, shares, verdict } from './pattern-parts.js';
import { whyNot } from './page.js';
import { clubsAgainstCourse, differencePaths, practiceCounted } from './practice-difference.js';
import { shapesPart } from './shapes.js';
import { strikesPart } from './strikes.js';
import { lengthsIn } from './lengths.js';
import { day, percent } from './words.js';

export const name = 'Patterns';

const SPLITS = /** @type {[string, string][]} */ ([
  ['club', 'tee, fairway and fringe'],
  ['lie', 'each lie'],
  ['setup', 'each setup'],
  ['shape', 'each planned shape'],
]);

/** @param {import('./page.js').Context} context */
export function paths(context) {
  const { player, filters } = context;
  const { club, split, source, from, to, kind, course } = filters;
  const of = (/** @type {string} */ what, /** @type {[string, string|undefined][]} */ more) =>
    `/api/players/${encodeURIComponent(player)}/${what}${queryOf([...more, ['source', what === 'strikes' ? '' : source], ['from', from], ['to', to], ['kind', kind], ['course', course]])}`;
  return {
    needed: [of('patterns', [])],
    wished: [
      ...differencePaths(context),
      ...(club
        ? [
            of('patterns', [
              ['club', club],
              ['split', splitOf({ split })],
            ]),
            of('strikes', [['club', club]]),
          ]
        : []),
    ],
  };
}

/** @param {import('./address.js').Filters|{split: string|undefined}} filters */
function splitOf({ split }) {
  return SPLITS.some(([known]) => known === split) ? /** @type {string} */ (split) : 'club';
}

/** @param {import('./asking.js').Answer[]} answers @param {import('./page.js').Context} context */
export function build([bag, ...rest], context) {
  const { filters } = context;
  const [beside, one, noted] = filters.source ? rest : [null, ...rest];
  const lengths = lengthsIn(context.units);
  const found = bag.value;
  if (!found.patterns.length)
    return [
      h(
        'p',
        { class: 'empty' },
        filters.source === 'practice'
          ? 'No finish recorded for these practice balls.'
          : 'No finish recorded in these rounds.',
      ),
      h('p', null, 'Tap where each ball finished on the phone: the pattern of its club then appears here.'),
    ];
  const chooser = clubChooser(found.patterns, context);
  if (!filters.club)
    return [
      bagVerdict(found.patterns),
      bagHeadline(found.patterns, lengths, found.level),
      practiceCounted(found),
      ...wholeBag(found, context, lengths, chooser),
      folded('Practice against the course', clubsAgainstCourse(beside?.value, lengths)),
      method(bagMethod(lengths), caution(found)),
    ];
  if (!one?.value) return [chooser, whyNot(one?.failure)];
  // a server of an older version knows nothing of strikes
  const strikes = noted?.value ? strikesPart(noted.value, lengths) : null;
  return [
    ...oneClub(one.value, context, lengths, chooser),
    practiceCounted(found),
    folded('Strike, height and shape', strikes),
    folded('Practice against the course', clubsAgainstCourse(beside?.value, lengths, filters.club)),
    method(caution(one.value)),
  ];
}

/** @param {any[]} patterns @param {import('./page.js').Context} context */
function clubChooser(patterns, { filters, change }) {
  const clubs = [...new Set([...patterns.map((row) => row.club), filters.club].filter(Boolean))];
  const options = /** @type {[string, string][]} */ ([['', 'all clubs'], ...clubs.map((club) => [club, club])]);
  return h(
    'div',
    { class: 'row chooser one-club' },
    field(
      'Club',
      select(options, filters.club ?? '', (club) => change({ club, group: '', swing: '' }), { id: 'club' }),
    ),
  );
}

/** @param {any} found @param {import('./page.js').Context} context @param {import('./lengths.js').Lengths} lengths @param {HTMLElement} chooser */
function wholeBag(found, context, lengths, chooser) {
  const address = (/** @type {any} */ row) =>
    `#/${addressOf(context.player, 'patterns', { ...context.filters, club: row.club, swing: row.swing === 'part' ? 'part' : '', split: '', group: '' })}`;
  const numbers = bagTable(found, lengths, address);
  return [
    h('section', { 'aria-label': 'Left and right, by club' }, bagFigure(found, numbers.full)),
    chooser,
    folded('Part swings', numbers.part),
    shapesPart(found.shapes, lengths, found.level, true),
  ];
}

/** @param {any} found @param {import('./page.js').Context} context @param {import('./lengths.js').Lengths} lengths @param {HTMLElement} chooser */
function oneClub(found, { filters, change }, lengths, chooser) {
  const { patterns, level } = found;
  const split = splitOf(filters);
  const where = filters.source === 'practice' ? 'this practice' : 'these rounds';
  const swing = patterns.some((/** @type {any} */ row) => row.swing === filters.swing)
    ? filters.swing
    : (patterns[0]?.swing ?? '');
  const groups = patterns.filter((/** @type {any} */ row) => row.swing === swing);
  const most = [...groups].sort((a, b) => b.shots - a.shots)[0];
  const row = groups.find((/** @type {any} */ one) => one.group === filters.group) ?? most;
  const swings = [...new Set(patterns.map((/** @type {any} */ one) => one.swing))];
  const swingShots = (/** @type {string} */ which) =>
    patterns
      .filter((/** @type {any} */ one) => one.swing === which)
      .reduce((/** @type {number} */ sum, /** @type {any} */ one) => sum + one.shots, 0);
  const choose = h(
    'div',
    { class: 'pattern-choices' },
    choices('Split by', SPLITS, split, (value) => change({ split: value === 'club' ? '' : (value ?? ''), group: '' }), {
      id: 'split',
    }),
    swings.length > 1
      ? choices(
          'Swing',
          swings.map((one) => [one, `${one} swings, ${swingShots(one)}`]),
          swing,
          (value) => change({ swing: value ?? '', group: '' }),
          { id: 'swing' },
        )
      : null,
    split !== 'club' && groups.length
      ? field(
          SPLITS.find(([one]) => one === split)?.[1].replace('each ', '') ?? '',
          select(
            groups.map((/** @type {any} */ one) => [
              one.group,
              `${groupWords(split, one.group)}: ${counted(one.shots, 'shot')}`,
            ]),
            row.group,
            (group) => change({ group }),
            { id: 'group' },
          ),
        )
      : null,
  );
  if (!row)
    return [
      chooser,
      choose,
      h(
        'p',
        { class: 'empty' },
        split === 'lie'
          ? `No finish recorded for this club in ${where}.`
          : `No finish from the tee, the fairway or the fringe in ${where}: split by lie for the others.`,
      ),
    ];
  return [
    verdict(row, groupWords(split, row.group), lengths, centreFigure(row, lengths, level)),
    plot(row, lengths, level),
    chooser,
    choose,
    row.warnings.length
      ? h(
          'ul',
          { class: 'warnings' },
          row.warnings.map((/** @type {string} */ words) =>
            h('li', null, `${words[0].toUpperCase()}${words.slice(1)}.`),
          ),
        )
      : null,
    folded('Spread, direction, playable', facts(row, lengths, level)),
    groups.length > 1
      ? folded(
          `By ${split === 'shape' ? 'planned shape' : split}`,
          groupsTable(groups, (one) => groupWords(split, one), lengths, level),
          { class: 'groups' },
        )
      : null,
    folded('Which side', shares(row, level)),
    folded('10th to 90th percentile', directions(row, lengths)),
    shapesPart(found.shapes, lengths, level, false),
  ];
}

/** The name of a group: a setup by its day, "2026-06-22 stiffer shaft". @param {string} split @param {string} group */
function groupWords(split, group) {
  const parts = split === 'setup' ? /^(\d{4}-\d\d-\d\d) (.*)$/.exec(group) : null;
  return parts ? `since ${day(parts[1])}: ${parts[2]}` : group;
}

/** @param {any} found */
function caution({ caution: words, level }) {
  return h('p', { class: 'hint' }, `${words} Intervals at ${percent(level)}, by whole rounds.`);
}
