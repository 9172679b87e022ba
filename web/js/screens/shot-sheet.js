/** One shot: everything about it can be read and changed; insert, move and delete. */
import { carryInRange, longestCarry } from '../game/carry.js';
import { deleteShot, editShot, insertShot, moveShot, recordsOfBall } from '../game/hole-edits.js';
import { GREEN, LIES, TEE } from '../game/lies.js';
import { REASONS } from '../game/penalties.js';
import { HEIGHTS, SHAPES, STRIKES } from '../game/shot.js';
import { fromYards, spoken, toYards, defaultUnit } from '../game/units.js';
import { inRange } from '../game/valuation.js';
import { button, choices, confirmSheet, field, h, select, sheet } from '../ui/elements.js';
import { finishPad } from './finish-pad.js';
import { bagInOrder } from './round-data.js';
import { part } from '../ui/parts.js';
import { LIE_WORDS, REASON_WORDS } from '../ui/words.js';

/** @typedef {import('./play.js').Place} Place */

/** @param {string[]} names @returns {[string, string][]} */
const pairs = (names) => names.map((name) => [name, name]);

/** @param {Place} place @param {string} recordId */
export async function shotSheet(place, recordId) {
  const record = place.data.shots.find((one) => one.record_id === recordId);
  if (!record) return;
  const inOrder = recordsOfBall(/** @type {any} */ (place.data.shots), record.body.hole, record.body.ball);
  const next = inOrder[inOrder.indexOf(/** @type {any} */ (record)) + 1] ?? null;
  const draft = await place.session.drafts.open(
    record.player_id,
    `shot ${recordId}`,
    recordId,
    () => ({ ...record.body }),
    record.head,
  );
  const offer = record.body.position ? await offered(place, record.body, next?.body ?? null) : null;
  if (document.querySelector('dialog')) return; // a second tap was faster
  const { hole, ball, order } = record.body;
  const fields = Object.assign(draft.value, { hole, ball, order }); // these may have changed since it was begun
  const before = draft.changed;
  sheet(
    `Hole ${fields.hole}, shot ${fields.order}`,
    (redraw, close) => {
      const set = (/** @type {any} */ change) => {
        Object.assign(fields, change);
        redraw();
      };
      const save = async () => {
        if (fields.lie === GREEN) fields.carry_yd = null;
        if (fields.lie === GREEN && fields.position) fields.position = null;
        const problem = problemOf(fields, next, place.session.units);
        if (problem) {
          place.session.frame?.alert(problem);
          return;
        }
        close();
        await write(
          place,
          `Shot ${fields.order} changed`,
          (records) => editShot(records, recordId, fields).map((edit) => ({ ...edit, ...draft.parents })),
          draft,
        );
      };
      return [
        before ? h('p', { class: 'notice' }, 'Changed before and not saved yet.') : null,
        where(place, fields, set),
        ending(place, fields, next, set),
        details(place, fields, set, offer),
        h('div', { class: 'row sticky' }, button('Save', save, { class: 'wide strong', id: 'save-shot' })),
        otherEdits(place, record, close),
      ];
    },
    async () => {
      const leaves =
        same(fields, record.body) ||
        (await confirmSheet(
          'Discard the changes?',
          `Shot ${order} was changed here and not saved.`,
          'Discard',
          'Keep editing',
        ));
      if (leaves) await draft.drop();
      return leaves;
    },
  );
}

/** Whether two shots say the same: nothing and null are one. @param {any} a @param {any} b @returns {boolean} */
function same(a, b) {
  return [...new Set([...Object.keys(a), ...Object.keys(b)])].every(
    (name) => JSON.stringify(a[name] ?? null) === JSON.stringify(b[name] ?? null),
  );
}

/** Clubs as the bag has them, longest first; then the player's others. @param {Place} place @returns {[string, string][]} */
function clubChoices(place) {
  const { bag, clubs } = place.data;
  const others = clubs.filter((club) => !bag.includes(club));
  return [bag, others]
    .flatMap((some) => bagInOrder(some, place.at.stock))
    .map((club) => [club.record_id, club.body.label]);
}

/** @param {any} shot @param {any} next the shot after it @param {'yards'|'metres'|undefined} units @returns {string|null} */
function problemOf(shot, next, units) {
  if (!inRange(shot.lie, shot.distance_yd))
    return shot.lie === GREEN
      ? 'On the green the distance is above 0 and up to 150 ft.'
      : 'The distance is above 0 and up to 700 yd.';
  if (shot.end_lie && !inRange(shot.end_lie, shot.end_distance_yd))
    return 'The end needs a distance: above 0 and up to 700 yd, 150 ft on the green.';
  const full = next ? { ...shot, end_distance_yd: next.body.distance_yd } : shot;
  if (!carryInRange(full))
    return `The carry is above 0 and up to ${spoken(longestCarry(full), shot.lie, units)}: a little more than the whole shot.`;
  return null;
}

/**
 * @param {Place} place @param {string} words @param {(records: any[]) => any[]} plan @param {import('../log/drafts.js').Draft<any>} [draft]
 */
async function write(place, words, plan, draft) {
  await place.session.write(place.round_id, (records) => ({ edits: plan(records), words }), draft);
  await place.session.frame?.refresh();
}

/**
 * A distance as a number field, in the unit of its lie. @param {Place} place @param {string} label @param {string} lie @param {number|null|undefined} yards
 * @param {(yards: number|null) => void} change @param {string} id
 */
function distanceField(place, label, lie, yards, change, id) {
  const unit = defaultUnit(lie, place.session.units);
  const value = yards ? String(Math.round(fromYards(yards, unit) * 10) / 10) : '';
  const input = h('input', { type: 'number', inputmode: 'decimal', min: '0', step: 'any', id, value });
  input.addEventListener('input', () => change(input.value === '' ? null : toYards(Number(input.value), unit)));
  return field(`${label}, ${{ yd: 'yards', m: 'metres', ft: 'feet' }[unit]}`, input);
}

/** @param {Place} place @param {any} fields @param {(change: any) => void} set */
function where(place, fields, set) {
  const fixed = fields.ball === 1 && fields.order === 1;
  return h(
    'section',
    null,
    h('h3', null, 'From'),
    fixed
      ? h('p', { class: 'hint' }, 'The first shot of a hole is from the tee.')
      : choices(
          'Lie',
          LIES.map((lie) => [lie, LIE_WORDS[lie]]),
          fields.lie,
          (lie) => set({ lie }),
          { id: 'edit-lie' },
        ),
    distanceField(
      place,
      'Distance to the hole',
      fields.lie,
      fields.distance_yd,
      (yards) => Object.assign(fields, { distance_yd: yards }),
      'edit-distance',
    ),
    field(
      'Club',
      select(clubChoices(place), fields.club_id, (club) => Object.assign(fields, { club_id: club })),
    ),
  );
}

/** @param {Place} place @param {any} fields @param {any} next @param {(change: any) => void} set */
function ending(place, fields, next, set) {
  const penalty = [
    h('h3', null, 'Penalty'),
    choices(
      'Penalty',
      REASONS.map((reason) => [reason, REASON_WORDS[reason]]),
      fields.penalty_reason,
      (reason) => set({ penalty_reason: reason, penalty_strokes: reason ? fields.penalty_strokes || 1 : 0 }),
      { clearable: true, id: 'edit-penalty' },
    ),
    fields.penalty_reason
      ? choices(
          'Penalty strokes',
          [
            ['0', 'no stroke'],
            ['1', '1 stroke'],
            ['2', '2 strokes'],
          ],
          String(fields.penalty_strokes ?? 0),
          (strokes) => set({ penalty_strokes: Number(strokes) }),
          { id: 'edit-strokes' },
        )
      : null,
  ];
  if (next) {
    const words = `${next.body.lie} ${spoken(next.body.distance_yd, next.body.lie, place.session.units)}`;
    return h(
      'section',
      null,
      h('h3', null, 'Ended'),
      h('p', null, `where the next shot starts: ${words}. Change it there.`),
      penalty,
    );
  }
  const state = fields.holed ? 'holed' : fields.picked_up ? 'picked_up' : 'open';
  const choose = (/** @type {string|null} */ to) =>
    set(
      to === 'holed'
        ? { holed: true, picked_up: false, end_lie: null, end_distance_yd: null }
        : { holed: false, picked_up: to === 'picked_up' },
    );
  return h(
    'section',
    null,
    h('h3', null, 'Ended'),
    choices(
      'Ended',
      [
        ['holed', 'holed'],
        ['open', 'in play'],
        ['picked_up', 'picked up'],
      ],
      state,
      choose,
      { id: 'edit-end' },
    ),
    state === 'picked_up' ? endSpot(place, fields, set) : null,
    penalty,
  );
}

/** @param {Place} place @param {any} fields @param {(change: any) => void} set */
function endSpot(place, fields, set) {
  const lies = LIES.filter((lie) => lie !== TEE);
  return [
    choices(
      'Where it lay',
      lies.map((lie) => [lie, LIE_WORDS[lie]]),
      fields.end_lie,
      (lie) => set(lie ? { end_lie: lie } : { end_lie: null, end_distance_yd: null }),
      { clearable: true, id: 'edit-end-lie' },
    ),
    fields.end_lie
      ? distanceField(
          place,
          'From the hole',
          fields.end_lie,
          fields.end_distance_yd,
          (yards) => Object.assign(fields, { end_distance_yd: yards }),
          'edit-end-distance',
        )
      : null,
  ];
}

/** The finish by position, where it was played and ended at marked places; nothing while that part of the app is not on this phone. @param {Place} place @param {any} shot @param {any} next */
async function offered(place, shot, next) {
  try {
    return await (await part(() => import('./finish-offer.js'))).offerOf(place, shot, next);
  } catch {
    return null;
  }
}

/** @param {Place} place @param {any} fields @param {(change: any) => void} set @param {import('./finish-offer.js').Offer|null} offer */
function details(place, fields, set, offer) {
  const putt = fields.lie === GREEN;
  const note = h('textarea', { rows: '2', maxlength: '2000', value: fields.note ?? '' });
  note.addEventListener('input', () => Object.assign(fields, { note: note.value || null }));
  return h(
    'section',
    { class: 'details' },
    putt
      ? null
      : [
          h('h3', null, 'Planned shape'),
          choices('Planned shape', pairs(SHAPES), fields.planned_shape, (shape) => set({ planned_shape: shape }), {
            clearable: true,
            id: 'planned',
          }),
          h('h3', null, 'Planned height'),
          choices(
            'Planned height',
            pairs(HEIGHTS),
            fields.planned_height,
            (height) => set({ planned_height: height }),
            {
              clearable: true,
              id: 'height',
            },
          ),
          h('h3', null, 'Actual shape'),
          choices('Actual shape', pairs(SHAPES), fields.actual_shape, (shape) => set({ actual_shape: shape }), {
            clearable: true,
            id: 'actual',
          }),
          h('h3', null, 'Swing'),
          choices(
            'Swing',
            [
              ['full', 'full'],
              ['part', 'part'],
            ],
            fields.swing,
            (swing) => set({ swing }),
            { clearable: true, id: 'swing' },
          ),
        ],
    distanceField(
      place,
      putt ? 'Intended length' : 'Intended distance',
      fields.lie,
      fields.target_yd,
      (yards) => Object.assign(fields, { target_yd: yards }),
      'edit-target',
    ),
    h('h3', null, 'Finish against the target'),
    finishPad(fields, place.session.units, putt, set),
    offer && !putt ? offer(fields, set) : null,
    putt
      ? null
      : distanceField(
          place,
          'Carry',
          fields.lie,
          fields.carry_yd,
          (yards) => Object.assign(fields, { carry_yd: yards }),
          'edit-carry',
        ),
    h('h3', null, 'Strike'),
    choices('Strike', pairs(STRIKES), fields.strike, (strike) => set({ strike }), { clearable: true, id: 'strike' }),
    fields.position
      ? h(
          'div',
          { class: 'row' },
          h('p', null, `Ball marked by position, ±${Math.ceil(fields.position[2] ?? 0)} m.`),
          button('Delete the position', () => set({ position: null }), { id: 'delete-position' }),
        )
      : null,
    field('Note', note),
  );
}

/** @param {Place} place @param {any} record @param {() => void} close */
function otherEdits(place, record, close) {
  const { hole, order, ball } = record.body;
  const holes = place.data.round.body.holes.filter((/** @type {any} */ one) => one.number !== hole);
  const insert = () => {
    close();
    const { lie, distance_yd, club_id, round_id } = record.body;
    const fresh = { round_id, lie, distance_yd, club_id };
    write(place, `Shot inserted before shot ${order}`, (records) =>
      insertShot(records, record.record_id, crypto.randomUUID(), fresh),
    );
  };
  const move = async (/** @type {string} */ to) => {
    if (!to) return;
    close();
    await write(place, `Moved to hole ${to}`, (records) => moveShot(records, record.record_id, Number(to)));
  };
  const remove = async () => {
    close();
    if (
      await confirmSheet(
        'Delete this shot?',
        `Deletes shot ${order} of hole ${hole}; later ones move up. Undo restores it.`,
        'Delete',
      )
    ) {
      await write(place, `Shot ${order} deleted`, (records) => deleteShot(records, record.record_id));
    }
  };
  return h(
    'section',
    { class: 'other-edits' },
    h('h3', null, 'Order'),
    h(
      'div',
      { class: 'row' },
      button('Insert a shot before', insert, { id: 'insert-shot' }),
      button('Delete', remove, { id: 'delete-shot', class: 'red' }),
    ),
    ball === 1 && holes.length
      ? field(
          'Move to hole',
          select(
            [
              ['', 'stay here'],
              ...holes.map(
                (/** @type {any} */ one) =>
                  /** @type {[string, string]} */ ([String(one.number), `hole ${one.number}`]),
              ),
            ],
            '',
            move,
          ),
        )
      : null,
  );
}
