/** Saving and sending: what is on this phone, what has not been sent, and the full log as a file. */
import { FORMAT, UnreadableFile, logFile, readLogFile } from '../log/log-file.js';
import { outboxState, sendAgain, waitsForNewerServer } from '../log/outbox.js';
import { takeUpdate } from '../bridge.js';
import { button, h } from '../ui/elements.js';
import { installHint, isInstalled } from '../ui/install.js';
import { askToPersist } from './players.js';
import { counted } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session */

const UNKNOWN_CALLER = 401;

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function savingScreen(session) {
  const state = session.playerId ? await outboxState(session.store, session.playerId) : { waiting: 0, problems: [] };
  const persisted = navigator.storage?.persisted ? await navigator.storage.persisted() : null;
  return {
    title: 'Saving and sending',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Saving and sending'),
      sending(session, state),
      forNewerServer(state.problems.filter(waitsForNewerServer).length),
      state.problems.every(waitsForNewerServer)
        ? null
        : problems(
            session,
            state.problems.filter((one) => !waitsForNewerServer(one)),
          ),
      session.update ? update(session) : null,
      fileParts(session),
      storage(session, persisted),
      isInstalled() ? null : installHint(),
    ),
  };
}

/** @param {Session} session @param {{waiting: number, problems: any[]}} state */
function sending(session, state) {
  const { schedule } = session;
  const now = async () => {
    await schedule.now();
    await session.frame?.refresh();
  };
  const last = schedule.state.at
    ? `Last sync ${new Date(schedule.state.at).toLocaleTimeString('en-GB')}.`
    : 'No sync yet since the app was opened.';
  return h(
    'section',
    null,
    h(
      'p',
      { class: 'lead', id: 'sending-words' },
      state.waiting
        ? `${counted(state.waiting, 'change')} saved here, not sent yet.`
        : 'Everything is sent: nothing is waiting.',
    ),
    h(
      'p',
      null,
      last,
      schedule.state.failure
        ? ` ${schedule.state.kind === 'offline' ? 'No network: it is sent later.' : `Not sent: ${schedule.state.kind === 'sign_in' && schedule.state.status !== UNKNOWN_CALLER ? 'not this account’s player' : schedule.state.failure}.`}`
        : '',
    ),
    wayOut(session),
    session.playerId ? button('Send now', now, { class: 'wide strong', id: 'send-now' }) : null,
  );
}

/** What helps when the server takes nothing of this player from whoever is signed in. @param {Session} session */
function wayOut({ schedule: { state }, player }) {
  if (!state.failure) return null; // it stays while the next exchange runs
  if (state.kind === 'erased')
    return h(
      'p',
      { class: 'notice' },
      'The player was erased on the server. What is still on this phone can be saved to a file, or erased here too: ',
      h('a', { href: '#/own-data', id: 'to-own-data' }, 'Your data'),
    );
  if (state.kind === 'ended')
    return h('p', { class: 'notice' }, state.failure, ' ', h('a', { href: '#/', id: 'to-caddying' }, 'What to do'));
  if (state.kind === 'full')
    return h(
      'p',
      { class: 'notice', id: 'no-room' },
      'Nothing is lost: everything recorded stays on this phone and is sent once there is space. Ask whoever runs the server for more space (the server’s log names the setting); until then save everything to a file now and then.',
    );
  if (state.kind !== 'sign_in') return null;
  if (state.status === UNKNOWN_CALLER)
    return h('p', null, h('a', { class: 'button wide', href: '#/sign-in', id: 'to-sign-in' }, 'Sign in'));
  return h(
    'section',
    { class: 'notice' },
    h(
      'p',
      null,
      `This phone records for ${player?.name ?? 'a player'}, and another account is signed in. Nothing is lost: it waits here.`,
    ),
    h('a', { class: 'button wide', href: '#/whose-phone', id: 'to-whose-phone' }, 'What that means, and what to do'),
  );
}

/** @param {number} count of changes that the server does not know the kind of */
function forNewerServer(count) {
  if (!count) return null;
  return h(
    'p',
    { class: 'notice', id: 'for-newer-server' },
    `The server is older than this app and does not take ${counted(count, 'change')} yet, practice sessions for example. Nothing is lost: ${count === 1 ? 'it stays' : 'they stay'} on this phone and ${count === 1 ? 'is' : 'are'} sent again at each start.`,
  );
}

/** @param {Session} session @param {import('../log/outbox.js').SetAside[]} list */
function problems(session, list) {
  const again = async () => {
    await sendAgain(session.store, /** @type {string} */ (session.playerId));
    await session.schedule.now();
    await session.load();
    await session.frame?.refresh();
  };
  return h(
    'section',
    { class: 'notice' },
    h('h2', null, 'Kept here, refused by the server'),
    h('p', null, 'Nothing is lost: these stay on this phone. Correct the entry in its round, or send them again.'),
    h(
      'ul',
      null,
      list.map((one) =>
        h(
          'li',
          null,
          `${one.kind}${one.body?.hole ? `, hole ${one.body.hole} shot ${one.body.order}` : ''}: ${one.problem?.detail ?? one.problem?.title ?? 'refused'}`,
        ),
      ),
    ),
    button('Send again', again, { id: 'send-again' }),
  );
}

/** @param {Session} session */
function update(session) {
  const take = async () => {
    if (!(await takeUpdate(session)))
      session.warn('A round is open: finish it first, then update. What you record now is safe either way.');
  };
  return h(
    'section',
    { class: 'notice' },
    h('h2', null, 'A new version is ready'),
    h('p', null, 'It waits for your tap and never installs during an open round.'),
    button('Update now', take, { id: 'update-now' }),
  );
}

/** Everything that this phone holds, to a file; no network needed. @param {Session} session */
export async function saveLog(session) {
  const { name, text, changes } = await logFile(session.store);
  saveFile(name, new Blob([text], { type: 'application/json' }));
  session.frame?.say(`${counted(changes, 'change')} saved to ${name}`);
}

/** @param {string} name @param {Blob} content */
export function saveFile(name, content) {
  const address = URL.createObjectURL(content);
  h('a', { href: address, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}

/** @param {Session} session */
function fileParts(session) {
  const chosen = h('input', {
    type: 'file',
    accept: '.json,application/json',
    id: 'log-file',
    'aria-label': 'A saved log',
  });
  chosen.addEventListener('change', async () => {
    const file = chosen.files?.[0];
    if (!file) return;
    try {
      await readBack(session, await file.text());
    } catch (error) {
      session.warn(
        error instanceof UnreadableFile
          ? error.message
          : `Nothing was restored from the file: ${error instanceof Error ? error.message : error}`,
      );
    }
    chosen.value = '';
  });
  return h(
    'section',
    null,
    h('h2', null, 'The whole log as a file'),
    h(
      'p',
      { class: 'hint' },
      `Everything on this phone, sent or not, as one file (${FORMAT}). It works offline; restoring a file adds what is missing and overwrites nothing.`,
    ),
    button('Save the log to a file', () => saveLog(session), { class: 'wide', id: 'save-log' }),
    h('div', { class: 'field' }, h('label', { for: 'log-file' }, 'Restore from a file'), chosen),
  );
}

/** @param {Session} session @param {string} text */
async function readBack(session, text) {
  const { added, known, different, players } = await readLogFile(session.store, text);
  if (!session.playerId && players.length) await session.choosePlayer(players[0]);
  await session.load();
  const other = different.length
    ? ` ${counted(different.length, 'change')} in the file differ from what is here; the phone's own were kept.`
    : '';
  session.warn(`Restored: ${counted(added, 'change')} added, ${known} already here.${other}`);
  session.schedule.written();
  await session.frame?.refresh();
}

/** @param {Session} session @param {boolean|null} persisted */
function storage(session, persisted) {
  const ask = async () => {
    await askToPersist();
    await session.frame?.refresh();
  };
  const words =
    persisted === null
      ? 'This browser may clear the app’s storage. Sent changes are safe on the server: send soon after a round.'
      : persisted
        ? 'The browser keeps this storage until you delete it.'
        : 'The browser has not promised to keep this storage: it may clear it when the phone runs full or the app is not used for weeks. Sent changes are safe on the server.';
  return h(
    'section',
    null,
    h('h2', null, 'Storage'),
    h('p', { id: 'storage-words' }, words),
    persisted === false ? button('Ask to keep it', ask, { id: 'persist' }) : null,
    session.state.noWorker
      ? h(
          'p',
          { class: 'notice' },
          'This browser cannot keep the app itself for offline starts; an open page goes on working without a network.',
        )
      : null,
  );
}
