/** Closing a round and opening it again: the question about missing holes, and what the round says of it later. */
import { NINE, NINE_HOLES, STOP_HERE, openedAfter, openedAgain } from '../game/closings.js';
import { ballsLeftOpen } from '../game/order-of-play.js';
import { couldBeNine } from '../game/round-edits.js';
import { COMPETITION } from '../game/shot.js';
import { button, h, sheet } from '../ui/elements.js';
import { counted } from '../ui/words.js';

/** @typedef {Awaited<ReturnType<typeof import('./round-data.js').roundData>>} Data */

const OPENED_AGAIN =
  'This competition round was finished and reopened: strokes gained, evidence and plans could be seen in between (rule 4.3a).';
const GO_ON = 'go on';

/**
 * Numbers in words, runs drawn together: "3, 5 and 10 to 18". @param {number[]} numbers @returns {string}
 */
export function listed(numbers) {
  /** @type {number[][]} */
  const runs = [];
  for (const number of numbers) {
    const run = runs[runs.length - 1];
    if (run && run[run.length - 1] === number - 1) run.push(number);
    else runs.push([number]);
  }
  const parts = runs.flatMap((run) => (run.length > 2 ? [`${run[0]} to ${run[run.length - 1]}`] : run.map(String)));
  return parts.length > 1 ? `${parts.slice(0, -1).join(', ')} and ${parts[parts.length - 1]}` : (parts[0] ?? '');
}

/** @param {number[]} numbers @returns {string} such as "hole 5" or "holes 10 to 18" */
function holesWords(numbers) {
  return `${numbers.length === 1 ? 'hole' : 'holes'} ${listed(numbers)}`;
}

/**
 * Asks what is meant when holes are missing. @param {Data['score']} score
 * @returns {Promise<string|null>} the answer, or null to go on playing
 */
export function askAboutMissing({ holes }) {
  const open = holes.filter((hole) => hole.state === 'open');
  const empty = open.filter((hole) => !hole.shots).map((hole) => hole.hole);
  const begun = open.filter((hole) => hole.shots).map((hole) => hole.hole);
  const nine = couldBeNine(holes.map((hole) => hole.shots > 0));
  const short = open.length > holes.length - NINE;
  return new Promise((resolve) => {
    let answer = GO_ON;
    const dialog = sheet('Holes are missing', (_redraw, close) => {
      const say = (/** @type {string} */ words) => {
        answer = words;
        close();
      };
      return [
        empty.length ? h('p', null, `Not played: ${holesWords(empty)}.`) : null,
        begun.length ? h('p', null, `Started, not finished: ${holesWords(begun)}.`) : null,
        nine ? button('Nine holes', () => say(NINE_HOLES), { class: 'wide strong', id: 'close-nine' }) : null,
        nine
          ? h(
              'p',
              { class: 'hint' },
              `Count it as a nine-hole round.${short ? ' With holes missing it has no score.' : ''}`,
            )
          : null,
        button('Stop here', () => say(STOP_HERE), { class: 'wide', id: 'close-stop' }),
        h('p', { class: 'hint' }, 'The round ends here. The shots count; the round has no score.'),
        button('Keep playing', close, { class: 'wide', id: 'close-not' }),
      ];
    });
    dialog.addEventListener('close', () => resolve(answer === GO_ON ? null : answer));
  });
}

/** @param {string|null|undefined} at ISO 8601 @returns {string} where the phone is */
function moment(at) {
  if (!at) return 'at an unrecorded time';
  const date = new Date(at);
  if (Number.isNaN(date.getTime())) return at;
  return date.toLocaleString('en-GB', {
    day: 'numeric',
    month: 'short',
    year: 'numeric',
    hour: '2-digit',
    minute: '2-digit',
  });
}

/** When the round was closed and opened again; in a competition also what that opened. @param {any} body of the round */
export function closingsPart(body) {
  const closings = body.closings ?? [];
  if (!closings.length) return null;
  const words = closings.map((/** @type {any} */ one, /** @type {number} */ place) => {
    const opened = openedAfter(body.closed, closings, place) ? ` Reopened ${moment(one.reopened_at)}.` : '';
    return `Finished ${moment(one.closed_at)}.${opened}`;
  });
  return h(
    'section',
    { class: 'closings' },
    body.kind === COMPETITION && openedAgain(body.closed, closings).length
      ? h('p', { class: 'notice', id: 'opened-again' }, OPENED_AGAIN)
      : null,
    h('p', { class: 'hint', id: 'closings' }, words.join(' ')),
  );
}

/** What is missing of the round's score, in words; empty for a full round. @param {any} body of the round @param {Data['score']} score */
export function missingWords(body, score) {
  const wanted = Math.min(body.holes_meant ?? score.holes.length, score.holes.length);
  if (!score.incomplete) return wanted < score.holes.length ? counted(score.done, 'hole') : '';
  if (body.stopped) return `stopped after ${counted(score.done, 'hole')}`;
  return `incomplete: ${score.done} of ${wanted} holes${score.picked_up ? `, ${score.picked_up} picked up` : ''}`;
}

/** Balls of a closed round without an end; an abandoned provisional needs none. @param {Data} data @param {string} roundId */
export function leftOpenPart({ round, shots }, roundId) {
  if (!round.body.closed) return null;
  const bodies = shots.map((record) => record.body);
  const left = ballsLeftOpen(bodies).map((place) => bodies[place]);
  if (!left.length) return null;
  left.sort((a, b) => a.hole - b.hole || a.ball - b.ball);
  const words = (/** @type {any} */ shot) => `hole ${shot.hole}${shot.ball > 1 ? `, ball ${shot.ball}` : ''}`;
  const links = left.map((shot, place) => [
    place ? ' · ' : null,
    h('a', { href: `#/round/${roundId}/${shot.hole}` }, words(shot)),
  ]);
  return h('p', { class: 'hint no-print', id: 'left-open' }, 'End not recorded: ', links);
}
