/** The hole of a plan: its drawing, where one option's balls end, what the marks mean. */
import { choices, h } from '../ui/elements.js';
import { figure } from '../charts/figure.js';
import { greenWords } from '../charts/hole-distances.js';
import { markInWords, planDrawing } from '../charts/plan-drawing.js';
import { optionsPart } from './plan-options.js';
import { aimWords, capital, strokes } from './plan-words.js';
import { percent } from './words.js';

/** @typedef {import('./page.js').Context} Context */

/** @param {any} plan @param {any} option @param {import('./lengths.js').Lengths} lengths @param {Context} context */
export function holePart(plan, option, lengths, context) {
  const { session, change } = context;
  const close = session.state.planClose;
  const best = option === plan.options[0];
  const green = greenWords(plan, option, lengths);
  const words = `The hole drawn to scale, ${option.landings.ends.length} likely landings of ${option.name} around its aim, ${lengths.words(option.reach_yd)} away, ${aimWords(option, lengths)}: ${shareWords(option)}. ${green ?? ''} The table has the numbers of every club.`;
  const look = choices(
    'What is drawn',
    [
      ['whole', 'Whole hole'],
      ['close', 'Where it lands'],
    ],
    close ? 'close' : 'whole',
    (value) => {
      session.state.planClose = value === 'close';
      change({});
    },
    { id: 'look' },
  );
  return h(
    'section',
    { class: 'plan-hole' },
    h('h2', { class: best ? 'hidden' : null }, `${capital(option.name)}: ${aimWords(option, lengths)}`),
    figure(
      (room) => planDrawing(plan, option, { close, lengths, words }, room),
      optionsPart(plan, option, lengths, context),
      h(
        'p',
        { class: 'plan-shares' },
        best ? null : `${strokes(option.expected)} strokes: `,
        sharesOf(option).map(({ words, share, end }, place) => [
          place ? ', ' : null,
          h('span', { class: 'share-part' }, markInWords(end), ` ${percent(share)} ${words}`),
        ]),
        `. ${green ?? ''}`,
      ),
      h('div', { class: 'plan-under no-print' }, look),
    ),
  );
}

/** Where the balls end, each share with its words and the mark of its landings. @param {any} option */
function sharesOf({ shares }) {
  return [
    { words: 'on the fairway', share: shares.fairway, end: 'fairway' },
    { words: 'on the green', share: shares.green, end: 'green' },
    { words: 'in the rough', share: shares.rough, end: 'rough' },
    { words: 'in trouble', share: shares.trouble, end: 'trouble' },
  ].filter(({ share }) => share >= 0.005);
}

/** @param {any} option */
function shareWords(option) {
  return sharesOf(option)
    .map(({ words, share }) => `${percent(share)} ${words}`)
    .join(', ');
}
