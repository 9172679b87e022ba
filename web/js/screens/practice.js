/** A practice session as it goes: what is tried is carried on from ball to ball, and one tap saves where it finished. */
import { NotAllowed } from '../game/hole-edits.js';
import { MOST_BALLS, PUTTING_GREEN, RANGE, SHORT_GAME, duelTurn, nextOrder } from '../game/practice.js';
import { iso } from '../log/clock.js';
import { PRACTICE_BALL } from '../log/store.js';
import { cacheTheRest } from '../bridge.js';
import { button, h } from '../ui/elements.js';
import { styleSheet } from '../ui/style-sheet.js';
import { counted, dayWords, today } from '../ui/words.js';
import { PLACE_WORDS, SHEET, keptNotice, practiceData } from './practice-data.js';
import { entryParts } from './practice-entry.js';
import { ballList } from './practice-list.js';
import { practiceMore } from './practice-more.js';
import { fetchTargets, nextTarget } from './practice-targets.js';
import { labels } from './round-data.js';
import { guardOf, sayTwice, tappedSpot } from './tap-guard.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../game/practice.js').BallRecord} BallRecord */

/** First guesses, a choice of this tool: corrected once, then carried on. */
const FIRST_PUTT_FT = 6;
const FIRST_TARGET_YD = 150;
const FIRST_SHORT_YD = 20;

/**
 * What is carried on from ball to ball. `duel`: ids of two clubs that take turns; `targets`: those asked for, and which is next;
 * `keys`: the figures are typed, and `figures` what is typed so far; `typed`: the digits of the distance that is being typed.
 * @typedef {object} Carried
 * @property {string|null} club_id @property {number} target_yd @property {number} length_ft @property {string} lie
 * @property {string} swing @property {string|null} planned_shape @property {[string, string]|null} duel
 * @property {{list: any[], next: number}|null} targets @property {boolean} keys @property {boolean} typing @property {string} typed
 * @property {{carry: string, total: string, side: string, left: boolean, field: 'carry'|'total'|'side'}} figures
 *
 * What the practice screen works with. `turn`: the number of the entry, to which a tap belongs.
 * @typedef {object} Practice
 * @property {Session} session @property {string} id @property {Awaited<ReturnType<typeof practiceData>>} data
 * @property {BallRecord[]} balls @property {Carried} carried @property {number} turn
 * @property {(id: string) => string} label @property {() => void} redraw the entry alone
 * @property {(change: Partial<Carried>) => void} set @property {(came: Partial<import('../game/practice.js').PracticeBall>, at: number) => Promise<void>} save
 */

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function newPracticeScreen(session) {
  cacheTheRest();
  await styleSheet(SHEET);
  const begin = (/** @type {string} */ place) => async () => {
    const id = crypto.randomUUID();
    const body = { date: today(), place, at: iso(Date.now()) };
    const saved = await session.write(null, () => ({
      edits: [{ record_id: id, kind: 'session', body }],
      words: `${PLACE_WORDS[place]}: session started`,
    }));
    if (saved) session.frame?.go(`practice/${id}`);
  };
  return {
    title: 'Practice session',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Practice session'),
      h('p', null, 'Balls without holes. They never count as strokes of a round.'),
      h(
        'div',
        { class: 'bottom-actions' },
        [
          [RANGE, 'club, target, where it finished'],
          [SHORT_GAME, 'club, lie, distance, what was left'],
          [PUTTING_GREEN, 'length, holed or what was left'],
        ].map(([place, words]) =>
          button([h('span', null, PLACE_WORDS[place], h('span', { class: 'list-under' }, words))], begin(place), {
            class: 'wide strong place',
            id: `place-${place}`,
          }),
        ),
        h(
          'a',
          { class: 'button wide quiet', href: '#/import/practice', id: 'to-practice-import' },
          'From a table (CSV)',
        ),
      ),
    ),
  };
}

/** What is tried first: what the last ball of the session tried. @param {any} data @returns {Carried} */
function firstTry({ record, balls, bag, stock, locked }) {
  const last = balls[balls.length - 1]?.body;
  const short = record.body.place === SHORT_GAME;
  const wedge = bag.findLast((/** @type {any} */ club) => club.body.sort === 'wedge');
  const first = (short ? wedge : bag[Math.floor(bag.length / 2)]) ?? bag[0];
  const club = last?.club_id ?? first?.record_id ?? null;
  const stockYd = Math.round((locked ? null : stock.get(club)?.yards) ?? FIRST_TARGET_YD);
  return {
    club_id: club,
    target_yd: last?.target_yd ?? (short ? FIRST_SHORT_YD : stockYd),
    length_ft: last?.length_ft ?? FIRST_PUTT_FT,
    lie: last?.lie ?? 'fairway',
    swing: last?.swing ?? (short ? 'part' : 'full'),
    planned_shape: last?.planned_shape ?? null,
    duel: null,
    targets: null,
    keys: false,
    typing: false,
    typed: '',
    figures: { carry: '', total: '', side: '', left: false, field: 'carry' },
  };
}

/** @param {Session} session @param {string} id @returns {Promise<any>} */
export async function practiceScreen(session, id) {
  cacheTheRest();
  await styleSheet(SHEET);
  const guard = guardOf(session);
  const data = await practiceData(session, id);
  const { record } = data;
  const carried = await session.drafts.open(record.player_id, `practice ${id}`, id, () => firstTry(data));
  if (!data.locked && record.body.place === RANGE) fetchTargets(session);
  const entry = h('section', { class: 'entry', 'aria-label': 'Next ball' });
  const count = h('p', { id: 'ball-count', role: 'status' });
  /** @type {Practice} */
  const practice = {
    session,
    id,
    data,
    balls: /** @type {any} */ ([...data.balls]),
    turn: guard.begin(),
    label: labels(data.clubs),
    get carried() {
      return /** @type {Carried} */ (carried.value);
    },
    redraw: () => {
      const focused = document.activeElement?.id;
      entry.replaceChildren(...entryParts(practice));
      if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
    },
    set: (change) => {
      guard.touched(practice.turn);
      Object.assign(/** @type {Carried} */ (carried.value), change);
      practice.redraw();
    },
    save: async (came, at) => {
      if (!(await saveBall(practice, came, at))) return;
      list.add(practice.balls[practice.balls.length - 1]);
      tellCount();
      practice.turn = guard.begin();
      practice.redraw();
      session.drafts.soon();
      requestAnimationFrame(() => guard.drawn(practice.turn));
    },
  };
  const tellCount = () => {
    const day = record.body.date === today() ? '' : `${dayWords(record.body.date).replace(/^\w+, | \d{4}$/g, '')} · `;
    count.textContent = `${day}${counted(practice.balls.length, 'ball')}`;
  };
  tellCount();
  practice.redraw();
  const list = ballList(practice, [...practice.balls].reverse(), practice.label);
  return {
    title: PLACE_WORDS[record.body.place] ?? 'Practice session',
    content: h(
      'div',
      { class: 'play practice' },
      h(
        'div',
        { class: 'hole-head' },
        h('h1', null, PLACE_WORDS[record.body.place] ?? 'Practice'),
        count,
        button('Finish', () => finish(practice), {
          class: 'quiet',
          id: 'finish-session',
          'aria-label': 'Finish the session',
        }),
      ),
      keptNotice(session),
      entry,
      list.element,
    ),
    bar: actionBar(practice),
    after: () => {
      requestAnimationFrame(() => guard.drawn(practice.turn));
      document.querySelector('.finish-pad')?.scrollIntoView({ block: 'nearest' }); // its lower half, on a low screen
    },
  };
}

/**
 * Writes a ball; true when it is on the disk. @param {Practice} practice @param {Partial<import('../game/practice.js').PracticeBall>} came
 * @param {number} at the moment of the tap
 */
async function saveBall(practice, came, at) {
  const { session, id, carried, balls } = practice;
  const guard = guardOf(session);
  if (!guard.allows(practice.turn, at)) {
    sayTwice(session);
    return false;
  }
  const turn = carried.duel ? duelTurn(balls, carried.duel) : null;
  const club = turn?.club_id ?? carried.club_id;
  if (!club) {
    session.frame?.alert('Tap the club first.');
    return false;
  }
  guard.close(tappedSpot());
  const recordId = crypto.randomUUID();
  /** @type {any} */
  let body = null;
  let saved = false;
  try {
    saved = await session.write(
      id,
      (records) => {
        const order = nextOrder(/** @type {any} */ (records));
        if (order > MOST_BALLS)
          throw new NotAllowed(`a session has at most ${MOST_BALLS.toLocaleString('en-GB')} balls: start another one`);
        body = {
          session_id: id,
          order,
          club_id: club,
          ...tried(practice),
          ...came,
          ...(turn ? { duel_id: turn.duel_id ?? crypto.randomUUID() } : {}),
          at: iso(Date.now()),
        };
        return { edits: [{ record_id: recordId, kind: PRACTICE_BALL, body }], words: `Ball ${order} saved` };
      },
      undefined,
      PRACTICE_BALL,
    );
  } finally {
    guard.end(saved);
  }
  if (!saved) return false;
  balls.push({ record_id: recordId, body });
  Object.assign(carried, {
    typed: '',
    typing: false,
    figures: { ...carried.figures, carry: '', total: '', side: '', field: 'carry' },
  });
  if (carried.targets) Object.assign(carried, nextTarget(practice));
  return true;
}

/** What was tried, as fields of a ball. @param {Practice} practice */
function tried({ data: { record }, carried }) {
  const { place } = record.body;
  if (place === PUTTING_GREEN) return { length_ft: carried.length_ft };
  const { target_yd, swing, lie, planned_shape } = carried;
  return { target_yd, swing, lie, ...(planned_shape && place === RANGE ? { planned_shape } : {}) };
}

/** @param {Practice} practice */
function actionBar(practice) {
  const { session, data } = practice;
  const { place } = data.record.body;
  const undo = button('Undo', () => undoBall(practice), { id: 'undo', class: 'act' });
  const more = button('More', () => practiceMore(practice), { id: 'more-actions', class: 'act' });
  const holed = (/** @type {Event} */ event) => practice.save({ holed: true }, event.timeStamp);
  const last =
    place === RANGE
      ? button(
          'Figures',
          (event) => {
            practice.set({ keys: !practice.carried.keys, typing: false });
            /** @type {Element} */ (event.currentTarget).setAttribute('aria-pressed', String(practice.carried.keys));
          },
          {
            id: 'figures',
            class: 'act',
            'aria-pressed': String(practice.carried.keys),
            'aria-label': 'Type carry, total and side',
          },
        )
      : button('Holed', holed, { id: 'holed', class: 'act strong' });
  return h('div', { class: 'actions three', 'aria-busy': String(guardOf(session).busy) }, undo, more, last);
}

/** @param {Practice} practice */
async function undoBall(practice) {
  guardOf(practice.session).touched(practice.turn);
  await practice.session.undo(practice.id);
  await practice.session.frame?.refresh();
}

/** @param {Practice} practice */
async function finish({ session, id, data }) {
  const body = { ...data.record.body, closed: true };
  const saved = await session.write(id, () => ({
    edits: [{ record_id: id, kind: 'session', body }],
    words: 'Session finished',
  }));
  if (saved) session.frame?.go(`practice/${id}/review`);
}
