/** Playing a hole: the shots so far, the next one, and the four actions of the thumb. */
import { addShot, needsNumbering, numberAgain, recordsOfBall } from '../game/hole-edits.js';
import { openProvisional } from '../game/provisional.js';
import { spoken } from '../game/units.js';
import { iso } from '../log/clock.js';
import { draftFor, tapAgain, tapDigit, tapLie, tapStep, withGuessedClub } from './draft.js';
import { button, h } from '../ui/elements.js';
import { moreSheet } from './more-sheet.js';
import { clubPad, distancePad, liePad } from './play-entry.js';
import { settleProvisional } from './play-actions.js';
import { holeDone, holeStrip, shotList } from './play-parts.js';
import { roundData, seasonTallies, stockOf } from './round-data.js';
import { trialLine, trialOf } from './play-trial.js';
import { guardOf, sayTwice, tappedSpot } from './tap-guard.js';

/** @typedef {Awaited<ReturnType<typeof roundData>>} Data @typedef {{ball: number, start: any, draft: import('./draft.js').Draft|undefined}} Entered */

/**
 * What the play screen works with. `entry`: the number of its drawing, to which a tap belongs. `ball`: the ball being entered.
 * `start`: where a new ball starts.
 * @typedef {object} Place
 * @property {import('../session.js').Session} session @property {string} round_id @property {Data} data @property {number} entry
 * @property {import('../game/shot.js').Hole} hole @property {number} ball @property {any} start
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
      document.getElementById(`hole-${hole.number}`)?.scrollIntoView({ block: 'nearest', inline: 'center' });
      requestAnimationFrame(() => guardOf(session).drawn(drawing));
      const main = document.getElementById('main');
      if (main) main.scrollTop = main.scrollHeight; // on a small phone the entry matters more than the shots so far
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
      h('p', null, `par ${hole.par} · ${spoken(hole.length_yd, 'tee', session.units)}`),
      h('a', { class: 'button quiet', href: `#/round/${place.round_id}/card` }, 'Card'),
    ),
    notices(place),
    shotList(place),
    trialLine(session.state.playing?.trial ?? null),
    done ? holeDone(place) : entry(place),
  );
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
          'Two devices changed the same thing. ',
          h('a', { href: `#/round/${place.round_id}/versions` }, 'Look at both versions'),
        )
      : null,
    question ? settleProvisional(place, question) : null,
    misnumbered
      ? h(
          'p',
          { class: 'notice' },
          'Two devices wrote shots of this ball at the same time. ',
          button(
            'Number them in order',
            () =>
              place.session
                .write(place.round_id, (records) => ({
                  edits: numberAgain(recordsOfBall(/** @type {any} */ (records), hole.number, place.ball)),
                  words: 'numbered again',
                }))
                .then(() => place.session.frame?.refresh()),
            { class: 'quiet' },
          ),
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
  const set = (/** @type {import('./draft.js').Draft} */ draft) => {
    guardOf(place.session).touched(place.entry);
    place.draft = draft;
    const focused = document.activeElement?.id;
    section.replaceChildren(...entryParts(place, set));
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  };
  section.append(...entryParts(place, set));
  return section;
}

/** @param {Place} place @param {(draft: import('./draft.js').Draft) => void} set */
function entryParts(place, set) {
  const { at, session } = place;
  const units = session.units;
  const first = place.ball === 1 && !recordsOfBall(place.data.shots, place.hole.number, 1).length;
  const reguess = (/** @type {any} */ next) => set(withGuessedClub(next, at));
  return [
    liePad(place.draft, first, (lie) => reguess(tapLie(place.draft, lie))),
    distancePad(place.draft, units, {
      step: (by) => reguess(tapStep(place.draft, by, units)),
      digit: (digit) => reguess(tapDigit(place.draft, digit, units)),
      again: () => set(tapAgain(place.draft)),
    }),
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
}

/** @param {Place} place */
function actionBar(place) {
  const { session, round_id: roundId, data, hole } = place;
  const busy = String(guardOf(session).busy);
  const undo = button('Undo', () => undoStep(place), { id: 'undo', class: 'act' });
  const more = button('More', () => moreSheet(place), { id: 'more-actions', class: 'act' });
  if (isDone(place)) {
    const holes = data.round.body.holes;
    const next = holes[holes.findIndex((/** @type {any} */ one) => one.number === hole.number) + 1];
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
  const tap = (/** @type {boolean} */ holed) => (/** @type {Event} */ event) => hit(place, holed, event.timeStamp);
  return h(
    'div',
    { class: 'actions', 'aria-busy': busy },
    undo,
    more,
    button('Holed', tap(true), { id: 'holed', class: 'act' }),
    button('Hit', tap(false), { id: 'hit', class: 'act strong' }),
  );
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
  await session.frame?.refresh();
}

/** @param {Place} place */
async function undoStep(place) {
  guardOf(place.session).touched(place.entry);
  const step = await place.session.undo(place.round_id);
  const hole = step?.before.map((was) => was.body?.hole).find(Boolean);
  if (hole && hole !== place.hole.number) place.session.frame?.go(`round/${place.round_id}/${hole}`);
  else await place.session.frame?.refresh();
}
