/** The caddie's side: taking up an invitation to enter one round for another player, and the start screen of that round. */
import { beginCaddying, forgetCaddied } from '../log/caddying.js';
import { LOCK } from '../log/schedule.js';
import { unsentEntries } from '../log/outbox.js';
import { roundScore } from '../game/score.js';
import { COMPETITION } from '../game/shot.js';
import { button, confirmSheet, field, h } from '../ui/elements.js';
import { askToPersist } from './players.js';
import { saveLog } from './saving.js';
import { change, momentWords, sentence, tried } from './server-answers.js';
import { KIND_WORDS, counted, dayWords } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../log/caddying.js').Caddying} Caddying */

const ADVICE =
  'In a competition a player may have one caddie, who may help and advise (rule 10.3); other people may not advise (rule 10.2), and no device may recommend a line or a club (rule 4.3a). Until the round is finished, this phone shows no strokes gained and no plans, for anyone. Local rules and the Committee decide.';

/** @param {Session} session @param {string} [code] @returns {import('../routes.js').Drawn} */
export function takeUpScreen(session, code) {
  const link = h('input', { required: true, maxlength: '300', autocomplete: 'off', id: 'caddie-code' });
  const name = h('input', { required: true, maxlength: '60', autocomplete: 'name', id: 'caddie-name' });
  const form = h(
    'form',
    null,
    code ? null : field('The link or the code', link),
    field('Your name', name, 'The player sees it beside what you enter.'),
    h('button', { class: 'wide strong', id: 'take-up' }, 'Enter this round'),
  );
  form.addEventListener('submit', (/** @type {Event} */ event) => {
    event.preventDefault();
    const stated = code ? decodeURIComponent(code) : (link.value.trim().split('/').pop() ?? '');
    takeUp(session, stated, name.value.trim());
  });
  return {
    title: 'Enter a round',
    still: true,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Enter a round for a player'),
      h(
        'p',
        null,
        'You enter shots of one round on your own phone, even offline. You see that round, its course and its bag, nothing else of the player. It ends when the player finishes the round or removes you, at the latest two days after the invitation.',
      ),
      form,
      h('p', { class: 'hint' }, ADVICE),
    ),
  };
}

/** @param {Session} session @param {string} code @param {string} name */
async function takeUp(session, code, name) {
  if (!name) return;
  await tried(session, async () => {
    const { deviceId } = session.store;
    const taken = await change('POST', '/api/caddying', { code, name, device_id: deviceId });
    const { caddie_id, player_id, round_id, expires_at } = taken;
    const known = await session.store.record(player_id, player_id);
    if (known?.head) {
      await change('DELETE', `/api/caddying/${caddie_id}`);
      throw new Error(
        `This phone enters for ${known.body.name} already, as the player. The invitation is used up: make another for the caddie’s phone`,
      );
    }
    await beginCaddying(session.store, { caddie_id, player_id, round_id, expires_at, name, mark: null, ended: null });
    await session.choosePlayer(player_id);
    await session.schedule.now();
    await session.load();
    askToPersist();
    session.frame?.say('You can now enter this round');
    session.frame?.go('');
  });
}

/** The start screen of a phone that enters one round. @param {Session} session @param {Caddying} caddying @returns {Promise<import('../routes.js').Drawn>} */
export async function caddieScreen(session, caddying) {
  const { playerName } = session;
  const round = await session.store.record(caddying.player_id, caddying.round_id);
  const there = round && !round.deleted ? round : null;
  return {
    title: 'Round',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, playerName ? `You enter for ${playerName}` : 'You enter a round'),
      there
        ? await roundLine(session, there)
        : h('p', { class: 'lead', id: 'no-round' }, 'The round loads once the server can be reached.'),
      caddying.ended ? endedPart(session, caddying) : await goOnPart(session, caddying, there),
      there?.body.kind === COMPETITION && !caddying.ended ? h('p', { class: 'hint', id: 'advice' }, ADVICE) : null,
    ),
  };
}

/** @param {Session} session @param {import('../log/store.js').StoredRecord} round */
async function roundLine(session, round) {
  const { body } = round;
  const course = body.course_id ? (await session.store.record(round.player_id, body.course_id))?.body.name : null;
  const words = [course, dayWords(body.played_on), KIND_WORDS[body.kind], body.tees ? `${body.tees} tees` : null];
  return h('p', { class: 'lead' }, words.filter(Boolean).join(' · '));
}

/** @param {Session} session @param {Caddying} caddying @param {import('../log/store.js').StoredRecord|null} round */
async function goOnPart(session, caddying, round) {
  const parts = [];
  if (round) {
    const shots = (await session.store.shots(round.player_id, round.record_id)).map((record) => record.body);
    const { holes } = roundScore(shots, round.body.holes);
    const last = holes.findLast((hole) => hole.shots);
    const next =
      last?.state === 'open'
        ? last
        : (holes.find((hole) => hole.state === 'open' && hole.hole > (last?.hole ?? 0)) ??
          holes.find((hole) => hole.state === 'open'));
    if (next)
      parts.push(
        h(
          'a',
          { class: 'button wide strong', href: `#/round/${round.record_id}/${next.hole}`, id: 'go-on' },
          `${shots.length ? 'Continue' : 'Start'}, hole ${next.hole}`,
        ),
      );
    parts.push(h('a', { class: 'button wide', href: `#/round/${round.record_id}/card`, id: 'to-card' }, 'Card'));
  }
  return [
    ...parts,
    h(
      'p',
      { class: 'hint' },
      `As ${caddying.name}, until the round is finished, at the latest ${momentWords(caddying.expires_at)}.`,
    ),
    button('Stop entering', () => stop(session, caddying), { class: 'wide', id: 'stop-entering' }),
  ];
}

/** @param {Session} session @param {Caddying} caddying */
function endedPart(session, caddying) {
  const who = session.playerName || 'the player';
  return [
    h('p', { class: 'notice', role: 'status', id: 'entering-ended' }, sentence(caddying.ended ?? '')),
    session.waiting
      ? h(
          'p',
          { id: 'not-let-in' },
          `${counted(session.waiting, 'change')} ${session.waiting === 1 ? 'is' : 'are'} on this phone only. When ${who} invites you to this round again, open the new link here to send them. Or save the log to a file for ${who} to restore.`,
        )
      : h('p', { id: 'all-let-in' }, 'The player has everything you entered.'),
    h('a', { class: 'button wide strong', href: '#/caddie', id: 'new-invitation' }, 'I have a new invitation'),
    session.waiting
      ? button('Save the log to a file', () => saveLog(session), { class: 'wide', id: 'save-log' })
      : null,
    h('a', { class: 'button wide', href: `#/round/${caddying.round_id}/card`, id: 'to-card' }, 'Card'),
    button('Clear this round from this phone', () => clear(session, caddying), {
      class: 'wide red',
      id: 'clear-caddied',
    }),
  ];
}

/** Sends what waits, ends it on the server, and clears the phone. @param {Session} session @param {Caddying} caddying */
async function stop(session, caddying) {
  await session.schedule.now();
  if (await unsent(session, caddying)) {
    session.warn('Not everything is sent yet. Stop when there is a network, so that nothing is lost.');
    return;
  }
  const who = session.playerName;
  if (
    !(await confirmSheet(
      `Stop entering for ${who}?`,
      `${who} has everything you entered. The round is removed from this phone; to enter again you need a new invitation.`,
      'Stop entering',
    ))
  )
    return;
  if (await tried(session, () => change('DELETE', `/api/caddying/${caddying.caddie_id}`)))
    await clearNow(session, caddying);
}

/** @param {Session} session @param {Caddying} caddying */
async function clear(session, caddying) {
  const lost = await unsent(session, caddying);
  const words = lost
    ? `${counted(lost, 'change')} ${lost === 1 ? 'is' : 'are'} stored nowhere else and cannot be recovered.`
    : 'The player has everything you entered.';
  if (await confirmSheet('Clear this round?', words, lost ? 'Delete them' : 'Clear it'))
    await clearNow(session, caddying);
}

/** @param {Session} session @param {Caddying} caddying @returns {Promise<number>} how many changes the server lacks */
async function unsent({ store }, { player_id }) {
  const stores = ['outbox', 'changes', 'records'];
  return store.run(stores, 'readonly', async (transaction) => (await unsentEntries(transaction, player_id)).length);
}

/** @param {Session} session @param {Caddying} caddying */
async function clearNow(session, { player_id }) {
  const work = () => {
    session.drafts.forgetAll();
    return forgetCaddied(session.store, player_id);
  };
  // No exchange may be under way: it would bring back what is being cleared.
  await (navigator.locks ? navigator.locks.request(LOCK, work) : work());
  await session.cleared();
  session.frame?.go('players');
}
