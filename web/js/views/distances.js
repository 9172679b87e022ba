/** The distance ladder: how far each club's full swing goes, and where the steps to the next are too wide or too narrow. */
import { plain } from '../game/numbers.js';
import { h } from '../ui/elements.js';
import { folded, method } from '../ui/fold.js';
import { counted } from '../ui/words.js';
import { queryOf } from './address.js';
import { boxChart } from '../charts/box-chart.js';
import { airSettings, airWords, flagSettings } from './distance-settings.js';
import { countCell, figure, table, valueCell } from '../charts/figure.js';
import { NOTHING, lengthsIn } from './lengths.js';
import { BOX_MARKS } from './pattern-parts.js';
import { whyNot } from './page.js';
import { TOO_FEW } from '../charts/whisker-chart.js';
import { clubsAgainstCourse, differencePaths, practiceCounted } from './practice-difference.js';
import { bigFigure, percent, sureOrNot } from './words.js';

export const name = 'Distances';

/** @typedef {import('./lengths.js').Lengths} Lengths */

/** @param {import('./page.js').Context} context */
export function paths(context) {
  const { player, filters } = context;
  const { gap, overlap, temperature, altitude, wind, source, from, to, kind, course } = filters;
  const corrected = Boolean(temperature || altitude || wind); // the base alone corrects nothing
  const query = queryOf([
    ['gap_yd', gap],
    ['overlap', overlap],
    ['temperature_c', temperature],
    ['altitude_m', altitude],
    ['head_wind_mph', wind],
    ['measured_at_c', corrected ? filters.measured_c : ''],
    ['measured_at_m', corrected ? filters.measured_m : ''],
    ['source', source],
    ['from', from],
    ['to', to],
    ['kind', kind],
    ['course', course],
  ]);
  return {
    needed: [],
    wished: [`/api/players/${encodeURIComponent(player)}/distances${query}`, ...differencePaths(context)],
  };
}

/** @param {import('./asking.js').Answer[]} answers @param {import('./page.js').Context} context */
export function build([answer, beside], context) {
  const lengths = lengthsIn(context.units);
  const found = answer.value;
  const settings = h(
    'div',
    { class: 'ladder-settings' },
    flagSettings(found?.settings, lengths, context),
    airSettings(Boolean(found?.air), context),
  );
  if (!found) return [whyNot(answer.failure), settings];
  if (!found.clubs.length)
    return [
      h(
        'p',
        { class: 'empty' },
        `No full swing with a known distance in ${found.source === 'practice' ? 'this practice' : 'these rounds'}.`,
      ),
      h(
        'p',
        null,
        'A full swing from tee, fairway or fringe counts once its finish is recorded, or when it was meant to stop 80 yd or more short of the hole and three such swings of the club are known.',
      ),
    ];
  return [
    headline(found, lengths),
    practiceCounted(found),
    airWords(found.air),
    ladder(found, lengths),
    folded('What is flagged, and why', flags(found, lengths)),
    folded('Steps between clubs', steps(found, lengths)),
    folded('Practice against the course', clubsAgainstCourse(beside?.value, lengths)),
    settings,
    method(
      h(
        'p',
        { class: 'hint' },
        'Full swings from tee, fairway and fringe, to where the ball came to rest; mishits count.',
      ),
      cautions(found),
    ),
  ];
}

/** What a club's length rests on: shots, or the balls of practice where there is nothing else. @param {any} found @param {any} rung */
export function countedBalls({ source }, rung) {
  if (rung.practice_balls) return counted(rung.practice_balls, 'practice ball');
  return counted(rung.shots, source === 'practice' ? 'practice ball' : 'shot');
}

/** @param {any} found @param {Lengths} lengths */
function headline({ clubs, steps: given, level }, lengths) {
  const of = (/** @type {string} */ flag) => given.filter((/** @type {any} */ step) => step.flag === flag);
  const [gaps, overlaps] = [of('gap'), of('overlap')];
  const sure = [...gaps, ...overlaps].filter((step) => step.sure).length;
  const flagged = gaps.length + overlaps.length;
  const parts = [
    gaps.length ? counted(gaps.length, 'gap') : null,
    overlaps.length ? counted(overlaps.length, 'overlap') : null,
  ]
    .filter(Boolean)
    .join(' and ');
  const words = flagged
    ? `${parts} between ${counted(clubs.length, 'club')}; ${sure === flagged ? 'sure' : `${sure ? sure : 'none'} of them sure`}.`
    : 'No clear gap and no clear overlap.';
  return [
    h('p', { class: 'verdict' }, `${words[0].toUpperCase()}${words.slice(1)}`),
    widest(
      given.filter((/** @type {any} */ step) => step.gap_yd.low !== null),
      level,
      lengths,
    ),
  ];
}

/** The widest step from a club to the next, with its interval. @param {any[]} steps @param {number} level @param {Lengths} lengths */
function widest(steps, level, lengths) {
  const [one] = [...steps].sort((a, b) => b.gap_yd.value - a.gap_yd.value);
  if (!one) return null;
  const { value, low, high } = one.gap_yd;
  return bigFigure(
    lengths.words(value),
    ` from ${one.longer} to ${one.shorter}, the widest step`,
    `between ${lengths.number(low)} and ${lengths.words(high)} with ${percent(level)} confidence`,
  );
}

/** @param {any} found @param {Lengths} lengths */
function ladder(found, lengths) {
  const rows = found.clubs.map((/** @type {any} */ rung, /** @type {number} */ index) => {
    const step = found.steps[index];
    const next = found.clubs[index + 1];
    const pair = (/** @type {number[]|null} */ two) =>
      two ? /** @type {[number, number]} */ (two.map(lengths.of)) : null;
    const flagged = step && ['gap', 'overlap'].includes(step.flag);
    return {
      label: rung.club,
      aside: `${lengths.words(rung.median.value)} · ${countedBalls(found, rung)}`,
      count: rung.practice_balls || rung.shots,
      middle: lengths.of(rung.median.value),
      box: pair(rung.middle_half),
      whisker: pair(rung.tenth_to_ninetieth),
      after: flagged
        ? {
            from: lengths.of(next.median.value),
            to: lengths.of(rung.median.value),
            words: `${short(step, lengths)}${step.sure ? '' : '?'}`,
          }
        : null,
    };
  });
  const title = `Full-swing distance by club, ${lengths.unit}`;
  const description =
    'For each club, longest first, the median, the middle half and the 10th to 90th percentile; between clubs a bracket where a gap or an overlap is flagged. The table has the numbers.';
  const words = {
    title,
    description,
    left: lengths.unit,
    right: '',
    number: (/** @type {number} */ value) => plain(value, 0),
    marks: BOX_MARKS,
  };
  return h(
    'section',
    null,
    figure((room) => boxChart(rows, words, room), ladderTable(found, lengths)),
  );
}

/** @param {any} step @param {Lengths} lengths */
function short(step, lengths) {
  return step.flag === 'gap' ? `gap ${lengths.words(step.gap_yd.value)}` : `overlap ${percent(step.overlap.value)}`;
}

/** @param {any} found @param {Lengths} lengths */
function ladderTable(found, lengths) {
  const range = (/** @type {number[]|null} */ two) =>
    two ? `${lengths.number(two[0])}–${lengths.number(two[1])}` : TOO_FEW;
  const rows = found.clubs.map((/** @type {any} */ rung) => {
    const { value, low, high } = rung.median;
    return [
      [
        h('span', null, rung.club),
        h('span', { class: 'list-under' }, countCell(rung.practice_balls || rung.shots, countedBalls(found, rung))),
      ],
      valueCell(lengths.number(value), low === null ? TOO_FEW : `${lengths.number(low)} to ${lengths.number(high)}`),
      range(rung.middle_half),
      range(rung.tenth_to_ninetieth),
    ];
  });
  return table(
    `Full swings in ${lengths.unit}: the middle with its ${percent(found.level)} interval`,
    ['club', 'middle', 'middle half', '10th to 90th percentile'],
    rows,
  );
}

/** @param {any} found @param {Lengths} lengths */
function flags(found, lengths) {
  const flagged = found.steps.filter((/** @type {any} */ step) =>
    ['gap', 'overlap', 'both on trial'].includes(step.flag),
  );
  if (!flagged.length) return null;
  return h(
    'section',
    { class: 'flags' },
    h(
      'ul',
      { class: 'list plain' },
      flagged.map((/** @type {any} */ step) =>
        h('li', null, h('strong', null, `${step.longer} and ${step.shorter}: `), reason(step, found.settings, lengths)),
      ),
    ),
  );
}

/** @param {any} step @param {any} settings @param {Lengths} lengths */
function reason({ flag, sure, longer, shorter, gap_yd: gap, overlap }, settings, lengths) {
  if (flag === 'gap') {
    const limit = lengths.words(settings.gap_yd);
    const doubt = sure
      ? `and so is all of its interval, ${lengths.number(gap.low)} to ${lengths.words(gap.high)}`
      : `not sure yet: its interval, ${lengths.number(gap.low)} to ${lengths.words(gap.high)}, reaches below`;
    return `a gap of ${lengths.words(gap.value)}, more than ${limit}; ${doubt}.`;
  }
  if (flag === 'both on trial')
    return `on the same day the ${shorter} goes further ${percent(overlap.value)} of the time. Both are on trial: one is to replace the other, so the overlap is intended.`;
  const limit = percent(settings.overlap);
  const doubt = sure
    ? `and so is all of its interval, ${percent(overlap.low)} to ${percent(overlap.high)}`
    : `not sure yet: its interval, ${percent(overlap.low)} to ${percent(overlap.high)}, reaches below`;
  return `of two shots on the same day the one with the ${shorter} goes further than the one with the ${longer} ${percent(overlap.value)} of the time, more than ${limit}; ${doubt}.`;
}

/** @param {any} found @param {Lengths} lengths */
function steps(found, lengths) {
  if (!found.steps.length) return null;
  const rows = found.steps.map((/** @type {any} */ step) => {
    const { gap_yd: gap, overlap, flag, sure } = step;
    return [
      `${step.longer} → ${step.shorter}`,
      gap.value === null
        ? NOTHING
        : valueCell(
            lengths.number(gap.value),
            gap.low === null ? TOO_FEW : `${lengths.number(gap.low)} to ${lengths.number(gap.high)}`,
          ),
      overlap.value === null
        ? NOTHING
        : valueCell(
            percent(overlap.value),
            overlap.low === null ? TOO_FEW : `${percent(overlap.low)} to ${percent(overlap.high)}`,
          ),
      sureOrNot(flag, sure),
    ];
  });
  return h(
    'section',
    { class: 'numbers' },
    table(
      `From each club to the next in ${lengths.unit}, and the chance that the shorter goes further, with the ${percent(found.level)} interval`,
      ['step', 'apart', 'overlap', 'flag'],
      rows,
    ),
    h(
      'p',
      { class: 'hint' },
      'Overlap: how often, of two shots on the same day, the shorter club’s goes further; what wind and air do to a whole day is taken out. Sure: the whole interval lies on its side of the limit. Two clubs of one distance overlap by a half.',
    ),
  );
}

/** @param {any} found */
function cautions({ caution }) {
  return h(
    'p',
    { class: 'hint' },
    `${caution[0].toUpperCase()}${caution.slice(1)}. What belongs in the bag is for the player and the coach to decide. The Committee’s local rules come first: one may ban distance devices.`,
  );
}
