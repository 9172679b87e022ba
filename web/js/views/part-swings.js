/** Part swings: whether a shot with something taken off goes as far as it was meant to. */
import { whiskerChart } from '../charts/whisker-chart.js';
import { figure } from '../charts/figure.js';
import { h } from '../ui/elements.js';
import { method } from '../ui/fold.js';
import { counted } from '../ui/words.js';
import { addressOf } from './address.js';
import { lengthsIn } from './lengths.js';
import { bagTable } from './pattern-bag.js';
import { bagPath } from './shapes-view.js';
import { signed } from './words.js';

export const name = 'Part swings';

/** @param {import('./page.js').Context} context */
export function paths(context) {
  return { needed: [bagPath(context)] };
}

/** @param {import('./asking.js').Answer[]} answers @param {import('./page.js').Context} context */
export function build([bag], context) {
  const found = bag.value;
  const lengths = lengthsIn(context.units);
  const silent = (/** @type {any} */ row) => Number(row.long.centre.low === null);
  const rows = found.patterns
    .filter((/** @type {any} */ row) => row.swing === 'part')
    .sort((/** @type {any} */ a, /** @type {any} */ b) => silent(a) - silent(b));
  if (!rows.length)
    return [
      h('p', { class: 'empty' }, 'No part swing with a known finish in these rounds.'),
      h('p', null, 'Mark a swing as part and tap where the ball finished: then it counts here.'),
    ];
  const address = (/** @type {any} */ row) =>
    `#/${addressOf(context.player, 'patterns', { ...context.filters, club: row.club, swing: 'part' })}`;
  const whiskers = rows.map((/** @type {any} */ row) => {
    const { value, low, high } = row.long.centre;
    const of = (/** @type {number|null} */ yards) => (yards === null ? null : lengths.of(yards));
    return { label: row.club, aside: counted(row.shots, 'shot'), value: of(value) ?? 0, low: of(low), high: of(high) };
  });
  const words = {
    title: `Part swings: long or short of the target, ${lengths.unit}`,
    description:
      'For each club the average finish against the target with its interval, left of zero short, right of it long. The table has every number.',
    left: '← short',
    right: 'long →',
    signed,
  };
  return [
    h('p', { class: 'verdict' }, answerWords(rows)),
    spread(rows, lengths),
    figure(
      (room) => whiskerChart(whiskers, words, room),
      /** @type {HTMLElement} */ (bagTable(found, lengths, address).part),
    ),
    method(
      h('p', null, `${found.caution} Part swings with a target and a tapped finish, from tee, fairway and fringe.`),
    ),
  ];
}

/** @param {any[]} rows */
function answerWords(rows) {
  const names = (/** @type {(row: any) => boolean} */ lies) => rows.filter(lies).map((row) => row.club);
  const short = names(({ long: { centre } }) => centre.high !== null && centre.high < 0);
  const long = names(({ long: { centre } }) => centre.low !== null && centre.low > 0);
  const parts = [
    short.length ? `Your part swings finish short with ${short.join(', ')}` : '',
    long.length ? `${short.length ? 'long' : 'Your part swings finish long'} with ${long.join(', ')}` : '',
  ].filter(Boolean);
  return parts.length ? `${parts.join(', ')}.` : 'No clear bias in the length of your part swings.';
}

/** The figure of the club with the most part swings. @param {any[]} rows @param {import('./lengths.js').Lengths} lengths */
function spread(rows, lengths) {
  const [most] = [...rows].sort((a, b) => b.shots - a.shots);
  const { value, low, high } = most.long.spread;
  if (value === null || value === undefined) return null;
  const known = low !== null && low !== undefined;
  return h(
    'p',
    { class: 'big-score' },
    h('span', { class: 'number' }, `±${lengths.number(value, 1)}`),
    ` ${lengths.unit} of length with the ${most.club}`,
    known ? h('span', { class: 'incomplete' }, ` (${lengths.number(low, 1)} to ${lengths.number(high, 1)})`) : null,
  );
}
