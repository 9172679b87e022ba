/** The options of a plan: the good ones in sight, those that cost more folded. */
import { h } from '../ui/elements.js';
import { counted, gained } from '../ui/words.js';
import { addressOf } from './address.js';
import { table, valueCell } from '../charts/figure.js';
import { aimWords, of100, shapeWords, strokes } from './plan-words.js';
import { percent } from './words.js';

/** @typedef {import('./page.js').Context} Context */

const NEAR_STROKES = 0.3; // a choice of this tool
const ROUNDING = 1e-9;
const BEST_WORDS = 'Every club at its best aim, with the 90 % interval';
const COSTLY_WORDS = 'Clubs that cost more, at their best aims';

/**
 * The options as good as the best or nearly so, and the others folded. @param {any} plan @param {any} shown the option that is drawn
 * @param {import('./lengths.js').Lengths} lengths @param {Context} context
 */
export function optionsPart(plan, shown, lengths, context) {
  const { near, costly } = byCost(plan.options);
  return h(
    'div',
    { class: 'plan-options' },
    clubs(BEST_WORDS, near, plan, shown, lengths, context),
    costly.length
      ? h(
          'details',
          { class: 'plan-costly', open: costly.includes(shown) },
          h('summary', null, costlyWords(costly)),
          clubs(COSTLY_WORDS, costly, plan, shown, lengths, context),
        )
      : null,
    ...shapeWords(othersThan(plan), lengths).map((words) => h('p', { class: 'plan-shape' }, words)),
  );
}

/** The shapes of the other clubs: that of the best is in the answer. @param {any} plan */
function othersThan({ shapes, options }) {
  return { shapes: (shapes ?? []).filter((/** @type {any} */ one) => one.club !== options[0]?.club) };
}

/** Options within 0.3 strokes of the best, and those that cost more. @param {any[]} options best first @returns {{near: any[], costly: any[]}} */
export function byCost(options) {
  const most = Math.min(...options.map((one) => one.expected)) + NEAR_STROKES + ROUNDING;
  return { near: options.filter((one) => one.expected <= most), costly: options.filter((one) => one.expected > most) };
}

/** @param {any[]} costly @returns {string} */
export function costlyWords(costly) {
  const many = costly.length > 1;
  return `${costly.length} more ${many ? 'clubs cost' : 'club costs'} more than ${NEAR_STROKES} strokes`;
}

/** @param {string} caption @param {any[]} options @param {any} plan @param {any} shown @param {import('./lengths.js').Lengths} lengths @param {Context} context */
function clubs(caption, options, plan, shown, lengths, { player, filters }) {
  const best = plan.options[0];
  const rows = options.map((/** @type {any} */ option) => [
    [
      h(
        'a',
        {
          class: 'cell-link',
          href: `#/${addressOf(player, 'plan', { ...filters, option: option.name })}`,
          'aria-current': option === shown ? 'true' : null,
        },
        option.name,
      ),
      h('span', { class: 'list-under' }, aimWords(option, lengths)),
      h('span', { class: 'list-under' }, `${lengths.words(option.reach_yd)}, ${counted(option.shots, 'shot')}`),
    ],
    valueCell(
      strokes(option.expected),
      option.low === null || option.high === null ? '–' : `${strokes(option.low)} to ${strokes(option.high)}`,
    ),
    valueCell(
      option === best ? 'best' : gained(option.expected - best.expected),
      option.chance_best === undefined ? '' : `best in ${of100(option.chance_best)}`,
    ),
    ['fairway', 'green', 'trouble'].map((end) =>
      h('span', { class: 'share' }, `${end} ${percent(option.shares[end])}`),
    ),
  ]);
  return table(caption, ['club, aim', 'strokes', 'costs', 'where it ends'], rows);
}
