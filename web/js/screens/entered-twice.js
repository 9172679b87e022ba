/**
 * Two phones entered shots of one ball at the same time, the player's and a caddie's or another of the player's own: whether
 * they are the same shots is the player's to say. Until then the hole has no score, and nothing is lost.
 */
import { keepOnes, numberAgain, numberedTwice, recordsOfBall } from '../game/hole-edits.js';
import { button, h } from '../ui/elements.js';
import { counted } from '../ui/words.js';

/** @typedef {import('./play.js').Place} Place @typedef {import('../log/store.js').StoredRecord} StoredRecord */

/**
 * Of shots that share their number the phones on which each was entered. @param {import('../session.js').Session} session
 * @param {StoredRecord[]} inOrder of one ball @returns {Promise<Map<string, string>>} device by record
 */
export async function devicesOf(session, inOrder) {
  const found = new Map();
  for (const record of numberedTwice(inOrder)) {
    const changes = await session.store.changesOf(record.record_id);
    const first = changes.find((change) => change.op === 'put' && !change.parents.length) ?? changes[0];
    found.set(record.record_id, first?.device_id ?? '');
  }
  return found;
}

/** @param {Place} place @param {Map<string, string>} devices @param {Map<string, string>} names of devices */
export function enteredTwice(place, devices, names) {
  const { session, hole, ball, round_id: roundId } = place;
  const write = async (/** @type {(records: any[]) => any[]} */ plan, /** @type {string} */ words) => {
    await session.write(roundId, (records) => ({ edits: plan(/** @type {any} */ (records)), words }));
    await session.frame?.refresh();
  };
  const all = [...new Set(devices.values())].sort(
    (a, b) => Number(b === session.store.deviceId) - Number(a === session.store.deviceId),
  );
  const mine = (/** @type {string} */ device) => [...devices].filter(([, one]) => one === device).map(([id]) => id);
  const choices = all.length < 2 ? [] : all;
  return h(
    'section',
    { class: 'notice', id: 'entered-twice' },
    h(
      'p',
      null,
      choices.length
        ? 'Two phones entered shots of this ball at the same time. Choose which are right; until then this hole has no score.'
        : 'Two phones changed the shots of this ball at the same time.',
    ),
    choices.map((device, number) =>
      button(
        `The same shots: keep ${whose(session, names, device)} (${counted(mine(device).length, 'shot')})`,
        () => write((records) => keepOnes(records, hole.number, ball, mine(device)), 'Kept, each shot once'),
        { class: 'wide', id: `keep-${number}` },
      ),
    ),
    button(
      choices.length ? 'All of them were played: number them in order' : 'Number them in order',
      () => write((records) => numberAgain(recordsOfBall(records, hole.number, ball)), 'Numbered in order'),
      { class: 'wide', id: 'number-again' },
    ),
  );
}

/** @param {import('../session.js').Session} session @param {Map<string, string>} names @param {string} device */
function whose(session, names, device) {
  if (device === session.store.deviceId) return 'those of this phone';
  const name = names.get(device);
  if (name) return `those of ${name}`;
  return session.caddying ? `those of ${session.playerName}` : 'those of the other phone';
}
