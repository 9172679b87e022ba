/** One practice ball: everything about it can be read, changed and deleted. */
import { PRACTICE_LIES, PUTTING_GREEN, SHORT_GAME, SWINGS, ballFaults } from '../game/practice.js';
import { SHAPES, STRIKES } from '../game/shot.js';
import { fromYards, toYards } from '../game/units.js';
import { PRACTICE_BALL } from '../log/store.js';
import { button, choices, confirmSheet, field, h, select, sheet } from '../ui/elements.js';
import { LIE_WORDS } from '../ui/words.js';
import { unitOf } from './practice-data.js';

/** @typedef {import('../session.js').Session} Session */

/** What a ball's sheet needs. @typedef {{session: Session, id: string, data: {record: any, clubs: any[]}}} OfSession */

const UNIT_WORDS = { yd: 'yards', m: 'metres', ft: 'feet' };
/** What may stand in each field, in words. @type {Record<string, string>} */
const ALLOWED = {
  target_yd: 'The target is above 0 and up to 700 yd.',
  carry_yd: 'The carry is above 0 and up to 400 yd.',
  total_yd: 'The total is above 0, up to 500 yd, and at most 15 yd shorter than the carry.',
  right_yd: 'Right or left is at most 300 yd.',
  long_yd: 'Long is at most 300 yd, short at most 700 yd.',
  length_ft: 'The length of a putt is above 0 and up to 150 ft.',
  left_ft: 'What was left is above 0 and up to 900 ft; a ball that was holed leaves nothing.',
};

/** @param {OfSession} of @param {string} ballId */
export async function ballSheet(of, ballId) {
  const { session, id } = of;
  const record = await session.store.record(/** @type {string} */ (session.playerId), ballId);
  if (!record || record.deleted) return;
  const draft = await session.drafts.open(
    record.player_id,
    `practice ball ${ballId}`,
    ballId,
    () => ({ ...record.body }),
    record.head,
  );
  if (document.querySelector('dialog')) return; // a second tap was faster
  const fields = draft.value;
  const before = draft.changed;
  const write = async (/** @type {any} */ body, /** @type {string} */ words, /** @type {any} */ parents) => {
    const edit = { record_id: ballId, kind: PRACTICE_BALL, body, ...parents };
    await session.write(id, () => ({ edits: [edit], words }), draft, PRACTICE_BALL);
    await session.frame?.refresh();
  };
  sheet(
    `Ball ${record.body.order}`,
    (redraw, close) => {
      const set = (/** @type {any} */ change) => {
        Object.assign(fields, change);
        redraw();
      };
      const save = async () => {
        if (fields.holed) fields.left_ft = null;
        const [fault] = ballFaults(fields);
        if (fault) {
          session.frame?.alert(ALLOWED[fault] ?? `${fault} cannot be recorded like this.`);
          return;
        }
        close();
        await write(fields, `Ball ${record.body.order} changed`, draft.parents);
      };
      const drop = async () => {
        close();
        await write(null, `Ball ${record.body.order} deleted`, {});
      };
      return [
        before ? h('p', { class: 'notice' }, 'Changed before and not saved yet.') : null,
        fieldsOf(of, fields, set),
        h('div', { class: 'row sticky' }, button('Save', save, { class: 'wide strong', id: 'save-ball-changes' })),
        button('Delete this ball', drop, { class: 'wide red', id: 'delete-ball' }),
        h('p', { class: 'hint' }, 'Undo restores a deleted ball.'),
      ];
    },
    async () => {
      const leaves =
        !draft.changed ||
        (await confirmSheet(
          'Discard the changes?',
          `Ball ${record.body.order} was changed here and not saved.`,
          'Discard',
          'Keep editing',
        ));
      if (leaves) await draft.drop();
      return leaves;
    },
  );
}

/** @param {string[]} names @param {Record<string, string>} [words] @returns {[string, string][]} */
const pairs = (names, words = {}) => names.map((name) => [name, words[name] ?? name]);

/** @param {OfSession} of @param {any} fields @param {(change: any) => void} set */
function fieldsOf({ session, data }, fields, set) {
  const { place } = data.record.body;
  const clubs = /** @type {[string, string][]} */ (data.clubs.map((club) => [club.record_id, club.body.label]));
  const chooser = field(
    'Club',
    select(clubs, fields.club_id, (club) => set({ club_id: club }), { id: 'ball-club' }),
  );
  if (place === PUTTING_GREEN)
    return [chooser, number('Length of the putt', 'length_ft', fields, 'ft'), cameOf(fields, set)];
  const unit = unitOf(session.units);
  const short = place === SHORT_GAME;
  return [
    chooser,
    number(short ? 'Distance to the hole' : 'Target', 'target_yd', fields, unit),
    short ? cameOf(fields, set) : null,
    short
      ? null
      : h(
          'div',
          { class: 'row' },
          number('Carry', 'carry_yd', fields, unit),
          number('Total', 'total_yd', fields, unit),
          number('Right (left is −)', 'right_yd', fields, unit),
          number('Long (short is −)', 'long_yd', fields, unit),
        ),
    named('Swing', 'swing', pairs(SWINGS), fields, set),
    named('Lie', 'lie', pairs(PRACTICE_LIES, LIE_WORDS), fields, set),
    named('Planned shape', 'planned_shape', pairs(SHAPES), fields, set),
    named('Shape it took', 'actual_shape', pairs(SHAPES), fields, set),
    named('Strike', 'strike', pairs(STRIKES), fields, set),
  ];
}

/** @param {any} fields @param {(change: any) => void} set */
function cameOf(fields, set) {
  return [
    choices(
      'Holed',
      [
        ['yes', 'holed'],
        ['no', 'not holed'],
      ],
      fields.holed ? 'yes' : 'no',
      (value) => set({ holed: value === 'yes' }),
      {
        id: 'ball-holed',
      },
    ),
    fields.holed ? null : number('Left to the hole', 'left_ft', fields, 'ft'),
  ];
}

/** @param {string} label @param {string} name @param {[string, string][]} options @param {any} fields @param {(change: any) => void} set */
function named(label, name, options, fields, set) {
  return h(
    'section',
    null,
    h('h3', null, label),
    choices(label, options, fields[name], (value) => set({ [name]: value }), {
      clearable: name !== 'lie',
      id: `ball-${name.replace('_', '-')}`,
    }),
  );
}

/** A length as a field in its unit. @param {string} label @param {string} name @param {any} fields @param {'yd'|'m'|'ft'} unit */
function number(label, name, fields, unit) {
  const stored = fields[name];
  const shown = typeof stored !== 'number' ? '' : unit === 'ft' ? stored : fromYards(stored, unit);
  const input = h('input', {
    type: 'number',
    inputmode: 'decimal',
    step: 'any',
    id: `ball-${name.replace('_', '-')}`,
    value: shown === '' ? '' : String(Math.round(shown * 10) / 10),
  });
  input.addEventListener('input', () => {
    const typed = input.value === '' ? null : Number(input.value);
    fields[name] = typed === null || unit === 'ft' ? typed : toYards(typed, unit);
  });
  return field(`${label}, ${UNIT_WORDS[unit]}`, input);
}
