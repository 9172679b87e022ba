/** What a practice session has beside its balls: targets, a duel, a planned shape, a note, the ball, and its end. */
import { RANGE } from '../game/practice.js';
import { LONGEST_BALL_LABEL, SHAPES } from '../game/shot.js';
import { PRACTICE_BALL } from '../log/store.js';
import { button, choices, confirmSheet, field, h, select, sheet } from '../ui/elements.js';
import { counted } from '../ui/words.js';
import { keptTargets, withTargets } from './practice-targets.js';

/** @typedef {import('./practice.js').Practice} Practice */

const LONGEST_NOTE = 2000;

/** @param {Practice} practice */
export async function practiceMore(practice) {
  const { session, data, carried } = practice;
  const { body } = data.record;
  const ranged = body.place === RANGE; // targets are distances of the bag
  const targets = data.locked || !ranged ? [] : await keptTargets(session);
  if (document.querySelector('dialog')) return;
  let duelling = false;
  sheet('More', (redraw, close) => {
    if (duelling) return duelChoice(practice, close);
    const row = (/** @type {string} */ id, /** @type {string} */ words, /** @type {() => any} */ work, under = '') =>
      h(
        'li',
        null,
        button(h('span', { class: 'list-main' }, words, h('span', { class: 'list-under' }, under)), work, {
          class: 'list-row',
          id,
        }),
      );
    const act = (/** @type {() => any} */ work) => () => {
      close();
      work();
    };
    return [
      h(
        'ul',
        { class: 'list' },
        carried.targets
          ? row(
              'end-targets',
              'End the practice targets',
              act(() => practice.set({ targets: null })),
            )
          : targets.length
            ? row(
                'start-targets',
                'Practice targets',
                act(() => practice.set(withTargets(practice, targets))),
                `${counted(targets.length, 'target')} drawn from your own gaps and priorities`,
              )
            : ranged &&
              h(
                'li',
                { class: 'hint' },
                data.locked
                  ? 'Practice targets come back when the competition round is finished.'
                  : 'Practice targets: none on this phone yet. They come from the server once a club’s distance is known.',
              ),
        carried.duel
          ? row(
              'end-duel',
              'End the duel',
              act(() => practice.set({ duel: null })),
            )
          : data.bag.length > 1
            ? row(
                'start-duel',
                'Duel of two clubs',
                () => {
                  duelling = true;
                  redraw();
                },
                'both from one spot, in turns, for a fair comparison',
              )
            : null,
        data.locked
          ? null
          : row(
              'to-totals',
              'Totals of this session',
              act(() => session.frame?.go(`practice/${practice.id}/review`)),
            ),
      ),
      body.place === RANGE ? shapeChoice(practice) : null,
      about(practice),
      button(
        'Delete this session',
        act(() => deleteSession(session, practice.id, practice.balls.length)),
        {
          class: 'wide red',
          id: 'delete-session',
        },
      ),
    ];
  });
}

/** @param {Practice} practice */
function shapeChoice(practice) {
  const part = h('section');
  const draw = () =>
    part.replaceChildren(
      h('h3', null, 'Planned shape, kept until changed'),
      choices(
        'Planned shape',
        SHAPES.map((shape) => [shape, shape]),
        practice.carried.planned_shape,
        (shape) => {
          practice.set({ planned_shape: shape });
          draw();
        },
        { clearable: true, id: 'planned' },
      ),
    );
  draw();
  return part;
}

/** Two clubs that take turns. @param {Practice} practice @param {() => void} close */
function duelChoice(practice, close) {
  const { bag } = practice.data;
  const onTrial = bag.filter((club) => club.body.on_trial).map((club) => club.record_id);
  const [one, two] = onTrial.length > 1 ? onTrial : [practice.carried.club_id ?? bag[0].record_id, ''];
  const other = two || bag.find((club) => club.record_id !== one)?.record_id || '';
  const chosen = { a: one, b: other };
  const options = /** @type {[string, string][]} */ (bag.map((club) => [club.record_id, club.body.label]));
  const begin = () => {
    if (chosen.a === chosen.b) {
      practice.session.frame?.alert('A duel needs two clubs.');
      return;
    }
    close();
    practice.set({ duel: [chosen.a, chosen.b], targets: null });
  };
  return [
    h(
      'p',
      null,
      'Hit both from the same spot at the same target. The order of each pair turns, so that neither club is always first.',
    ),
    field(
      'One club',
      select(options, chosen.a, (value) => Object.assign(chosen, { a: value }), { id: 'duel-a' }),
    ),
    field(
      'The other',
      select(options, chosen.b, (value) => Object.assign(chosen, { b: value }), { id: 'duel-b' }),
    ),
    button('Start the duel', begin, { class: 'wide strong', id: 'begin-duel' }),
  ];
}

/** Note and ball of the session, saved when a field is left. @param {Practice} practice */
function about({ session, id, data }) {
  const { record } = data;
  const write = async (/** @type {any} */ change) => {
    const body = { ...record.body, ...change };
    const saved = await session.write(id, () => ({
      edits: [{ record_id: id, kind: 'session', body }],
      words: 'Session changed',
    }));
    if (saved) record.body = body;
  };
  const note = h('textarea', { rows: 2, maxlength: LONGEST_NOTE, id: 'session-note', value: record.body.note ?? '' });
  note.addEventListener('change', () => write({ note: note.value.trim() || null }));
  const ball = h('input', { maxlength: LONGEST_BALL_LABEL, id: 'session-ball', value: record.body.ball_label ?? '' });
  ball.addEventListener('change', () => write({ ball_label: ball.value.trim() || null }));
  return h(
    'details',
    null,
    h('summary', { id: 'about-session' }, 'Note and ball'),
    field('Note', note),
    field('Ball, by your own name for it', ball),
  );
}

/**
 * The session and every ball of it that this phone knows. @param {import('../session.js').Session} session @param {string} id @param {number} count
 */
export async function deleteSession(session, id, count) {
  const sure = await confirmSheet(
    'Delete this session?',
    `Deletes the session and its ${counted(count, 'ball')}, here and on the server.`,
    'Delete',
  );
  if (!sure) return;
  const saved = await session.write(
    id,
    (balls) => ({
      edits: [
        { record_id: id, kind: 'session', body: null },
        ...balls.map((ball) => ({ record_id: ball.record_id, kind: PRACTICE_BALL, body: null })),
      ],
      words: 'Session deleted',
    }),
    undefined,
    PRACTICE_BALL,
  );
  if (saved) session.frame?.go('');
}
