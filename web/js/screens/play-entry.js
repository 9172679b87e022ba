/** The parts of the shot entry: where the ball lies, how far, which club. */
import { shortLabels, spokenLabel } from '../game/club-labels.js';
import { GREEN, LIES, TEE } from '../game/lies.js';
import { fromYards, defaultUnit } from '../game/units.js';
import { bagInOrder } from './round-data.js';
import { button, choices, h, sheet } from '../ui/elements.js';
import { LIE_WORDS } from '../ui/words.js';

/** Putts of one tap, in feet; the shorter ones are digits. A choice of this tool. */
const PUTTS_FT = [10, 15, 20, 25, 30];
/** Clubs shown around the chosen one; the rest is one tap away. */
const CLUBS_IN_ROW = 5;

/**
 * @param {import('./draft.js').Draft} draft @param {boolean} first whether this is the first shot of ball 1
 * @param {(lie: string) => void} choose
 */
export function liePad(draft, first, choose) {
  if (first) return h('p', { class: 'lie-fixed' }, 'from the tee');
  const lies = LIES.filter((lie) => lie !== TEE || draft.lie === TEE);
  return choices(
    'Lie',
    lies.map((lie) => [lie, LIE_WORDS[lie]]),
    draft.lie,
    (lie) => choose(/** @type {string} */ (lie)),
    { id: 'lie', class: 'lies' },
  );
}

/**
 * @param {import('./draft.js').Draft} draft @param {'yards'|'metres'|undefined} units
 * @param {{step: (by: number) => void, digit: (digit: string) => void, again: () => void, length: (feet: number) => void}} tap
 */
export function distancePad(draft, units, tap) {
  const unit = defaultUnit(draft.lie, units);
  const asked = draft.distance_yd === null;
  const shown =
    draft.typed || (draft.distance_yd === null ? '?' : String(Math.round(fromYards(draft.distance_yd, unit))));
  const words = { yd: 'yards', m: 'metres', ft: 'feet' }[unit];
  const big = draft.lie === GREEN ? 5 : 10;
  return h(
    'div',
    { class: 'distance', role: 'group', 'aria-label': `Distance to the hole in ${words}` },
    h(
      'div',
      { class: 'distance-row' },
      button(`−${big}`, () => tap.step(-big), { id: 'less-big', 'aria-label': `${big} ${words} less` }),
      button('−1', () => tap.step(-1), { id: 'less', 'aria-label': `1 ${words} less` }),
      button(
        [h('span', { class: 'number' }, shown), h('span', { class: 'unit' }, figureUnit(draft, unit))],
        tap.again,
        {
          class: draft.guessed ? 'figure guessed' : 'figure',
          id: 'distance',
          'aria-label': asked
            ? `Type the distance in ${words}`
            : `${shown} ${words}${draft.guessed ? ', estimated' : ''}. Tap to type it again`,
        },
      ),
      button('+1', () => tap.step(1), { id: 'more', 'aria-label': `1 ${words} more` }),
      button(`+${big}`, () => tap.step(big), { id: 'more-big', 'aria-label': `${big} ${words} more` }),
    ),
    h(
      'div',
      { class: 'keys' },
      ['1', '2', '3', '4', '5', '6', '7', '8', '9', '0'].map((digit) =>
        button(digit, () => tap.digit(digit), { id: `key-${digit}` }),
      ),
    ),
    draft.lie === GREEN
      ? h(
          'div',
          { class: 'putts', role: 'group', 'aria-label': 'Common lengths' },
          PUTTS_FT.map((feet) =>
            button([feet, h('span', { class: 'unit' }, ' ft')], () => tap.length(feet), { id: `putt-${feet}` }),
          ),
        )
      : null,
  );
}

/** What stands under the number. @param {import('./draft.js').Draft} draft @param {string} unit */
function figureUnit(draft, unit) {
  if (draft.distance_yd === null) return `type the distance, ${unit}`;
  if (draft.guessed) return [`${unit}, `, h('span', { class: 'guess-mark' }, 'estimated')];
  const marked = draft.position && draft.lie !== GREEN && draft.figures?.hole_yd === draft.distance_yd;
  return marked ? `${unit} ±${Math.ceil(draft.position?.[2] ?? 0)} m` : unit;
}

/**
 * The clubs near the chosen one in a row, all of them in a sheet. Without a chosen one (competition: nothing is
 * suggested) all clubs lie open.
 * @param {import('./draft.js').Draft} draft @param {import('../log/store.js').StoredRecord[]} bag
 * @param {Map<string, {yards: number}>} stock @param {(clubId: string) => void} choose @param {boolean} openAll
 */
export function clubPad(draft, bag, stock, choose, openAll) {
  const order = bagInOrder(bag, stock);
  const pick = (/** @type {string|null} */ id) => id && choose(id);
  const short = shortLabels(order);
  const asChoice = (/** @type {any} */ club) => choiceOf(club, short);
  const fit = order.length <= CLUBS_IN_ROW + 1;
  if (openAll || fit)
    return choices('Club', order.map(asChoice), draft.club_id, pick, {
      id: 'club',
      class: fit ? 'clubs' : 'clubs all',
    });
  const at = Math.max(
    0,
    order.findIndex((club) => club.record_id === draft.club_id),
  );
  const from = Math.min(Math.max(0, at - Math.floor(CLUBS_IN_ROW / 2)), order.length - CLUBS_IN_ROW);
  const near = order.slice(from, from + CLUBS_IN_ROW);
  const row = choices('Club', near.map(asChoice), draft.club_id, pick, { id: 'club', class: 'clubs' });
  row.append(
    button('all', () => allClubs(order, short, draft.club_id, pick), {
      id: 'all-clubs',
      class: 'choice all-clubs',
      'aria-label': 'All clubs of the bag',
    }),
  );
  return row;
}

/** A club as a choice: its short label is seen, its full one read out. @param {any} club @param {Map<string, string>} short @returns {[string, string, string]} */
function choiceOf({ record_id: id, body }, short) {
  const label = short.get(id) ?? body.label;
  return [id, label, spokenLabel(label, body.label)];
}

/**
 * @param {import('../log/store.js').StoredRecord[]} order @param {Map<string, string>} short @param {string|null} chosen
 * @param {(id: string|null) => void} pick
 */
function allClubs(order, short, chosen, pick) {
  sheet('Which club?', (_redraw, close) =>
    choices(
      'Club',
      order.map((club) => choiceOf(club, short)),
      chosen,
      (id) => {
        close();
        pick(id ?? chosen);
      },
      { class: 'clubs all' },
    ),
  );
}
