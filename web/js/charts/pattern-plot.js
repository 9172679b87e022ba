/**
 * Finishes against the target, to scale: the same number of pixels a yard both ways, straight ahead is up.
 *
 * @typedef {{right: number, long: number, aside: boolean}} Finish in the player's unit
 * @typedef {{right: number, long: number, halfLong: number, halfShort: number, turned: number}} EllipseMark turned: degrees from straight ahead, right positive
 * @typedef {{right: [number, number, number], long: [number, number, number]}} CentreMark each low, value, high
 * @typedef {{title: string, description: string, left: string, right: string, short: string, long: string, unit: string, shares?: Record<'left'|'right'|'short'|'long', number>, centre?: string, oval?: string, keys?: string[]}} PlotWords
 * `shares`: of all shots, a stroke at the edge for each twentieth; `keys`: what a stroke and an open dot are, a line each; `centre`, `oval`: what these marks are
 */
import { tally, tallyLength } from './pencil.js';
import { dot, extent, linearScale, picture, standingWhisker, svg, text, ticks, whisker } from './drawing.js';

const LETTER = 0.55; // of the text size
const FAR = 0.5; // of the pattern's width: what lies farther beyond it is marked at the edge
const TALLEST = 1.15; // of the width
const TALLEST_REM = 30;
const LEAST_REM = 13;
const LEAST_SPAN = 10; // yards or metres

/** @param {{finishes: Finish[], ellipses: EllipseMark[], centre: CentreMark|null}} pattern @param {PlotWords} words @param {import('./whisker-chart.js').Room} room */
export function patternPlot({ finishes, ellipses, centre }, words, { width, rem, id }) {
  const gutter = 2.6 * rem;
  const frame = { left: gutter, right: width - 0.8 * rem };
  const { across, up, scale } = domains(finishes, ellipses, centre, frame.right - frame.left, rem);
  const { keys = [] } = words;
  const two = (words.left.length + words.right.length + words.long.length + 4) * LETTER * rem > width; // no room for all three in one line
  const top = (two ? 2.9 : 1.7) * rem;
  const bottom = top + (up[1] - up[0]) * scale;
  const x = linearScale(across, [frame.left, frame.right]);
  const y = linearScale(up, [bottom, top]);
  const middle = (frame.left + frame.right) / 2;
  return picture(
    { width, height: bottom + (2.9 + 1.1 * keys.length) * rem, title: words.title, description: words.description, id },
    text(frame.left, 1.1 * rem, words.left, 'start', 'axis-words'),
    text(frame.right, 1.1 * rem, words.right, 'end', 'axis-words'),
    text(middle, (two ? 2.3 : 1.1) * rem, words.long, 'middle', 'axis-words'),
    text(middle, bottom + 2.5 * rem, words.short, 'middle', 'axis-words'),
    ...grid(across, up, x, y, { ...frame, top, bottom }, rem),
    ...ellipses.map((one) => ellipseMark(one, x, y, scale)),
    ...finishes.map((one) => finishMark(one, across, up, x, y, rem)),
    targetMark(x(0), y(0), 0.55 * rem),
    ...(centre ? centreMarks(centre, x, y) : []),
    ...(words.shares ? edgeTallies(words.shares, { ...frame, top, bottom }, [x(0), y(0)], rem) : []),
    ...keys.map((line, row) => text(frame.left, bottom + (3.6 + 1.1 * row) * rem, line, 'start', 'direct')),
    ...directLabels({ ellipses, centre }, words, x, y, { ...frame, top, bottom }, rem),
  );
}

const STROKES = 20; // of all shots: one for each 5 %

/**
 * How many shots lie to each side, counted with a pencil along that edge: left and right downwards, long and short across.
 * They begin beside the lines through the target. @param {Record<'left'|'right'|'short'|'long', number>} shares
 * @param {{left: number, right: number, top: number, bottom: number}} frame @param {[number, number]} target @param {number} rem
 */
function edgeTallies(shares, frame, [x0, y0], rem) {
  const size = 0.6 * rem;
  const gap = 0.25 * rem;
  const strokes = (/** @type {'left'|'right'|'short'|'long'} */ name) => Math.round(STROKES * shares[name]);
  const from = (/** @type {number} */ line, /** @type {number} */ end, /** @type {number} */ count) =>
    Math.min(line + 0.6 * rem, end - tallyLength(count, size) - gap);
  const lying = (/** @type {'left'|'right'} */ name, /** @type {number} */ x) =>
    tally(strokes(name), x, from(y0, frame.bottom, strokes(name)), size, true);
  const standing = (/** @type {'long'|'short'} */ name, /** @type {number} */ y) =>
    tally(strokes(name), from(x0, frame.right, strokes(name)), y, size);
  return [
    lying('left', frame.left + gap),
    lying('right', frame.right - gap - size),
    standing('long', frame.top + gap),
    standing('short', frame.bottom - gap - size),
  ].map((d) => svg('path', { d, class: 'tally' }));
}

/**
 * The centre and the oval by name, beside them. @param {{ellipses: EllipseMark[], centre: CentreMark|null}} marks @param {PlotWords} words
 * @param {import('./drawing.js').Scale} x @param {import('./drawing.js').Scale} y @param {{left: number, right: number, top: number, bottom: number}} frame @param {number} rem
 */
function directLabels({ ellipses, centre }, words, x, y, frame, rem) {
  const written = [];
  const oval = ellipses[0];
  const put = (/** @type {string} */ name, /** @type {number} */ px, /** @type {number} */ py) => {
    const half = name.length * LETTER * 0.4375 * rem;
    if (2 * half > frame.right - frame.left) return [];
    const at = Math.min(Math.max(px, frame.left + half + rem), frame.right - half - rem);
    return [
      text(at, Math.min(Math.max(py, frame.top + 1.9 * rem), frame.bottom - 1.2 * rem), name, 'middle', 'direct'),
    ];
  };
  if (oval && words.oval)
    written.push(...put(words.oval, x(oval.right), y(oval.long - halfSizes(oval).long) + 1.1 * rem));
  if (centre && words.centre) written.push(...put(words.centre, x(centre.right[1]), y(centre.long[1]) - 0.8 * rem));
  return written;
}

/**
 * What the axes show, and pixels a unit: all of the pattern; shots set aside too unless they lie far beyond it.
 * @param {Finish[]} finishes @param {EllipseMark[]} ellipses @param {CentreMark|null} centre @param {number} room pixels @param {number} rem
 */
function domains(finishes, ellipses, centre, room, rem) {
  const near = finishes.filter((one) => !one.aside);
  const axis = (/** @type {'right'|'long'} */ name) => {
    const own = [
      0,
      ...near.map((one) => one[name]),
      ...ellipses.flatMap((one) => [one[name] - halfSizes(one)[name], one[name] + halfSizes(one)[name]]),
      ...(centre ? [centre[name][1]] : []),
    ];
    const [low, high] = extent(own, { least: LEAST_SPAN, room: 0 });
    const margin = FAR * (high - low);
    const aside = finishes
      .filter((one) => one.aside && one[name] > low - margin && one[name] < high + margin)
      .map((one) => one[name]);
    return extent([low, high, ...aside], { room: 0.05 });
  };
  const [across, up] = [axis('right'), axis('long')];
  const tallest = Math.min(room * TALLEST, TALLEST_REM * rem);
  const scale = Math.min(room / (across[1] - across[0]), tallest / (up[1] - up[0]));
  return {
    across: widened(across, room / scale),
    up: widened(up, Math.min((LEAST_REM * rem) / scale, tallest / scale)),
    scale,
  };
}

/** A range with its middle kept and at least this span. @param {[number, number]} range @param {number} span @returns {[number, number]} */
function widened([low, high], span) {
  const lacking = Math.max(0, span - (high - low)) / 2;
  return [low - lacking, high + lacking];
}

/** Half the width and height of the upright box around an ellipse. @param {EllipseMark} ellipse */
function halfSizes({ halfLong, halfShort, turned }) {
  const angle = (turned * Math.PI) / 180;
  return {
    right: Math.hypot(halfLong * Math.sin(angle), halfShort * Math.cos(angle)),
    long: Math.hypot(halfLong * Math.cos(angle), halfShort * Math.sin(angle)),
  };
}

/** @param {EllipseMark} ellipse @param {import('./drawing.js').Scale} x @param {import('./drawing.js').Scale} y @param {number} scale */
function ellipseMark({ right, long, halfLong, halfShort, turned }, x, y, scale) {
  const [cx, cy] = [x(right), y(long)];
  return svg('ellipse', {
    cx,
    cy,
    rx: halfShort * scale,
    ry: halfLong * scale,
    transform: `rotate(${turned.toFixed(2)} ${cx.toFixed(2)} ${cy.toFixed(2)})`,
    class: 'next-shot',
  });
}

/** A finish; beyond the picture a small arrow at its edge. @param {Finish} one @param {[number, number]} across @param {[number, number]} up @param {import('./drawing.js').Scale} x @param {import('./drawing.js').Scale} y @param {number} rem */
function finishMark({ right, long, aside }, across, up, x, y, rem) {
  const at = [Math.min(Math.max(right, across[0]), across[1]), Math.min(Math.max(long, up[0]), up[1])];
  const [px, py] = [x(at[0]), y(at[1])];
  if (at[0] === right && at[1] === long)
    return svg('circle', { cx: px, cy: py, r: Math.max(2.5, 0.2 * rem), class: `finish${aside ? ' aside' : ''}` });
  const turn = (Math.atan2(right - at[0], long - at[1]) * 180) / Math.PI;
  return svg('path', {
    d: 'M-4.5,7 L0,0 L4.5,7',
    transform: `translate(${px.toFixed(2)} ${py.toFixed(2)}) rotate(${turn.toFixed(1)})`,
    class: 'finish beyond',
  });
}

/** @param {number} x @param {number} y @param {number} radius */
export function targetMark(x, y, radius) {
  const far = radius * 1.5;
  return svg(
    'g',
    { class: 'target' },
    svg('circle', { cx: x, cy: y, r: radius }),
    svg('path', {
      d: `M${(x - far).toFixed(2)},${y.toFixed(2)} H${(x + far).toFixed(2)} M${x.toFixed(2)},${(y - far).toFixed(2)} V${(y + far).toFixed(2)}`,
    }),
  );
}

/** @param {CentreMark} centre @param {import('./drawing.js').Scale} x @param {import('./drawing.js').Scale} y */
function centreMarks({ right, long }, x, y) {
  const [cx, cy] = [x(right[1]), y(long[1])];
  return [
    whisker(x(right[0]), x(right[2]), cy, { at: cx }),
    standingWhisker(cx, y(long[2]), y(long[0]), { at: cy }),
    dot(cx, cy, { shape: 'diamond', radius: 5 }),
  ];
}

/**
 * Lines of the same step both ways. @param {[number, number]} across @param {[number, number]} up @param {import('./drawing.js').Scale} x @param {import('./drawing.js').Scale} y
 * @param {{left: number, right: number, top: number, bottom: number}} frame @param {number} rem
 */
function grid(across, up, x, y, frame, rem) {
  const { values } = ticks(across[0], across[1], Math.max(3, Math.floor((frame.right - frame.left) / (2.7 * rem))));
  const step = values.length > 1 ? values[1] - values[0] : across[1] - across[0];
  const first = Math.ceil(up[0] / step);
  const heights = Array.from({ length: Math.floor(up[1] / step) - first + 1 }, (_, index) => (first + index) * step);
  const number = (/** @type {number} */ value) => String(Math.abs(Math.round(value)));
  return [
    ...values.map((value) =>
      svg('path', {
        d: `M${x(value).toFixed(2)},${frame.top.toFixed(2)} V${frame.bottom.toFixed(2)}`,
        class: value === 0 ? 'zero-line' : 'grid-line',
      }),
    ),
    ...heights.map((value) =>
      svg('path', {
        d: `M${frame.left.toFixed(2)},${y(value).toFixed(2)} H${frame.right.toFixed(2)}`,
        class: value === 0 ? 'zero-line' : 'grid-line',
      }),
    ),
    ...values.map((value) => text(x(value), frame.bottom + 1.2 * rem, number(value), 'middle', 'axis-number')),
    ...heights
      .filter((value) => y(value) > frame.top + 0.4 * rem)
      .map((value) => text(frame.left - 0.4 * rem, y(value) + 0.3 * rem, number(value), 'end', 'axis-number')),
  ];
}
