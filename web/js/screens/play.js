/** Playing a hole: the shots so far, the next one, and the four actions of the thumb. */
import { addShot, needsNumbering, recordsOfBall } from '../game/hole-edits.js';
import { openProvisional } from '../game/provisional.js';
import { GREEN } from '../game/lies.js';
import { spoken } from '../game/units.js';
import { cachedCaddies, enteringNames } from '../log/caddying.js';
import { iso } from '../log/clock.js';
import { draftFor, tapAgain, tapDigit, tapLength, tapLie, tapStep, withGuessedClub } from './draft.js';
import { button, h } from '../ui/elements.js';
import { devicesOf, enteredTwice } from './entered-twice.js';
import { moreSheet } from './more-sheet.js';
import { clubPad, distancePad, liePad } from './play-entry.js';
import { conditionsButton, windPart } from './hole-conditions.js';
import { extraWentIn, lastShot, pickUpBall, playDuel, settleProvisional } from './play-actions.js';
import { holeDone, holeStrip, shotList } from './play-parts.js';
import { positionPart } from './play-position.js';
import { roundData, seasonTallies, stockOf } from './round-data.js';
import { trialLine, trialOf } from './play-trial.js';
import { nextHole, turnOn, turnedLine, undoOf } from './play-turn.js';
import { guardOf, sayTwice, tappedSpot } from './tap-guard.js';

/** @typedef {Awaited<ReturnType<typeof roundData>>} Data @typedef {{ball: number, start: any, draft: import('./draft.js').Draft|undefined}} Entered */

/**
 * What the play screen works with. `entry`: the number of its drawing, to which a tap belongs. `ball`: the ball being entered.
 * `start`: where a new ball starts.
 * @typedef {object} Place
 * @property {import('../session.js').Session} session @property {string} round_id @property {Data} data @property {number} entry
 * @property {import('../game/shot.js').Hole} hole @property {number} ball @property {any} start
 * @property {Map<string, string>} devices of shots that share their number: where each was entered
 * @property {import('./draft.js').Draft} draft @property {any} at @property {(ball: number, start?: any) => void} turnTo
 */

/** @param {import('../session.js').Session} session @param {string} roundId @param {string} number @returns {Promise<any>} */
export async function playScreen(session, roundId, number) {
  const drawing = guardOf(session).begin();
  const data = await roundData(session, roundId);
  const hole = data.round.body.holes.find((/** @type {any} */ one) => one.number === Number(number));
  if (!hole) throw new Error(`this round has no hole ${number}`);
  const ofHole = `${roundId} ${hole.number}`;
  /** @returns {Entered} */
  const begun = () => ({
    ball:
      openProvisional(
        data.shots.map((record) => record.body),
        hole.number,
      ) ?? 1,
    start: null,
    draft: undefined,
  });
  const entered = await session.drafts.open(data.round.player_id, `play ${ofHole}`, roundId, begun);
  const keep = entered.value;
  const { state } = session; // replaced when the player leaves while this drawing waits
  if (state.playing?.hole !== ofHole) {
    const tallies = await seasonTallies(session);
    state.playing = {
      hole: ofHole,
      stock: stockOf(data.clubs, tallies),
      trial: trialOf(data, hole.number, tallies),
      caddies: await cachedCaddies(session.store, data.round.player_id).catch(() => []),
    };
  }
  const at = {
    shots: data.shots,
    hole,
    ball: keep.ball,
    round_id: roundId,
    bag: data.bag,
    stock: state.playing.stock,
    guess_club: !data.locked,
    trial: state.playing.trial,
    start: keep.start,
  };
  const guessed = draftFor(keep.draft, at);
  if (guessed !== keep.draft) {
    keep.draft = guessed;
    if (keep.ball === begun().ball && !keep.start) entered.untouched(); // a guess is not an entry
  }
  /** @type {Place} */
  const place = {
    session,
    round_id: roundId,
    data,
    hole,
    entry: drawing,
    ball: keep.ball,
    start: keep.start,
    devices: await devicesOf(session, recordsOfBall(data.shots, hole.number, keep.ball)),
    at,
    get draft() {
      return keep.draft ?? guessed;
    },
    set draft(draft) {
      keep.draft = draft;
    },
    turnTo: (ball, start = null) => {
      keep.ball = ball;
      keep.start = start;
      keep.draft = undefined;
      session.frame?.refresh();
    },
  };
  return {
    title: `Hole ${hole.number}`,
    content: content(place),
    bar: actionBar(place),
    after: () => {
      for (const seen of [`#hole-${hole.number}`, '#wind-at [tabindex="0"]'])
        document.querySelector(seen)?.scrollIntoView({ block: 'nearest', inline: 'center' });
      requestAnimationFrame(() => guardOf(session).drawn(drawing));
      const main = document.getElementById('main');
      const question = document.getElementById('entered-twice');
      if (question) question.scrollIntoView({ block: 'nearest' });
      else if (main) main.scrollTop = main.scrollHeight; // on a small phone the entry matters more than the shots so far
    },
  };
}

/** @param {Place} place */
function content(place) {
  const { hole, session } = place;
  const done = isDone(place);
  return h(
    'div',
    { class: 'play' },
    holeStrip(place),
    h(
      'div',
      { class: 'hole-head' },
      h('h1', null, `Hole ${hole.number}`),
      conditionsButton(place, `par ${hole.par} · ${spoken(hole.length_yd, 'tee', session.units)}`),
      h('a', { class: 'button quiet', href: `#/round/${place.round_id}/card` }, 'Card'),
      turnedLine(session, place.data, `round/${place.round_id}/${hole.number}`),
    ),
    enteringLine(place),
    notices(place),
    shotList(place),
    place.data.shots.some((record) => record.body.hole === hole.number) ? null : windPart(place),
    done ? [trialLine(place, null, (club, event) => duel(place, club, event)), holeDone(place)] : entry(place),
  );
}

/** @param {Place} place @param {string} clubId @param {Event} event */
function duel(place, clubId, event) {
  if (guardOf(place.session).allows(place.entry, event.timeStamp)) playDuel(place, clubId);
  else sayTwice(place.session);
}

/** Who else enters this round, or for whom this phone does. @param {Place} place */
function enteringLine({ session, round_id: roundId }) {
  if (session.caddying) return h('p', { class: 'hint', id: 'entering' }, `You enter for ${session.playerName}.`);
  const names = enteringNames(session.state.playing?.caddies ?? [], roundId);
  if (!names.length) return null;
  const words = `${names.join(' and ')} ${names.length === 1 ? 'enters' : 'enter'} this round too.`;
  return h('p', { class: 'hint', id: 'entering' }, words);
}

/** @param {Place} place */
function notices(place) {
  const { data, hole } = place;
  const shots = data.shots.map((record) => record.body);
  const question = openProvisional(shots, hole.number);
  const misnumbered = needsNumbering(recordsOfBall(data.shots, hole.number, place.ball));
  return [
    data.versions
      ? h(
          'p',
          { class: 'notice' },
          'Two devices changed the same entry. ',
          h('a', { href: `#/round/${place.round_id}/versions` }, 'Compare both versions'),
        )
      : null,
    question ? settleProvisional(place, question) : null,
    misnumbered
      ? enteredTwice(
          place,
          place.devices,
          new Map((place.session.state.playing?.caddies ?? []).map((one) => [one.device_id ?? '', one.name ?? ''])),
        )
      : null,
    ballRow(place),
  ];
}

/** The balls of the hole, when there is more than one. @param {Place} place */
function ballRow(place) {
  const bodies = place.data.shots.map((record) => record.body).filter((shot) => shot.hole === place.hole.number);
  const balls = [...new Set([1, ...bodies.map((shot) => shot.ball), place.ball])].sort((a, b) => a - b);
  if (balls.length < 2) return null;
  const name = (/** @type {number} */ ball) => {
    if (ball === 1) return 'Ball 1';
    const provisional =
      bodies.some((shot) => shot.ball === ball && shot.provisional) || (ball === place.ball && place.draft.provisional);
    return provisional ? `Provisional ${ball}` : `Extra ${ball}`;
  };
  const choose = (/** @type {number} */ ball) => {
    guardOf(place.session).touched(place.entry);
    place.turnTo(ball);
  };
  return h(
    'div',
    { class: 'choices balls', role: 'group', 'aria-label': 'Ball' },
    balls.map((ball) =>
      button(name(ball), () => choose(ball), {
        class: 'choice',
        id: `ball-${ball}`,
        'aria-pressed': ball === place.ball ? 'true' : 'false',
      }),
    ),
  );
}

/** @param {Place} place @returns {boolean} whether the ball being entered is finished */
function isDone(place) {
  const played = recordsOfBall(place.data.shots, place.hole.number, place.ball);
  const last = played[played.length - 1]?.body;
  return Boolean(last?.holed || last?.picked_up);
}

/**
 * The entry of the next shot. Each tap works on the draft as it is at that moment and draws at once, so that fast thumbs
 * lose nothing.
 * @param {Place} place
 */
function entry(place) {
  const section = h('section', { class: 'entry', 'aria-label': 'Next shot' });
  const redraw = () => {
    if (!section.isConnected) {
      place.session.frame?.refreshQuietly();
      return;
    }
    const focused = document.activeElement?.id;
    section.replaceChildren(...entryParts(place, set, redraw));
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  };
  const set = (/** @type {import('./draft.js').Draft} */ draft) => {
    guardOf(place.session).touched(place.entry);
    place.draft = draft;
    redraw();
  };
  section.append(...entryParts(place, set, redraw));
  return section;
}

/** @param {Place} place @param {(draft: import('./draft.js').Draft) => void} set @param {() => void} redraw what came without a tap is shown */
function entryParts(place, set, redraw) {
  const { at, session } = place;
  const units = session.units;
  const first = place.ball === 1 && !recordsOfBall(place.data.shots, place.hole.number, 1).length;
  const reguess = (/** @type {any} */ next) => set(withGuessedClub(next, at));
  const parts = [
    trialLine(
      place,
      (club) => set({ ...place.draft, club_id: club, club_chosen: true }),
      (club, event) => duel(place, club, event),
    ),
    liePad(place.draft, first, (lie) => reguess(tapLie(place.draft, lie))),
    distancePad(place.draft, units, {
      step: (by) => reguess(tapStep(place.draft, by, units)),
      digit: (digit) => reguess(tapDigit(place.draft, digit, units)),
      again: () => set(tapAgain(place.draft)),
      length: (feet) => set(tapLength(place.draft, feet)),
    }),
    positionPart(place, redraw),
    at.bag.length
      ? clubPad(
          place.draft,
          at.bag,
          at.stock,
          (club) => set({ ...place.draft, club_id: club, club_chosen: true }),
          !at.guess_club,
        )
      : h(
          'p',
          { class: 'notice' },
          'The bag of this round is empty. ',
          h('a', { href: `#/round/${place.round_id}/setup` }, 'Choose clubs'),
        ),
  ];
  return parts.filter((one) => one !== null);
}

/** @param {Place} place */
function actionBar(place) {
  const { session, round_id: roundId } = place;
  const busy = String(guardOf(session).busy);
  const undo = button('Undo', () => undoStep(place), { id: 'undo', class: 'act' });
  const more = button('More', () => moreSheet(place), { id: 'more-actions', class: 'act' });
  if (isDone(place)) {
    const next = nextHole(place);
    const onlyWhenMeant = (/** @type {Event} */ event) =>
      guardOf(session).allows(place.entry, event.timeStamp) || event.preventDefault();
    const back = (/** @type {Event} */ event) =>
      guardOf(session).allows(place.entry, event.timeStamp) && place.turnTo(1);
    const on =
      place.ball !== 1
        ? button('Back to ball 1', back, { id: 'next', class: 'act strong' })
        : h(
            'a',
            {
              id: 'next',
              class: 'button act strong',
              onclick: onlyWhenMeant,
              href: next ? `#/round/${roundId}/${next.number}` : `#/round/${roundId}/card`,
            },
            next ? `Hole ${next.number}` : 'To the card',
          );
    return h('div', { class: 'actions three', 'aria-busy': busy }, undo, more, on);
  }
  const ends = isExtra(place) ? endsOfExtra(place) : null;
  const tap = (/** @type {boolean} */ holed) => (/** @type {Event} */ event) => hit(place, holed, event.timeStamp);
  return h(
    'div',
    { class: 'actions', 'aria-busy': busy },
    ends,
    undo,
    more,
    button('Holed', tap(true), { id: 'holed', class: 'act' }),
    button('Hit', tap(false), { id: 'hit', class: `act ${ends ? '' : 'strong'}` }),
  );
}

/** Whether the ball is an extra one of a practice round with a shot whose finish is being entered. @param {Place} place */
function isExtra(place) {
  return place.ball !== 1 && !place.draft.provisional && lastShot(place) !== null;
}

/** How an extra ball most often ends: where it lies after one shot. One tap, and on with ball 1. @param {Place} place */
function endsOfExtra(place) {
  const once = (/** @type {() => void} */ end) => (/** @type {Event} */ event) =>
    guardOf(place.session).allows(place.entry, event.timeStamp) ? end() : sayTwice(place.session);
  const lies = () => {
    if (place.draft.distance_yd === null) place.session.frame?.alert('Type the distance first: it is not known.');
    else pickUpBall(place, true);
  };
  return [
    button(
      'Went in',
      once(() => extraWentIn(place)),
      { id: 'went-in', class: 'act end' },
    ),
    button('Lies here', once(lies), { id: 'lies-here', class: 'act strong end' }),
  ];
}

/** What is still missing of the entry, in words. @param {import('./draft.js').Draft} draft @returns {string|null} */
function missingOf(draft) {
  if (draft.distance_yd === null) return 'Type the distance first: after relief it is not known.';
  return draft.club_id ? null : 'Tap the club first.';
}

/**
 * The shot is hit: it is written, and said to be saved when it is on the disk.
 * @param {Place} place @param {boolean} holed @param {number} at the moment of the tap
 */
async function hit(place, holed, at) {
  const { draft, session, hole } = place;
  const guard = guardOf(session);
  if (!guard.allows(place.entry, at)) {
    sayTwice(session);
    return;
  }
  const missing = missingOf(draft);
  if (missing) {
    session.frame?.alert(missing);
    return;
  }
  guard.close(tappedSpot());
  const recordId = crypto.randomUUID();
  const body = {
    round_id: place.round_id,
    hole: hole.number,
    ball: place.ball,
    lie: draft.lie,
    distance_yd: draft.distance_yd,
    club_id: draft.club_id,
    holed,
    at: iso(Date.now()),
    ...(draft.position && draft.lie !== GREEN ? { position: draft.position } : {}),
    ...(draft.provisional
      ? { provisional: true, provisional_for: recordsOfBall(place.data.shots, hole.number, 1).length }
      : {}),
  };
  let saved = false;
  try {
    saved = await session.write(place.round_id, (records) => ({
      edits: addShot(/** @type {any} */ (records), recordId, /** @type {any} */ (body)),
      words: `Hole ${hole.number}: ${holed ? 'holed' : 'shot saved'}`,
    }));
  } finally {
    guard.end(saved);
  }
  if (!(saved && holed && turnOn(place, /** @type {any} */ (body)))) await session.frame?.refresh();
}

/** @param {Place} place */
async function undoStep(place) {
  guardOf(place.session).touched(place.entry);
  await undoOf(place.session, place.round_id);
}
