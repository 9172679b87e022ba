/** The drawing of a plan: the hole to scale, the landings of one option, its aim line, the ball and the flag. */
import { h } from '../ui/elements.js';
import { legend } from './figure.js';
import { place as rounded, picture, svg } from './drawing.js';
import { KIND_WORDS, arcs, flag, ground, kindsOf, standing, swatch, wholeHole } from './hole-drawing.js';

/** @typedef {import('./hole-drawing.js').Window} Window */

const GOOD = ['fairway', 'green'];
const OTHER = ['rough'];
const MARK = 3; // pixels
const CLOSE = { aside: 55, before: 70, behind: 50 }; // yards around the landings

/** Places of an option's sample, in the map's yards. @param {any} plan @param {any} option @returns {{x: number, y: number, end: string}[]} */
export function landingsOf({ from }, { aim_deg, landings }) {
  const turn = (aim_deg * Math.PI) / 180;
  return landings.right_yd.map((/** @type {number} */ right, /** @type {number} */ place) => {
    const along = landings.along_yd[place];
    return {
      x: from[0] + Math.sin(turn) * along + Math.cos(turn) * right,
      y: from[1] + Math.cos(turn) * along - Math.sin(turn) * right,
      end: landings.ends[place],
    };
  });
}

/** The point that an option is aimed at. @param {any} plan @param {any} option @returns {[number, number]} */
export function aimPoint({ from }, { aim_deg, reach_yd }) {
  const turn = (aim_deg * Math.PI) / 180;
  return [from[0] + Math.sin(turn) * reach_yd, from[1] + Math.cos(turn) * reach_yd];
}

/** What is drawn: the whole hole, or where the balls come down. @param {any} plan @param {any} option @param {boolean} close @returns {Window} */
export function windowOf(plan, option, close) {
  const whole = wholeHole(plan.features, { aside: 45 });
  const [x, y] = aimPoint(plan, option);
  if (close) return [x - CLOSE.aside, y - CLOSE.before, x + CLOSE.aside, y + CLOSE.behind];
  const spots = [plan.from, plan.pin, [x, y]];
  return [
    Math.min(whole[0], ...spots.map(([at]) => at - 25)),
    Math.min(plan.from[1] - 15, Math.max(whole[1], plan.from[1] - 40)),
    Math.max(whole[2], ...spots.map(([at]) => at + 25)),
    whole[3],
  ];
}

/**
 * @param {any} plan @param {any} option @param {{close: boolean, lengths: import('../views/lengths.js').Lengths, words: string}} how
 * @param {import('./whisker-chart.js').Room} room @returns {SVGElement}
 */
export function planDrawing(plan, option, { close, lengths, words }, { width, rem, id }) {
  const frame = standing(windowOf(plan, option, close), width, Math.max(26 * rem, Math.min(width * 1.25, 44 * rem)));
  const [ballX, ballY] = frame.place(plan.from[0], plan.from[1]);
  const [aimX, aimY] = frame.place(...aimPoint(plan, option));
  const marks = landingsOf(plan, option).map(({ x, y, end }) => landingMark(frame.place(x, y), end));
  const cut = `url(#${id}-clip)`;
  return picture(
    { width, height: frame.height, title: `${option.name} on hole ${plan.hole.number}`, description: words, id },
    ground(plan.features, frame, id),
    arcs(plan.from, 50, frame, rem, id, (yards) => lengths.words(yards)),
    svg('g', { 'clip-path': cut, class: 'landings' }, ...marks),
    svg(
      'g',
      { 'clip-path': cut },
      svg('path', { d: `M${rounded(ballX)},${rounded(ballY)} L${rounded(aimX)},${rounded(aimY)}`, class: 'aim-line' }),
      svg('circle', { cx: aimX, cy: aimY, r: 8, class: 'aim-ring' }),
      svg('circle', { cx: ballX, cy: ballY, r: 5, class: 'ball-mark' }),
      flag(plan.pin[0], plan.pin[1], frame),
    ),
  );
}

/** @param {[number, number]} spot @param {string} end what lies there @returns {SVGElement} */
function landingMark([x, y], end) {
  if (GOOD.includes(end)) return svg('circle', { cx: x, cy: y, r: MARK, class: 'landing good' });
  if (OTHER.includes(end)) return svg('circle', { cx: x, cy: y, r: MARK, class: 'landing other' });
  return svg('path', { d: `M${rounded(x - MARK)},${rounded(y - MARK)} l6,6 m0,-6 l-6,6`, class: 'landing trouble' });
}

/** What the marks and grounds mean. @param {any} plan @param {string} id of its own */
export function planLegend(plan, id) {
  const mark = (/** @type {string} */ end) =>
    svg('svg', { width: 16, height: 16, 'aria-hidden': 'true' }, landingMark([8, 8], end));
  const aim = svg(
    'svg',
    { width: 26, height: 16, 'aria-hidden': 'true' },
    svg('path', { d: 'M0,8 H14', class: 'aim-line' }),
    svg('circle', { cx: 18, cy: 8, r: 6, class: 'aim-ring' }),
  );
  const grounds = kindsOf(plan.features).map(
    (kind) => /** @type {[SVGElement, string]} */ ([swatch(kind, id), KIND_WORDS[kind]]),
  );
  return h(
    'div',
    null,
    legend([
      [aim, 'aim'],
      [mark('fairway'), 'ends on fairway or green'],
      [mark('rough'), 'in the rough'],
      [mark('sand'), 'in trouble'],
    ]),
    legend(grounds),
  );
}
