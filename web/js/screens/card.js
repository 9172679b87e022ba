/** The scorecard of a round, and what can be done with the round. Prints on one page. */
import { toParWords } from '../game/score.js';
import { closedRound, reopenedRound } from '../game/round-edits.js';
import { byHole } from '../game/summaries.js';
import { fromYards } from '../game/units.js';
import { cachedCaddies, enteringNames } from '../log/caddying.js';
import { iso } from '../log/clock.js';
import { askAboutMissing, closingsPart, leftOpenPart, missingWords } from './closing.js';
import { button, confirmSheet, h } from '../ui/elements.js';
import { shareButton } from '../ui/share.js';
import { conditionsPart } from './recorded-conditions.js';
import { LOCK_WORDS } from './locked.js';
import { numberedTwice, recordsOfBall } from '../game/hole-edits.js';
import { roundData } from './round-data.js';
import { turnedLine } from './play-turn.js';
import { part } from '../ui/parts.js';
import { KIND_WORDS, counted, dayWords, gained, tone } from '../ui/words.js';

/** @typedef {Awaited<ReturnType<typeof roundData>>} Data */

/** @param {import('../session.js').Session} session @param {string} roundId @returns {Promise<import('../routes.js').Drawn>} */
export async function cardScreen(session, roundId) {
  const data = await roundData(session, roundId);
  const body = data.round.body;
  const course = body.course_id ? (await session.store.record(data.round.player_id, body.course_id))?.body.name : null;
  return {
    title: 'Scorecard',
    content: h(
      'div',
      { class: 'page card-page' },
      h('h1', null, course ?? 'Scorecard'),
      h(
        'p',
        { class: 'card-line' },
        `${session.playerName} · ${dayWords(body.played_on)} · ${KIND_WORDS[body.kind]}${body.tees ? ` · ${body.tees} tees` : ''}${body.ball_label ? ` · ball: ${body.ball_label}` : ''}${body.closed ? '' : ' · open'}`,
      ),
      turnedLine(session, data, `round/${roundId}/card`),
      totalLine(data),
      session.caddying ? null : nextStep(session, data, roundId),
      data.versions
        ? h(
            'p',
            { class: 'notice' },
            `${counted(data.versions, 'entry', 'entries')} changed on two devices. `,
            h('a', { href: `#/round/${roundId}/versions` }, 'Compare both versions'),
          )
        : null,
      enteredTwicePart(data, roundId),
      table(session, data, roundId),
      conditionsPart(body),
      leftOpenPart(data, roundId),
      closingsPart(body),
      data.locked ? h('p', { class: 'hint no-print' }, LOCK_WORDS) : null,
      body.closed || session.caddying ? null : await caddies(session, data.round),
      session.caddying ? caddieActions(data, roundId) : actions(session, data, roundId),
    ),
  };
}

/**
 * Who enters the round beside the player; nothing while that part of the app is not on this phone.
 * @param {import('../session.js').Session} session @param {import('../log/store.js').StoredRecord} round
 */
async function caddies(session, round) {
  try {
    return (await part(() => import('./caddies.js'))).caddiesPart(session, round);
  } catch {
    return null;
  }
}

/** Holes that have shots of one number twice, entered on two phones: they have no score until somebody says. @param {Data} data @param {string} roundId */
function enteredTwicePart({ round, shots }, roundId) {
  const twice = round.body.holes.filter(
    (/** @type {any} */ hole) => numberedTwice(recordsOfBall(shots, hole.number, 1)).length,
  );
  if (!twice.length) return null;
  const links = twice.map((/** @type {any} */ hole, /** @type {number} */ place) => [
    place ? ', ' : null,
    h('a', { href: `#/round/${roundId}/${hole.number}` }, `hole ${hole.number}`),
  ]);
  return h(
    'p',
    { class: 'notice', id: 'entered-twice' },
    'Entered on two phones at the same time; no score until you choose: ',
    links,
  );
}

/**
 * Closing ends what others enter: asked first while somebody does. @param {import('../session.js').Session} session
 * @param {import('../log/store.js').StoredRecord} round @returns {Promise<boolean>}
 */
async function askOfCaddies(session, round) {
  const names = enteringNames(await cachedCaddies(session.store, round.player_id).catch(() => []), round.record_id);
  if (!names.length) return true;
  const who = names.join(' and ');
  const words = `${who} ${names.length === 1 ? 'enters' : 'enter'} it too, until you finish it. Shots not sent by then stay on that phone: ask ${who} first.`;
  return confirmSheet('Finish the round?', words, 'Finish it');
}

/** What a caddie may do with the round. @param {Data} data @param {string} roundId */
function caddieActions({ round, score }, roundId) {
  const next = score.holes.find((one) => one.state === 'open')?.hole ?? round.body.holes[0].number;
  return h(
    'div',
    { class: 'bottom-actions no-print' },
    round.body.closed
      ? null
      : h(
          'a',
          { class: 'button wide strong', href: `#/round/${roundId}/${next}`, id: 'go-on' },
          `Continue, hole ${next}`,
        ),
    h('a', { class: 'button wide', href: '#/', id: 'to-caddying' }, 'Entering and sending'),
  );
}

/** @param {Data} data */
function totalLine({ round, score }) {
  if (!score.done) return h('p', { class: 'big-score' }, 'No hole finished yet');
  const missing = missingWords(round.body, score);
  return h(
    'p',
    { class: 'big-score' },
    h('span', { class: 'number' }, score.strokes),
    ` ${toParWords(score.to_par)} `,
    missing ? h('span', { class: 'incomplete' }, missing) : null,
  );
}

/** @param {import('../session.js').Session} session @param {Data} data @param {string} roundId */
function table(session, data, roundId) {
  const holes = data.round.body.holes;
  const sums = byHole(data.valued);
  const unit = session.units === 'metres' ? 'm' : 'yd';
  const withValues = !data.locked && data.valued.length > 0;
  const half = holes.length > 9 ? [holes.slice(0, 9), holes.slice(9)] : [holes];
  const rows = half.flatMap((part, place) => [
    ...part.map((/** @type {any} */ hole) => holeRow(hole, data, sums, unit, withValues, roundId)),
    half.length > 1 ? sumRow(place ? 'In' : 'Out', part, data, sums, unit, withValues) : null,
  ]);
  return h(
    'table',
    { class: 'card' },
    h('caption', { class: 'hidden' }, 'Scorecard by hole'),
    h(
      'thead',
      null,
      h(
        'tr',
        null,
        ['Hole', unit, 'Par', 'Score', withValues ? 'Gained' : null]
          .filter(Boolean)
          .map((words) => h('th', { scope: 'col' }, words)),
      ),
    ),
    h('tbody', null, rows, sumRow('Total', holes, data, sums, unit, withValues)),
  );
}

/** @param {any} hole @param {Data} data @param {Map<number, any>} sums @param {any} unit @param {boolean} withValues @param {string} roundId */
function holeRow(hole, data, sums, unit, withValues, roundId) {
  const score = data.score.holes.find((one) => one.hole === hole.number);
  const sum = sums.get(hole.number)?.strokes_gained ?? null;
  const words =
    score?.state === 'holed'
      ? String(score.strokes)
      : score?.state === 'picked_up'
        ? 'picked up'
        : score?.shots
          ? 'open'
          : '';
  return h(
    'tr',
    null,
    h(
      'th',
      { scope: 'row' },
      h('a', { href: `#/round/${roundId}/${hole.number}`, 'aria-label': `Hole ${hole.number}` }, hole.number),
    ),
    h('td', null, Math.round(fromYards(hole.length_yd, unit))),
    h('td', null, hole.par),
    h(
      'td',
      null,
      h('span', { class: `mark-score ${score?.state === 'holed' ? scoreMark(score.strokes - hole.par) : ''}` }, words),
    ),
    withValues ? h('td', { class: tone(sum) }, gained(sum)) : null,
  );
}

/** Under par is circled, over par boxed, as paper cards have it (common practice, no source). @param {number} toPar @returns {string} */
function scoreMark(toPar) {
  if (toPar <= -2) return 'circle double';
  if (toPar === -1) return 'circle';
  if (toPar === 1) return 'box';
  return toPar >= 2 ? 'box double' : '';
}

/** @param {string} words @param {any[]} holes @param {Data} data @param {Map<number, any>} sums @param {any} unit @param {boolean} withValues */
function sumRow(words, holes, data, sums, unit, withValues) {
  const numbers = new Set(holes.map((hole) => hole.number));
  const scores = data.score.holes.filter((score) => numbers.has(score.hole));
  const done = scores.filter((score) => score.state === 'holed');
  const strokes = done.reduce((sum, score) => sum + score.strokes, 0);
  const open = done.length < scores.length;
  const values = [...sums].filter(([number]) => numbers.has(number));
  const sum = values.length ? values.reduce((all, [, row]) => all + row.strokes_gained, 0) : null;
  const length = holes.reduce((all, hole) => all + Math.round(fromYards(hole.length_yd, unit)), 0);
  return h(
    'tr',
    { class: 'sum' },
    h('th', { scope: 'row' }, words),
    h('td', null, length),
    h(
      'td',
      null,
      holes.reduce((all, hole) => all + hole.par, 0),
    ),
    h('td', null, done.length ? `${strokes}${open ? '…' : ''}` : ''),
    withValues ? h('td', { class: tone(sum) }, gained(sum)) : null,
  );
}

/** What happens next with the round: the next hole, finishing it, its review. @param {import('../session.js').Session} session @param {Data} data @param {string} roundId */
function nextStep(session, data, roundId) {
  const { round, score } = data;
  const change = changes(session, data, roundId);
  const close = async () => {
    if (!(await askOfCaddies(session, round))) return;
    const missing = score.holes.some((hole) => hole.state === 'open');
    const answer = missing ? await askAboutMissing(score) : null;
    if (!missing || answer) await change((body) => closedRound(body, iso(Date.now()), answer), 'Round finished');
  };
  const next = score.holes.find((one) => one.state === 'open')?.hole ?? round.body.holes[0].number;
  return h(
    'div',
    { class: 'row no-print next-step' },
    round.body.closed
      ? h('a', { class: 'button strong', href: `#/round/${roundId}/review`, id: 'review' }, 'Review')
      : [
          h(
            'a',
            { class: `button ${score.incomplete ? 'strong' : ''}`, href: `#/round/${roundId}/${next}`, id: 'go-on' },
            score.incomplete ? `Continue, hole ${next}` : 'Back to the holes',
          ),
          button('Finish the round', close, { class: score.incomplete ? '' : 'strong', id: 'close-round' }),
        ],
  );
}

/** @param {import('../session.js').Session} session @param {Data} data @param {string} roundId */
function changes(session, data, roundId) {
  return async (/** @type {(body: any) => any} */ changed, /** @type {string} */ words) => {
    await session.write(null, () => ({
      edits: [{ record_id: roundId, kind: 'round', body: changed(data.round.body) }],
      words,
    }));
    await session.frame?.refresh();
  };
}

/** What else can be done with the round. @param {import('../session.js').Session} session @param {Data} data @param {string} roundId */
function actions(session, data, roundId) {
  const { round } = data;
  const change = changes(session, data, roundId);
  const reopen = () => change((body) => reopenedRound(body, iso(Date.now())), 'Round reopened');
  return h(
    'div',
    { class: 'bottom-actions no-print' },
    round.body.closed ? button('Reopen the round', reopen, { class: 'wide', id: 'reopen' }) : null,
    round.body.closed || data.locked
      ? null
      : h('a', { class: 'button wide', href: `#/round/${roundId}/review`, id: 'review' }, 'Review so far'),
    h(
      'div',
      { class: 'row' },
      h('a', { class: 'button', href: `#/round/${roundId}/holes`, id: 'round-holes' }, 'Pars and lengths'),
      h('a', { class: 'button', href: `#/round/${roundId}/setup` }, 'Bag and conditions'),
      button('Print', () => print(), { id: 'print' }),
      shareButton(session, 'Scorecard', '.card-page'),
      button('Delete', () => deleteRound(session, roundId, data.shots.length), { class: 'red', id: 'delete-round' }),
    ),
  );
}

/** The round and every shot of it that this phone knows. @param {import('../session.js').Session} session @param {string} roundId @param {number} count */
async function deleteRound(session, roundId, count) {
  if (
    !(await confirmSheet(
      'Delete this round?',
      `Deletes the round and its ${counted(count, 'shot')}, here and on the server.`,
      'Delete',
    ))
  )
    return;
  const saved = await session.write(roundId, (shots) => ({
    edits: [
      { record_id: roundId, kind: 'round', body: null },
      ...shots.map((shot) => ({ record_id: shot.record_id, kind: 'shot', body: null })),
    ],
    words: 'Round deleted',
  }));
  if (saved) session.frame?.go('');
}
