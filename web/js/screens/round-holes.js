/** Pars and lengths of a round's holes, mended during it or after it. */
import { changedHoles, mendHoles } from '../game/round-edits.js';
import { badLength, lengthsTable, parsField } from './courses.js';
import { draftNotice } from './draft-notice.js';
import { backOrSave, h } from '../ui/elements.js';
import { confirmUnusualHoles } from './unusual.js';

/** @typedef {import('../game/shot.js').Hole} Hole */

const HINT =
  'Of this round alone; the course stays as it is. Score to par and strokes gained follow, and tee shots recorded at the old length.';

/** @param {import('../session.js').Session} session @param {string} roundId @returns {Promise<import('../routes.js').Drawn>} */
export async function roundHolesScreen(session, roundId) {
  const player = /** @type {string} */ (session.playerId);
  const round = await session.store.record(player, roundId);
  if (!round || round.deleted || round.kind !== 'round') throw new Error('this round is not on this phone');
  const empty = () => ({ before: structuredClone(round.body.holes), holes: structuredClone(round.body.holes) });
  const draft = await session.drafts.open(player, `holes ${roundId}`, roundId, empty, round.head);
  const fields = draft.value;
  const notice = draftNotice(session, draft);
  const page = h('div', { class: 'page' });
  const draw = () => {
    const focused = document.activeElement?.id;
    const parts = [notice, h('p', { class: 'hint' }, HINT), parsField(fields), lengthsTable(session, fields, draw)];
    page.replaceChildren(h('h1', null, 'Pars and lengths'), ...parts.filter((one) => one !== null));
    if (focused) document.getElementById(focused)?.focus();
  };
  draw();
  const leave = () => session.frame?.go(`round/${roundId}/card`);
  const save = async () => {
    const problem = badLength(fields.holes);
    if (problem) {
      session.frame?.alert(problem);
      return;
    }
    const now = await session.store.record(player, roundId);
    const body = now?.body ?? round.body;
    const mine = changedHoles(fields.before, fields.holes);
    const holes = body.holes.map((/** @type {Hole} */ hole) => {
      const { par, length_yd } = mine.find((one) => one.number === hole.number) ?? hole;
      return { ...hole, par, length_yd };
    });
    if (!(await confirmUnusualHoles(body.holes, holes, session.units))) return;
    const plan = (/** @type {any[]} */ shots) => mendHoles(roundId, body, shots, holes);
    if (await session.write(roundId, (shots) => ({ edits: plan(shots), words: 'Pars and lengths changed' }), draft))
      leave();
  };
  return {
    title: 'Pars and lengths',
    still: true,
    content: page,
    bar: backOrSave(leave, save, 'save-holes'),
  };
}
