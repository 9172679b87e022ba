/** Pin and tee of the day: the pin so far on and so far from an edge of the green, the tee forward or back of the card's. */
import { toYards } from '../game/units.js';
import { greenOf, pinAt, pinInThird, pinOn, pinRange } from '../game/greens.js';
import { button, field, freshId, h, select } from '../ui/elements.js';

/** @typedef {import('./page.js').Context} Context @typedef {import('./lengths.js').Lengths} Lengths @typedef {import('../game/hole-maps.js').Point} Point */

const DEEP = ['front', 'middle', 'back'];
const ACROSS = ['left', 'centre', 'right'];
const BACK_YD = 50; // the tee of the day lies so far behind the card's at most: a choice of this tool
const FORWARD_YD = 150;
const LEAST_HOLE_YD = 60; // and leaves a hole of this length
const OFF_LINE_YD = 1;
const SAME_YD = 0.3; // places in an address are tenths of a yard

/** Whether the shot is played from a tee, the card's or that of the day. @param {import('./address.js').Filters} filters */
export function fromTee({ at, lie }) {
  return !at || lie === 'tee';
}

/** A place for the address. @param {Point} place @returns {string} */
function written(place) {
  return place.map((value) => String(Math.round(value * 10) / 10)).join(',');
}

/** The card's tee, and the direction from it to the green's middle. @param {any} plan @returns {{tee: Point, ahead: Point, length: number}|null} */
function cardTee(plan) {
  const green = greenOf(plan.features);
  const far = green ? Math.hypot(...green.middle) : 0;
  if (!green || far < 1) return null;
  const length = plan.hole.length_yd;
  /** @type {Point} */
  const ahead = [green.middle[0] / far, green.middle[1] / far];
  return { tee: [green.middle[0] - ahead[0] * length, green.middle[1] - ahead[1] * length], ahead, length };
}

/** Yards by which the tee of the plan is forward of the card's, and right of its line. @param {any} plan */
function teeOf(plan) {
  const card = cardTee(plan);
  if (!card || plan.lie !== 'tee') return null;
  const [dx, dy] = [plan.from[0] - card.tee[0], plan.from[1] - card.tee[1]];
  const { ahead } = card;
  return { forward: dx * ahead[0] + dy * ahead[1], right: dx * ahead[1] - dy * ahead[0], range: teeRange(card.length) };
}

/** @param {number} length yards @returns {[number, number]} */
function teeRange(length) {
  return [-BACK_YD, Math.max(0, Math.min(FORWARD_YD, length - LEAST_HOLE_YD))];
}

/** @param {string} name @param {number} value @param {[number, number]} range yards @param {Lengths} lengths */
function outside(name, value, [low, high], lengths) {
  return `${name}: ${signed(value, lengths)} is outside ${within([low, high], lengths)}.`;
}

/** @param {[number, number]} range yards @param {Lengths} lengths */
function within([low, high], lengths) {
  return `${signed(low, lengths)} to ${signed(high, lengths)} ${lengths.unit}`;
}

/** @param {number} yards @param {Lengths} lengths */
function signed(yards, lengths) {
  const given = Math.round(lengths.of(yards) * 10) / 10;
  return given < 0 ? `−${-given}` : String(given);
}

/** Why pin or tee of the address cannot be those of the day, or null. @param {any} plan @param {Lengths} lengths @param {import('./address.js').Filters} filters */
export function placeFault(plan, lengths, { pin, at }) {
  const green = greenOf(plan.features);
  if (pin && green && !pinOn(green, plan.pin))
    return `Pin: ${pin} is not on the green, which is ${lengths.words(green.depth)} deep.`;
  const tee = at ? teeOf(plan) : null;
  if (tee && (tee.forward < tee.range[0] - SAME_YD || tee.forward > tee.range[1] + SAME_YD))
    return outside('Tee forward of the card’s', tee.forward, tee.range, lengths);
  return null;
}

/** A pin in words. @param {import('../game/greens.js').Pin} pin @param {Lengths} lengths */
function pinWords({ on, left, right }, lengths) {
  const side = left <= right ? 'left' : 'right';
  return `${lengths.words(on)} on, ${lengths.words(Math.min(left, right))} from the ${side} edge`;
}

/** Pin and tee of the day, where they are not the card's, each a sentence. @param {any} plan @param {Lengths} lengths @returns {string[]} */
export function placeWords(plan, lengths) {
  const green = greenOf(plan.features);
  const given = green && Math.hypot(plan.pin[0] - green.middle[0], plan.pin[1] - green.middle[1]) > SAME_YD;
  const pin = given ? pinOn(green, plan.pin) : null;
  const tee = teeOf(plan);
  const words = pin ? [`Pin of the day: ${pinWords(pin, lengths)}.`] : [];
  if (tee && Math.abs(tee.right) > OFF_LINE_YD) words.push('Tee of the day: off the line of the card’s tees.');
  else if (tee && Math.abs(tee.forward) > SAME_YD)
    words.push(
      `Tee of the day: ${lengths.words(Math.abs(tee.forward))} ${tee.forward > 0 ? 'forward' : 'back'} of the card’s.`,
    );
  return words;
}

/** Where pin and tee are set. @param {any} plan null without an answer @param {Lengths} lengths @param {Context} context */
export function pinAndTee(plan, lengths, { session, filters, change }) {
  const set = Boolean(filters.pin || (filters.at && fromTee(filters)));
  const green = plan ? greenOf(plan.features) : null;
  const usual = button(
    'As on the card',
    () => change({ pin: '', option: '', ...(fromTee(filters) ? { at: '', lie: '' } : {}) }),
    {
      id: 'usual-pin',
    },
  );
  const details = h(
    'details',
    { class: 'more-settings', open: session.state.pinOpen },
    h('summary', { id: 'pin-settings' }, `Pin and tee: ${set ? 'as set' : 'as on the card'}`),
    ...(green ? pinFields(green, plan, lengths, change) : []),
    plan && fromTee(filters) ? teeField(plan, lengths, change) : null,
    set ? h('div', { class: 'row' }, usual) : null,
  );
  details.addEventListener('toggle', () => {
    session.state.pinOpen = details.open;
  });
  return details;
}

/** @param {import('../game/greens.js').Green} green @param {any} plan @param {Lengths} lengths @param {Context['change']} change */
function pinFields(green, plan, lengths, change) {
  const now = pinOn(green, plan.pin) ?? /** @type {import('../game/greens.js').Pin} */ (pinOn(green, green.middle));
  const edge = now.left <= now.right ? 'left' : 'right';
  const put = (/** @type {Point} */ place) => change({ pin: written(place), option: '' });
  const near = (/** @type {Point} */ place) => Math.hypot(place[0] - plan.pin[0], place[1] - plan.pin[1]) < SAME_YD;
  const thirds = [2, 1, 0].flatMap((deep) =>
    [0, 1, 2].map((across) => {
      const place = pinInThird(green, deep, across);
      const words = `${DEEP[deep]} ${ACROSS[across]}`;
      const id = `pin-${DEEP[deep]}-${ACROSS[across]}`;
      return button(words, () => put(place), { id, class: 'choice', 'aria-pressed': String(near(place)) });
    }),
  );
  const atOn = (/** @type {number} */ on) => {
    const { side } = pinRange(green, on);
    return pinAt(green, on, edge, Math.min(Math.max(now[edge], side[0]), side[1]));
  };
  const range = pinRange(green, now.on);
  return [
    h('div', { class: 'pin-grid', role: 'group', 'aria-label': 'Where on the green the pin is' }, thirds),
    h(
      'div',
      { class: 'row' },
      checked('pin-on', 'Pin on from the front edge', now.on, range.on, lengths, (on) => put(atOn(on))),
      checked('pin-from', `Pin from the ${edge} edge`, now[edge], range.side, lengths, (from) =>
        put(pinAt(green, now.on, edge, from)),
      ),
      field(
        'Measured from',
        select(
          [
            ['left', 'the left edge'],
            ['right', 'the right edge'],
          ],
          edge,
          (side) => put(pinAt(green, now.on, /** @type {'left'|'right'} */ (side), now[edge])),
          { id: 'pin-edge' },
        ),
      ),
    ),
    h('p', { class: 'hint' }, 'Left and right as the green is approached from the fairway; on a par 3, from the tee.'),
  ];
}

/** @param {any} plan @param {Lengths} lengths @param {Context['change']} change */
function teeField(plan, lengths, change) {
  const card = cardTee(plan);
  const tee = teeOf(plan);
  if (!card || !tee) return null;
  const { ahead } = card;
  return checked('tee-forward', 'Tee forward (+) or back (−) of the card’s', tee.forward, tee.range, lengths, (yards) =>
    change(
      yards
        ? { at: written([card.tee[0] + ahead[0] * yards, card.tee[1] + ahead[1] * yards]), lie: 'tee', option: '' }
        : { at: '', lie: '', option: '' },
    ),
  );
}

/**
 * A length typed in; one outside its range is refused with the reason under it. @param {string} id @param {string} name @param {number} value yards
 * @param {[number, number]} range yards @param {Lengths} lengths @param {(yards: number) => void} set
 */
function checked(id, name, value, range, lengths, set) {
  const now = Math.round(lengths.of(value));
  const fault = h('p', { class: 'fault', id: freshId() });
  const input = h('input', {
    type: 'number',
    id,
    value: String(now === 0 ? 0 : now),
    inputmode: range[0] < 0 ? 'text' : 'decimal',
    step: 'any',
    'aria-describedby': fault.id,
  });
  input.addEventListener('change', () => {
    const yards = toYards(Number(input.value), lengths.unit);
    const given = input.value.trim() !== '' && Number.isFinite(yards);
    const wrong = !given
      ? `${name}: no number; it may be ${within(range, lengths)}.`
      : yards < range[0] || yards > range[1]
        ? outside(name, yards, range, lengths)
        : '';
    fault.setAttribute('role', wrong ? 'alert' : 'none');
    fault.textContent = wrong;
    input.setAttribute('aria-invalid', String(Boolean(wrong)));
    if (!wrong) set(yards);
  });
  const box = field(`${name}, ${lengths.unit}`, input);
  box.append(fault);
  return box;
}
