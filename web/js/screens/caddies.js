/** The player's side of a caddie, on the card of an open round: inviting somebody to enter it too, who does, and ending it. */
import { cachedCaddies, fetchCaddies } from '../log/caddying.js';
import { COMPETITION } from '../game/shot.js';
import { handOn, qrCode } from '../ui/copying.js';
import { button, confirmSheet, h, sheet } from '../ui/elements.js';
import { change, momentWords, tried } from './server-answers.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../log/caddying.js').CaddieRow} CaddieRow */

const ADVICE =
  'In a competition you may have one caddie, who may help and advise you (rule 10.3); other people may not advise (rule 10.2), and no device may recommend a line or a club (rule 4.3a): their phone is locked as yours is. Local rules and the Committee decide.';

/**
 * What is known at once, and then what the server says; without a network it stays as it was known.
 * @param {Session} session @param {import('../log/store.js').StoredRecord} round @returns {Promise<HTMLElement>}
 */
export async function caddiesPart(session, round) {
  const section = h('section', { class: 'no-print', id: 'caddies' });
  const draw = (/** @type {CaddieRow[]} */ all) =>
    section.replaceChildren(
      ...parts(
        session,
        round,
        all.filter((one) => one.round_id === round.record_id && one.state !== 'ended'),
      ),
    );
  const known = await cachedCaddies(session.store, round.player_id).catch(() => []);
  draw(known);
  fetchCaddies(session.store, round.player_id, fetch.bind(globalThis))
    .then((fresh) => JSON.stringify(fresh) !== JSON.stringify(known) && draw(fresh))
    .catch(() => undefined);
  return section;
}

/** @param {Session} session @param {import('../log/store.js').StoredRecord} round @param {CaddieRow[]} good */
function parts(session, round, good) {
  return [
    good.length
      ? h(
          'ul',
          { class: 'list' },
          good.map((one) => row(session, one)),
        )
      : '',
    h(
      'div',
      { class: 'bottom-actions' },
      button('A caddie can enter shots too', () => invite(session, round), { class: 'wide', id: 'invite-caddie' }),
    ),
  ];
}

/** @param {Session} session @param {CaddieRow} one */
function row(session, one) {
  const entering = one.state === 'entering';
  const under = entering
    ? `last here ${momentWords(one.last_used_at ?? '')}, until the round is finished`
    : `not accepted yet, valid until ${momentWords(one.expires_at)}`;
  const end = async () => {
    const words = entering
      ? `From now on ${one.name} can no longer enter shots or see this round.`
      : 'The link stops working.';
    if (!(await confirmSheet(entering ? `End access for ${one.name}?` : 'Withdraw it?', words, 'End it'))) return;
    const of = `/api/players/${encodeURIComponent(/** @type {string} */ (session.playerId))}/caddies`;
    if (await tried(session, () => change('DELETE', `${of}/${one.caddie_id}`)))
      session.frame?.say(entering ? `Ended: ${one.name} can no longer enter shots` : 'Invitation withdrawn');
    await fetchCaddies(session.store, /** @type {string} */ (session.playerId), fetch.bind(globalThis)).catch(
      () => undefined,
    );
    await session.frame?.refresh();
  };
  return h(
    'li',
    { class: 'list-row' },
    h(
      'span',
      { class: 'list-main' },
      entering ? `${one.name} enters this round too` : 'An invitation to enter this round',
      h('span', { class: 'list-under' }, under),
    ),
    button('End', end, {
      class: 'red',
      'aria-label': entering ? `End access for ${one.name}` : 'Withdraw the invitation',
    }),
  );
}

/** @param {Session} session @param {import('../log/store.js').StoredRecord} round */
async function invite(session, round) {
  await session.schedule.now(); // the server is to know the round
  await tried(session, async () => {
    const of = `/api/players/${encodeURIComponent(round.player_id)}`;
    const made = await change('POST', `${of}/rounds/${encodeURIComponent(round.record_id)}/caddies`);
    await fetchCaddies(session.store, round.player_id, fetch.bind(globalThis)).catch(() => undefined);
    const dialog = sheet('Invite a caddie', () => [
      h(
        'p',
        null,
        'Whoever opens this link can enter shots of this round on their own phone, even offline. They see this round, its course and the bag, nothing else. It works once, and ends when you finish the round or withdraw it, at the latest in two days.',
      ),
      round.body.kind === COMPETITION ? h('p', { class: 'notice' }, ADVICE) : null,
      handOn(session, 'The link', made.address, { id: 'caddie-link', share: true }),
      qrCode(made.qr_svg, 'QR code of the invitation'),
    ]);
    dialog.addEventListener('close', () => session.frame?.refresh());
  });
}
