/** The drawing of a plan: the hole to scale, the landings of one option, its aim line, the ball and the flag, all named where they lie. */
import { place as rounded, picture, svg } from './drawing.js';
import { flag, ground, standing, wholeHole } from './hole-drawing.js';
import { distances } from './hole-distances.js';
import { names } from './hole-names.js';
import { aimPoint, landingsOf } from './plan-places.js';

/** @typedef {import('./hole-drawing.js').Window} Window */

const GOOD = ['fairway', 'green'];
const OTHER = ['rough'];
const [LEAST_MARK, MOST_MARK, MARK_YD] = [1.9, 3.2, 1.6]; // pixels, and the yards between them
const TALL = 1.3; // height over width, at most
const CLOSE = { aside: 55, before: 70, behind: 50 }; // yards around the landings

/** What is drawn: the full hole, or where the balls come down. @param {any} plan @param {any} option @param {boolean} close @returns {Window} */
export function windowOf(plan, option, close) {
  const full = wholeHole(plan.features, { aside: 45 });
  const [x, y] = aimPoint(plan, option);
  if (close) return [x - CLOSE.aside, y - CLOSE.before, x + CLOSE.aside, y + CLOSE.behind];
  const spots = [plan.from, plan.pin, [x, y]];
  return [
    Math.min(full[0], ...spots.map(([at]) => at - 25)),
    Math.min(plan.from[1] - 15, Math.max(full[1], plan.from[1] - 40)),
    Math.max(full[2], ...spots.map(([at]) => at + 25)),
    full[3],
  ];
}

/**
 * @param {any} plan @param {any} option @param {{close: boolean, lengths: import('../views/lengths.js').Lengths, words: string}} how
 * @param {import('./whisker-chart.js').Room} room @returns {SVGElement}
 */
export function planDrawing(plan, option, { close, lengths, words }, { width, rem, id }) {
  const frame = standing(windowOf(plan, option, close), width, Math.max(26 * rem, Math.min(width * TALL, 44 * rem)));
  const [ballX, ballY] = frame.place(plan.from[0], plan.from[1]);
  const [aimX, aimY] = frame.place(...aimPoint(plan, option));
  const landings = landingsOf(plan, option).map(({ x, y, end }) => ({ at: frame.place(x, y), end }));
  const marks = landings.map(({ at, end }) => landingMark(at, end, markSize(frame.scale)));
  /** @type {import('./hole-distances.js').Box[]} */
  const taken = [];
  const cut = `url(#${id}-clip)`;
  return picture(
    { width, height: frame.height, title: `${option.name} on hole ${plan.hole.number}`, description: words, id },
    ground(plan.features, frame, id),
    svg('g', { 'clip-path': cut, class: 'landings' }, ...marks),
    svg(
      'g',
      { 'clip-path': cut },
      svg('path', { d: `M${rounded(ballX)},${rounded(ballY)} L${rounded(aimX)},${rounded(aimY)}`, class: 'aim-line' }),
      svg('circle', { cx: aimX, cy: aimY, r: 8, class: 'aim-ring' }),
      svg('circle', { cx: ballX, cy: ballY, r: 5, class: 'ball-mark' }),
      flag(plan.pin[0], plan.pin[1], frame),
    ),
    distances(plan, option, frame, rem, lengths, taken),
    ...names(
      plan,
      landings.map(({ at: [x, y], end }) => ({ x, y, end, kind: kindOf(end) })),
      frame,
      rem,
      taken,
    ),
  );
}

/** Small where the full hole is drawn, larger close by. @param {number} scale pixels a yard @returns {number} pixels */
function markSize(scale) {
  return Math.min(MOST_MARK, Math.max(LEAST_MARK, MARK_YD * scale));
}

/** @param {string} end what lies there @returns {'good'|'other'|'trouble'} */
function kindOf(end) {
  if (GOOD.includes(end)) return 'good';
  return OTHER.includes(end) ? 'other' : 'trouble';
}

/** The mark of a landing as it is in a sentence. @param {string} end what lies there */
export function markInWords(end) {
  return svg(
    'svg',
    { width: 12, height: 12, 'aria-hidden': 'true', class: 'mark-in-words' },
    landingMark([6, 6], end, MOST_MARK),
  );
}

/** @param {[number, number]} spot @param {string} end what lies there @param {number} size pixels @returns {SVGElement} */
function landingMark([x, y], end, size) {
  if (kindOf(end) === 'good') return svg('circle', { cx: x, cy: y, r: size, class: 'landing good' });
  if (kindOf(end) === 'other') return svg('circle', { cx: x, cy: y, r: size, class: 'landing other' });
  const arm = size * 1.2;
  const d = `M${rounded(x - arm)},${rounded(y - arm)} l${rounded(2 * arm)},${rounded(2 * arm)} m0,${rounded(-2 * arm)} l${rounded(-2 * arm)},${rounded(2 * arm)}`;
  return svg('path', { d, class: 'landing trouble' });
}
