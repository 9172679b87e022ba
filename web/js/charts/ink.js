/**
 * Ink on paper: lines as a hand draws them, and what fills a shape on a sketch of a hole. Everything is in pixels, and drawn from a
 * seed: the same hole looks the same each time. Pure: strings of SVG path data from points.
 *
 * @typedef {[number, number]} Spot pixels
 * @typedef {() => number} Random 0 to 1
 * @typedef {{width: number, height: number}} Sheet what is drawn on; marks stay within it
 * @typedef {{angle: number, y: number, from: number, to: number}} Row a stretch inside a shape, on axes turned by `angle`
 */
import { place } from './drawing.js';

const LOOSE = 0.55; // pixels that a hand strays from a line
const STEP = 11; // pixels between two places where it strays
const EDGE = 1; // pixels that marks keep from the edge of the sheet

/** Numbers that look drawn at random and are the same for the same words: mulberry32 over an FNV-1a hash. @param {string} words @returns {Random} */
export function seeded(words) {
  let state = 0x811c9dc5;
  for (let at = 0; at < words.length; at += 1) state = Math.imul(state ^ words.charCodeAt(at), 0x01000193);
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** @param {Random} random @param {number} most @returns {number} -most to most, small ones more often */
function stray(random, most) {
  return (random() + random() - 1) * most;
}

/** @param {Spot} spot @returns {string} */
function at([x, y]) {
  return `${place(x)},${place(y)}`;
}

/** The points themselves, exactly, as closed path data. @param {Spot[][]} rings @returns {string} */
export function exact(rings) {
  return rings.map((ring) => `M${ring.map(at).join(' L')} Z`).join(' ');
}

/**
 * The outline of a ring as a hand draws it: through its points, straying a little between them, a little past where it began.
 * @param {Spot[]} ring closed @param {Random} random @param {number} [loose] pixels @returns {string}
 */
export function outline(ring, random, loose = LOOSE) {
  /** @type {Spot[]} */
  const drawn = [];
  for (let side = 1; side < ring.length; side += 1) {
    const [a, b] = [ring[side - 1], ring[side]];
    const long = Math.hypot(b[0] - a[0], b[1] - a[1]);
    const parts = Math.max(1, Math.min(60, Math.round(long / STEP)));
    for (let part = 0; part < parts; part += 1) {
      const share = part / parts;
      const most = long < 3 ? loose / 2 : loose;
      drawn.push([
        a[0] + (b[0] - a[0]) * share + stray(random, most),
        a[1] + (b[1] - a[1]) * share + stray(random, most),
      ]);
    }
  }
  if (drawn.length < 3) return exact([ring]);
  const again = drawn.slice(0, 2).map(([x, y]) => /** @type {Spot} */ ([x + loose, y - loose]));
  return smooth([...drawn, ...again]);
}

/** A smooth line through the middles between points. @param {Spot[]} spots @returns {string} */
function smooth(spots) {
  const pieces = spots.slice(1, -1).map((spot, before) => {
    const next = spots[before + 2];
    return `Q${at(spot)} ${at([(spot[0] + next[0]) / 2, (spot[1] + next[1]) / 2])}`;
  });
  return `M${at([(spots[0][0] + spots[1][0]) / 2, (spots[0][1] + spots[1][1]) / 2])} ${pieces.join(' ')}`;
}

/**
 * Parallel rows through a shape, cut to the sheet. @param {Spot[][]} rings closed, even-odd @param {number} angle radians, clockwise
 * @param {number} apart pixels @param {Sheet} sheet @returns {Row[]}
 */
export function rows(rings, angle, apart, { width, height }) {
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const turned = rings.map((ring) =>
    ring.map(([x, y]) => /** @type {Spot} */ ([x * cos + y * sin, y * cos - x * sin])),
  );
  const corners = [0, width].flatMap((x) => [0, height].map((y) => y * cos - x * sin));
  const ys = turned.flat().map(([, y]) => y);
  const first = Math.ceil(Math.max(lowest(ys), lowest(corners)) / apart);
  const last = Math.floor(Math.min(-lowest(ys.map((y) => -y)), Math.max(...corners)) / apart);
  /** @type {Row[]} */
  const found = [];
  for (let number = first; number <= last; number += 1) {
    const y = number * apart + 1e-6; // never through a corner
    const crossings = turned.flatMap((ring) => crossed(ring, y)).sort((a, b) => a - b);
    const window = across(y, cos, sin, width, height);
    for (let pair = 0; pair + 1 < crossings.length; pair += 2) {
      const from = Math.max(crossings[pair], window[0]);
      const to = Math.min(crossings[pair + 1], window[1]);
      if (to > from) found.push({ angle, y, from, to });
    }
  }
  return found;
}

/** @param {number[]} values @returns {number} */
function lowest(values) {
  return values.reduce((least, value) => Math.min(least, value), Infinity);
}

/** @param {Spot[]} ring @param {number} y @returns {number[]} where its sides cross a height */
function crossed(ring, y) {
  /** @type {number[]} */
  const found = [];
  for (let side = 1; side < ring.length; side += 1) {
    const [a, b] = [ring[side - 1], ring[side]];
    if (a[1] > y !== b[1] > y) found.push(a[0] + ((y - a[1]) / (b[1] - a[1])) * (b[0] - a[0]));
  }
  return found;
}

/** The part of a turned row that lies on the sheet. @param {number} y @param {number} cos @param {number} sin @param {number} width @param {number} height @returns {Spot} */
function across(y, cos, sin, width, height) {
  let [from, to] = [-Infinity, Infinity];
  for (const [begin, slope, most] of [
    [-y * sin, cos, width],
    [y * cos, sin, height],
  ]) {
    if (Math.abs(slope) < 1e-9) {
      if (begin < EDGE || begin > most - EDGE) return [0, 0];
    } else {
      const ends = [(EDGE - begin) / slope, (most - EDGE - begin) / slope];
      from = Math.max(from, Math.min(...ends));
      to = Math.min(to, Math.max(...ends));
    }
  }
  return [from, to];
}

/** A place of a row on the sheet. @param {Row} row @param {number} x @param {number} [aside] @returns {Spot} */
function onSheet({ angle, y }, x, aside = 0) {
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  return [x * cos - (y + aside) * sin, x * sin + (y + aside) * cos];
}

/** Strokes along rows: mowing lines and hatching. @param {Row[]} found @param {Random} random @param {number} [inset] pixels from the outline @returns {string} */
export function strokes(found, random, inset = 1.5) {
  return found
    .map((row) => {
      const from = row.from + inset + random() * 1.5;
      const to = row.to - inset - random() * 1.5;
      if (to - from < 1.5) return '';
      const middle = onSheet(row, (from + to) / 2, stray(random, Math.min(0.9, (to - from) / 20)));
      return `M${at(onSheet(row, from))} Q${at(middle)} ${at(onSheet(row, to))}`;
    })
    .join('');
}

/** Dots of a pen, for sand. @param {Row[]} found @param {Random} random @param {number} apart pixels @returns {string} */
export function dots(found, random, apart) {
  return along(found, random, apart, 1.2, (spot) => `M${at(spot)}h.01`);
}

/** Short waves, for water. @param {Row[]} found @param {Random} random @param {number} [inset] @returns {string} */
export function waves(found, random, inset = 2) {
  return found
    .map((row) => {
      let drawn = '';
      const spare = Math.max(0, row.to - row.from - 2 * inset - 7.1); // a ditch is narrow, and water all the same
      for (let x = row.from + inset + random() * Math.min(4, spare); x + 7 < row.to - inset; x += 11 + random() * 9) {
        const humps = Math.min(3, Math.floor((row.to - inset - x) / 7), 1 + Math.floor(random() * 3));
        drawn += `M${at(onSheet(row, x, stray(random, 0.8)))}${'q1.75,-2.4 3.5,0t3.5,0'.repeat(humps)}`;
        x += humps * 7;
      }
      return drawn;
    })
    .join('');
}

/** Scribbled crowns, for trees. @param {Row[]} found @param {Random} random @param {number} size pixels across @returns {string} */
export function crowns(found, random, size) {
  return along(found, random, size * 1.5, size * 0.45, (spot) =>
    crown(spot, random, (size / 2) * (0.7 + random() * 0.6)),
  );
}

/** One crown: a loop that bulges unevenly, and two strokes of shade on its right. @param {Spot} spot @param {Random} random @param {number} radius @returns {string} */
function crown([x, y], random, radius) {
  const lobes = 7 + Math.floor(random() * 3);
  const begin = random() * Math.PI * 2;
  const corner = (/** @type {number} */ lobe, /** @type {number} */ far) => {
    const turn = begin + (lobe / lobes) * Math.PI * 2;
    return at([x + Math.cos(turn) * far, y + Math.sin(turn) * far]);
  };
  const fars = Array.from({ length: lobes }, () => radius * (0.8 + random() * 0.25));
  let drawn = `M${corner(0, fars[0])}`;
  for (let lobe = 0; lobe < lobes; lobe += 1) {
    const last = lobe === lobes - 1;
    const far = last ? fars[0] * 1.06 : fars[lobe + 1];
    drawn += `Q${corner(lobe + 0.5, radius * (1.2 + random() * 0.35))} ${corner(lobe + 1, far)}`;
  }
  for (const share of [0.15, 0.5]) {
    const dx = radius * (0.15 + share * 0.8);
    drawn += `M${at([x + dx, y + radius * (0.65 - share * 0.75)])}l${place(radius * 0.28)},${place(-radius * 0.42)}`;
  }
  return drawn;
}

/** Tufts of grass, for rough. @param {Row[]} found @param {Random} random @param {number} apart pixels @returns {string} */
export function tufts(found, random, apart) {
  return along(found, random, apart, 4, ([x, y]) => {
    const lean = stray(random, 1.2);
    return `M${at([x, y])}l${place(-2 + lean)},-3M${at([x + 1, y])}l${place(lean)},-4M${at([x + 2, y])}l${place(2 + lean)},-3`;
  });
}

/** @param {Row[]} found @param {Random} random @param {number} apart pixels @param {number} inset @param {(spot: Spot) => string} draw @returns {string} */
function along(found, random, apart, inset, draw) {
  return found
    .map((row, number) => {
      let drawn = '';
      const room = row.to - row.from - 2 * inset;
      if (room < 0) return '';
      const begin = (number % 2 ? 0.25 : 0.75) * Math.min(apart, room);
      for (let x = row.from + inset + begin; x <= row.to - inset; x += apart)
        drawn += draw(
          onSheet(
            row,
            Math.max(row.from + inset, Math.min(row.to - inset, x + stray(random, apart * 0.35))),
            stray(random, apart * 0.3),
          ),
        );
      return drawn;
    })
    .join('');
}
