/** The entry of the next practice ball: what is tried, and the pad, chips or keys that save where it finished. */
import { PRACTICE_LIES, PUTTING_GREEN, RANGE, SWINGS, duelTurn, LONGEST_PUTT_FT } from '../game/practice.js';
import { FARTHEST_CARRY_YD, FARTHEST_OFFLINE_YD } from '../game/ranges.js';
import { fromYards, toYards } from '../game/units.js';
import { button, choices, h } from '../ui/elements.js';
import { LIE_WORDS } from '../ui/words.js';
import { padDrawing, tappedOn } from './finish-pad.js';
import { clubPad } from './play-entry.js';
import { unitOf } from './practice-data.js';
import { targetLine } from './practice-targets.js';

/** @typedef {import('./practice.js').Practice} Practice */

/** What was left, in feet: one tap each. */
const LEFT_PUTT_FT = [1, 2, 3, 4, 5, 6, 8, 10, 15];
const LEFT_SHORT_FT = [1, 2, 3, 4, 6, 8, 10, 15, 25];
const LONGEST_SHORT_YD = 120;
/** From the middle of the pad to its edge, by how far the target is, in yards: a choice of this tool. */
const REACHES_YD = [
  [60, 15],
  [130, 30],
  [190, 40],
  [Infinity, 60],
];
const UNIT_WORDS = { yd: 'yards', m: 'metres', ft: 'feet' };

/** @param {Practice} practice @returns {any[]} */
export function entryParts(practice) {
  const { place } = practice.data.record.body;
  const parts =
    place === PUTTING_GREEN ? puttParts(practice) : place === RANGE ? rangeParts(practice) : shortParts(practice);
  return [targetLine(practice), ...parts].filter(Boolean);
}

/** @param {Practice} practice */
function rangeParts(practice) {
  const { carried } = practice;
  return [
    clubs(practice),
    amountRow(practice, 'Target'),
    carried.typing ? amountKeys(practice) : null,
    choices(
      'Swing',
      SWINGS.map((swing) => [swing, `${swing} swing`]),
      carried.swing,
      (swing) => practice.set({ swing: swing ?? 'full' }),
      {
        id: 'swing',
        class: 'swings',
      },
    ),
    carried.keys ? figureKeys(practice) : pad(practice),
  ];
}

/** @param {Practice} practice */
function puttParts(practice) {
  return [
    practice.data.bag.length > 1 || practice.carried.duel ? clubs(practice) : null,
    amountRow(practice, 'Length of the putt'),
    amountKeys(practice),
    leftChips(practice, LEFT_PUTT_FT, 'Missed, and left'),
  ];
}

/** @param {Practice} practice */
function shortParts(practice) {
  return [
    clubs(practice),
    choices(
      'Lie',
      PRACTICE_LIES.filter((lie) => lie !== 'tee').map((lie) => [lie, LIE_WORDS[lie]]),
      practice.carried.lie,
      (lie) => practice.set({ lie: lie ?? 'fairway' }),
      { id: 'lie', class: 'lies' },
    ),
    amountRow(practice, 'Distance to the hole'),
    amountKeys(practice),
    leftChips(practice, LEFT_SHORT_FT, 'Left to the hole'),
  ];
}

/** @param {Practice} practice */
function clubs(practice) {
  const { carried, data, balls, label } = practice;
  if (!data.bag.length)
    return h('p', { class: 'notice' }, 'There is no club in the bag. ', h('a', { href: '#/bag' }, 'To the bag'));
  if (carried.duel) {
    const { club_id: now, duel_id: second } = duelTurn(balls, carried.duel);
    return h(
      'p',
      { class: 'duel-line', id: 'duel-line' },
      'Duel: ',
      h('strong', null, label(now)),
      `, the ${second ? 'second' : 'first'} of the pair`,
    );
  }
  return clubPad(
    /** @type {any} */ (carried),
    data.bag,
    data.stock,
    (club) => practice.set({ club_id: club, ...targetOf(practice, club) }),
    false,
  );
}

/**
 * How far another club is tried on the range: as with its last ball here, else what it usually goes; not while a competition round
 * is open.
 * @param {Practice} practice @param {string} club
 */
function targetOf({ data, balls }, club) {
  if (data.record.body.place !== RANGE || data.locked) return {};
  const last = balls.findLast(({ body }) => body.club_id === club && body.target_yd)?.body.target_yd;
  const usual = data.stock.get(club)?.yards;
  const target_yd = last ?? (usual ? Math.round(usual) : null);
  return target_yd ? { target_yd, typed: '' } : {};
}

/** What the distance of the entry is counted in. @param {Practice} practice */
function amountOf({ carried, data, session }) {
  const { place } = data.record.body;
  if (place === PUTTING_GREEN)
    return {
      unit: /** @type {const} */ ('ft'),
      now: carried.length_ft,
      most: LONGEST_PUTT_FT,
      big: 5,
      to: (/** @type {number} */ value) => ({ length_ft: value }),
    };
  const unit = unitOf(session.units);
  return {
    unit,
    now: fromYards(carried.target_yd, unit),
    most: Math.floor(fromYards(place === RANGE ? FARTHEST_CARRY_YD : LONGEST_SHORT_YD, unit) + 1e-9),
    big: place === RANGE ? 10 : 5,
    to: (/** @type {number} */ value) => ({ target_yd: toYards(value, unit) }),
  };
}

/** @param {Practice} practice @param {string} label */
function amountRow(practice, label) {
  const { unit, now, most, big, to } = amountOf(practice);
  const words = UNIT_WORDS[unit];
  const shown = practice.carried.typed || String(Math.round(now));
  const step = (/** @type {number} */ by) => () =>
    practice.set({ ...to(Math.min(Math.max(Math.round(now) + by, 1), most)), typed: '' });
  const again = () => practice.set({ typed: '', typing: !practice.carried.typing });
  return h(
    'div',
    { class: 'distance-row', role: 'group', 'aria-label': `${label} in ${words}` },
    button(`−${big}`, step(-big), { id: 'less-big', 'aria-label': `${big} ${words} less` }),
    button('−1', step(-1), { id: 'less', 'aria-label': `1 ${words} less` }),
    button([h('span', { class: 'number' }, shown), h('span', { class: 'unit' }, unit)], again, {
      class: 'figure',
      id: 'distance',
      'aria-label': `${label}: ${shown} ${words}. Tap to type it`,
    }),
    button('+1', step(1), { id: 'more', 'aria-label': `1 ${words} more` }),
    button(`+${big}`, step(big), { id: 'more-big', 'aria-label': `${big} ${words} more` }),
  );
}

/** @param {(digit: string) => void} press @param {string} id */
function digits(press, id) {
  return h(
    'div',
    { class: 'keys' },
    ['1', '2', '3', '4', '5', '6', '7', '8', '9', '0'].map((digit) =>
      button(digit, () => press(digit), { id: `${id}-${digit}` }),
    ),
  );
}

/** The first digit begins a new number; one that would be too large begins again. @param {Practice} practice */
function amountKeys(practice) {
  const { most, to } = amountOf(practice);
  return digits((digit) => {
    const longer = practice.carried.typed + digit;
    const typed = Number(longer) > most ? digit : longer;
    if (Number(typed)) practice.set({ typed, ...to(Number(typed)) });
    else practice.set({ typed: '' });
  }, 'key');
}

/** @param {Practice} practice */
function pad(practice) {
  const unit = unitOf(practice.session.units);
  const [, reachYd] = /** @type {number[]} */ (REACHES_YD.find(([from]) => practice.carried.target_yd <= from));
  const reach = unit === 'm' ? Math.round(fromYards(reachYd, unit) / 5) * 5 : reachYd;
  const tap = (/** @type {MouseEvent} */ event) => {
    const { right, long } = tappedOn(event, reach);
    practice.save(
      { right_yd: toYards(Math.round(right), unit), long_yd: toYards(Math.round(long), unit) },
      event.timeStamp,
    );
  };
  const drawn = padDrawing(false, 0, 0, reach, unit, tap);
  drawn.setAttribute(
    'aria-label',
    'Where it finished against the target: a tap saves the ball. Figures types it instead',
  );
  return h(
    'div',
    { class: 'practice-pad' },
    drawn,
    h('p', { class: 'hint' }, 'Tap where it finished: that saves the ball. The middle is the target.'),
  );
}

/** Carry, total and side by the keys. @param {Practice} practice */
function figureKeys(practice) {
  const { carried, session } = practice;
  const unit = unitOf(session.units);
  const { figures } = carried;
  const put = (/** @type {any} */ change) => practice.set({ figures: { ...figures, ...change } });
  const most = Math.floor(fromYards(figures.field === 'side' ? FARTHEST_OFFLINE_YD : FARTHEST_CARRY_YD, unit));
  const press = (/** @type {string} */ digit) => {
    const longer = `${figures[figures.field]}${digit}`.replace(/^0+(?=\d)/, '');
    const name = figures.field === 'side' ? 'Right or left' : `The ${figures.field}`;
    if (Number(longer) > most)
      session.frame?.alert(`${name} is at most ${most} ${unit}, not ${longer}. Clear it to type it again.`);
    else put({ [figures.field]: longer });
  };
  const slot = (/** @type {'carry'|'total'|'side'} */ name, /** @type {string} */ words) =>
    button(
      [h('span', { class: 'list-under' }, words), h('span', { class: 'number' }, figures[name] || '–')],
      () => put({ field: name }),
      {
        class: 'choice figure-slot',
        id: `figure-${name}`,
        'aria-pressed': String(figures.field === name),
      },
    );
  const yards = (/** @type {string} */ text) => (text === '' ? null : toYards(Number(text), unit));
  const save = (/** @type {Event} */ event) => {
    const [carry, total, side] = [yards(figures.carry), yards(figures.total), yards(figures.side)];
    if (!carry && !total) {
      session.frame?.alert('Type the carry or the total first.');
      return;
    }
    practice.save(
      {
        ...(carry ? { carry_yd: carry } : {}),
        ...(total ? { total_yd: total } : {}),
        ...(side === null ? {} : { right_yd: figures.left && side ? -side : side }),
      },
      event.timeStamp,
    );
  };
  return h(
    'div',
    { class: 'figures', role: 'group', 'aria-label': `Carry, total and side in ${UNIT_WORDS[unit]}` },
    h(
      'div',
      { class: 'choices' },
      slot('carry', `carry, ${unit}`),
      slot('total', `total, ${unit}`),
      slot('side', `${figures.left ? 'left' : 'right'}, ${unit}`),
      button(figures.left ? 'left' : 'right', () => put({ left: !figures.left, field: 'side' }), {
        class: 'choice',
        id: 'figure-left',
        'aria-label': `It finished ${figures.left ? 'left' : 'right'}: change the side`,
      }),
    ),
    digits(press, 'figure-key'),
    h(
      'div',
      { class: 'row' },
      button('Clear', () => put({ [figures.field]: '' }), { id: 'figure-clear' }),
      button('Save the ball', save, { class: 'strong', id: 'save-ball' }),
    ),
  );
}

/** One tap saves a ball that was not holed. @param {Practice} practice @param {number[]} feet @param {string} label */
function leftChips(practice, feet, label) {
  const save = (/** @type {number|null} */ left_ft) => (/** @type {Event} */ event) =>
    practice.save(left_ft === null ? { holed: false } : { holed: false, left_ft }, event.timeStamp);
  return h(
    'div',
    { class: 'left-chips', role: 'group', 'aria-label': `${label}, in feet: a tap saves the ball` },
    h('p', { class: 'hint' }, `${label}:`),
    h(
      'div',
      { class: 'keys' },
      feet.map((ft) => button(`${ft} ft`, save(ft), { id: `left-${ft}` })),
      button('?', save(null), { id: 'left-unknown', 'aria-label': 'Not holed, what was left is not recorded' }),
    ),
  );
}
