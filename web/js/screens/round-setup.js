/** Before a round: course and tees, kind, bag, conditions; the same page edits them later. */
import { MOST_CLUBS } from '../game/penalties.js';
import { COMPETITION, KINDS, LENGTHS_TAKEN, LONGEST_BALL_LABEL, PRACTICE } from '../game/shot.js';
import { GREEN_SPEEDS_FT } from '../game/hole-conditions.js';
import { longestFirst } from '../game/guess.js';
import { draftNotice } from './draft-notice.js';
import { backOrSave, button, choices, field, h, select } from '../ui/elements.js';
import { installHint } from '../ui/install.js';
import { loadStockDistances } from './round-data.js';
import { KIND_WORDS, counted, today } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../log/store.js').StoredRecord} StoredRecord */

/** In the place of an id, while there is none. */
const NEW = 'new';
/** @type {Record<string, string>} */
export const LENGTHS_TAKEN_WORDS = {
  paced: 'paced',
  laser: 'laser',
  guessed: 'guessed',
  position: 'phone’s position',
  map: 'map',
};
const CONDITIONS = 'conditions';
const MOST_BALLS = 12; // labels of earlier rounds that are offered
const NO_COURSE_HOLES = Array.from({ length: 18 }, (_, place) => ({ number: place + 1, par: 4, length_yd: 400 }));

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function newRoundScreen(session) {
  const given = await material(session);
  const last = given.rounds[0]?.body;
  const course = given.courses.find((one) => one.record_id === last?.course_id) ?? given.courses[0];
  const inHand = given.clubs.map((club) => club.record_id);
  const blank = () => ({
    played_on: today(),
    entered_on: today(),
    kind: last?.kind ?? PRACTICE,
    course_id: course?.record_id ?? null,
    tees: last?.course_id === course?.record_id ? last?.tees : null,
    bag: last ? last.bag.filter((/** @type {string} */ id) => inHand.includes(id)) : inHand,
    wind_mph: null,
    temperature_c: null,
    firmness: null,
    green_speed_ft: null,
    note: null,
    ball_label: last?.ball_label ?? null,
    lengths_taken: last?.lengths_taken ?? null,
    closed: false,
  });
  const draft = await session.drafts.open(/** @type {string} */ (session.playerId), 'new round', NEW, blank);
  const fields = draft.value;
  if (fields.played_on === fields.entered_on) Object.assign(fields, { played_on: today(), entered_on: today() }); // no other day was chosen
  session.state.settingUpRound = true; // a course made meanwhile leads back here
  fields.bag = fields.bag.filter((/** @type {string} */ id) => inHand.includes(id));
  if (!given.courses.some((one) => one.record_id === fields.course_id)) fields.course_id = course?.record_id ?? null;
  const start = async () => {
    const roundId = crypto.randomUUID();
    const { entered_on: _, ...entered } = fields;
    const body = { ...entered, ...holesOf(given.courses, fields) };
    const saved = await session.write(
      null,
      () => ({ edits: [{ record_id: roundId, kind: 'round', body }], words: 'Round started' }),
      draft,
    );
    if (!saved) return;
    session.state.settingUpRound = false;
    navigator.storage?.persist?.();
    session.frame?.go(`round/${roundId}/${body.holes[0].number}`);
  };
  return {
    title: 'Start a round',
    still: true,
    content: form('Start a round', fields, given, [
      draftNotice(session, draft),
      given.rounds.length ? null : installHint(),
    ]),
    bar: h(
      'div',
      { class: 'actions two' },
      button(
        'Back',
        () => {
          session.state.settingUpRound = false;
          session.frame?.go('');
        },
        { class: 'act' },
      ),
      button('Start', start, { class: 'act strong', id: 'start-round' }),
    ),
  };
}

/** @param {Session} session @param {string} roundId @returns {Promise<import('../routes.js').Drawn>} */
export async function roundSetupScreen(session, roundId) {
  const round = await session.store.record(/** @type {string} */ (session.playerId), roundId);
  if (!round || round.deleted) throw new Error('this round is not on this phone');
  const given = await material(session);
  const draft = await session.drafts.open(
    round.player_id,
    `round ${roundId}`,
    roundId,
    () => structuredClone(round.body),
    round.head,
  );
  const fields = draft.value;
  const leave = () => session.frame?.go(`round/${roundId}/card`);
  const save = async () => {
    const changed = fields.course_id !== round.body.course_id || fields.tees !== round.body.tees;
    const body = { ...fields, ...(changed ? holesOf(given.courses, fields) : {}) };
    const edit = { record_id: roundId, kind: 'round', body, ...draft.parents };
    if (await session.write(null, () => ({ edits: [edit], words: 'Round changed' }), draft)) leave();
  };
  return {
    title: 'Round',
    still: true,
    content: form('This round', fields, given, [draftNotice(session, draft), staysLocked(round)]),
    bar: backOrSave(leave, save, 'save-round'),
  };
}

/** What changing the kind does not change. @param {StoredRecord} round */
function staysLocked(round) {
  if (!round.competition || round.body.closed) return null;
  return h(
    'p',
    { class: 'hint' },
    'Recorded as a competition: strokes gained stay locked until this round is finished, whatever its kind (rule 4.3a).',
  );
}

/** @param {Session} session */
async function material(session) {
  const player = /** @type {string} */ (session.playerId);
  const [clubs, courses, setups, rounds] = await Promise.all(
    ['club', 'course', 'setup', 'round'].map((kind) => session.store.records(player, kind)),
  );
  const stock = await loadStockDistances(session, clubs);
  rounds.sort((a, b) => b.body.played_on.localeCompare(a.body.played_on));
  courses.sort((a, b) => a.body.name.localeCompare(b.body.name));
  return {
    clubs: longestFirst(
      clubs.filter((club) => !club.body.retired_on),
      stock,
    ),
    courses,
    setups,
    rounds,
  };
}

/** The holes of the chosen course and tees. @param {StoredRecord[]} courses @param {any} fields */
function holesOf(courses, fields) {
  const course = courses.find((one) => one.record_id === fields.course_id);
  const tees = course?.body.tees.find((/** @type {any} */ one) => one.name === fields.tees) ?? course?.body.tees[0];
  const holes = tees
    ? tees.holes.map((/** @type {any} */ { number, par, length_yd }) => ({ number, par, length_yd }))
    : NO_COURSE_HOLES;
  return { course_id: course?.record_id ?? null, tees: tees?.name ?? null, holes };
}

/**
 * @param {string} title @param {any} fields @param {Awaited<ReturnType<typeof material>>} given @param {any[]} above
 */
function form(title, fields, given, above) {
  const page = h('div', { class: 'page' });
  const draw = () => {
    const focused = document.activeElement?.id;
    const unfolded = page.querySelector(`#${CONDITIONS}[open]`) !== null;
    page.replaceChildren(h('h1', null, title), ...above.filter(Boolean), ...parts(fields, given, set));
    if (unfolded) page.querySelector(`#${CONDITIONS}`)?.setAttribute('open', '');
    if (focused) document.getElementById(focused)?.focus();
  };
  const set = (/** @type {any} */ change) => {
    Object.assign(fields, change);
    draw();
  };
  draw();
  return page;
}

/** @param {any} fields @param {Awaited<ReturnType<typeof material>>} given @param {(change: any) => void} set */
function parts(fields, given, set) {
  const course = given.courses.find((one) => one.record_id === fields.course_id);
  const tees = course?.body.tees.map((/** @type {any} */ one) => one.name) ?? [];
  const day = h('input', {
    type: 'date',
    value: fields.played_on,
    id: 'played-on',
    oninput: () => day.value && Object.assign(fields, { played_on: day.value }),
  });
  return [
    field(
      'Course',
      select(
        [
          ...given.courses.map((one) => /** @type {[string, string]} */ ([one.record_id, one.body.name])),
          ['', 'no course: 18 holes, par 4, 400 yd'],
        ],
        fields.course_id ?? '',
        (id) => set({ course_id: id || null, tees: null }),
        { id: 'course' },
      ),
    ),
    tees.length > 1
      ? choices(
          'Tees',
          tees.map((/** @type {string} */ name) => [name, name]),
          fields.tees ?? tees[0],
          (name) => set({ tees: name }),
          { id: 'tees' },
        )
      : null,
    h('p', null, h('a', { href: '#/courses/new' }, 'Add a course: pars and lengths')),
    h('h2', null, 'Kind'),
    choices(
      'Kind of round',
      KINDS.map((kind) => [kind, KIND_WORDS[kind]]),
      fields.kind,
      (kind) => set({ kind }),
      { id: 'kind' },
    ),
    h('p', { class: 'hint' }, kindHint(fields.kind)),
    field('Day', day),
    bagPart(fields, given, set),
    ...ballPart(fields, given),
    conditions(fields, set),
    cautions(),
  ].filter(Boolean);
}

/** @param {string} kind @returns {string} */
function kindHint(kind) {
  if (kind === PRACTICE) return 'Extra balls can be recorded; only ball 1 scores.';
  if (kind === COMPETITION) return 'Only the score shows until the round is finished (rule 4.3a). One ball, 14 clubs.';
  return 'One ball; strokes gained show as you play.';
}

/** @param {any} fields @param {Awaited<ReturnType<typeof material>>} given @param {(change: any) => void} set */
function bagPart(fields, given, set) {
  const count = fields.bag.length;
  const tooMany = count > MOST_CLUBS && fields.kind !== PRACTICE;
  const flip = (/** @type {string} */ id) =>
    set({
      bag: fields.bag.includes(id) ? fields.bag.filter((/** @type {string} */ one) => one !== id) : [...fields.bag, id],
    });
  return h(
    'section',
    null,
    h('h2', null, `Bag: ${counted(count, 'club')}`),
    tooMany
      ? h(
          'p',
          { class: 'notice', role: 'status' },
          `Rule 4.1b allows 14 clubs in a counting round: remove ${count - MOST_CLUBS}.`,
        )
      : null,
    h(
      'div',
      { class: 'choices bag', role: 'group', 'aria-label': 'Clubs in the bag' },
      given.clubs.map((club) =>
        button(
          [club.body.label, club.body.on_trial ? h('span', { class: 'mark' }, ' trial') : null],
          () => flip(club.record_id),
          {
            class: 'choice',
            id: `bag-${club.record_id}`,
            'aria-pressed': fields.bag.includes(club.record_id) ? 'true' : 'false',
          },
        ),
      ),
    ),
    setupsInForce(fields, given),
  );
}

/** @param {any} fields @param {Awaited<ReturnType<typeof material>>} given */
function setupsInForce(fields, given) {
  const rows = given.clubs
    .filter((club) => fields.bag.includes(club.record_id))
    .map((club) => {
      const inForce = given.setups
        .filter((setup) => setup.body.club_id === club.record_id && setup.body.since <= fields.played_on)
        .sort((a, b) => b.body.since.localeCompare(a.body.since))[0];
      return inForce ? h('li', null, `${club.body.label}: ${inForce.body.note} (since ${inForce.body.since})`) : null;
    })
    .filter(Boolean);
  return rows.length
    ? h('details', null, h('summary', null, `Setups in use: ${rows.length}`), h('ul', null, rows))
    : null;
}

/** The ball that is played, by the player's own name; the labels of earlier rounds are offered. @param {any} fields @param {Awaited<ReturnType<typeof material>>} given */
function ballPart(fields, given) {
  const known = [...new Set(given.rounds.map((round) => round.body.ball_label).filter(Boolean))].slice(0, MOST_BALLS);
  const input = h('input', {
    id: 'ball-label',
    type: 'text',
    maxlength: String(LONGEST_BALL_LABEL),
    autocomplete: 'off',
    list: known.length ? 'ball-labels' : null,
    value: fields.ball_label ?? '',
  });
  input.addEventListener('input', () => Object.assign(fields, { ball_label: input.value.trim() || null }));
  return [
    field('Ball', input, 'Your own name for the ball you play, if you want to compare two. Optional.'),
    known.length
      ? h(
          'datalist',
          { id: 'ball-labels' },
          known.map((label) => h('option', { value: label })),
        )
      : null,
  ];
}

/** @param {any} fields @param {(change: any) => void} set */
function conditions(fields, set) {
  const number = (
    /** @type {string} */ name,
    /** @type {string} */ label,
    /** @type {number} */ min,
    /** @type {number} */ max,
    inputmode = 'numeric',
  ) => {
    const input = h('input', {
      type: 'number',
      inputmode,
      step: inputmode === 'decimal' ? '0.1' : null,
      min: String(min),
      max: String(max),
      value: fields[name] ?? '',
      id: name,
    });
    input.addEventListener('input', () =>
      Object.assign(fields, { [name]: input.value === '' ? null : Math.min(Math.max(Number(input.value), min), max) }),
    );
    return field(label, input);
  };
  const taken = LENGTHS_TAKEN_WORDS[fields.lengths_taken]; // as in the last round: shown while this part is folded
  const note = h('textarea', { rows: '2', maxlength: '2000', value: fields.note ?? '', id: 'round-note' });
  note.addEventListener('input', () => Object.assign(fields, { note: note.value || null }));
  return h(
    'details',
    {
      id: CONDITIONS,
      open:
        fields.wind_mph !== null ||
        fields.temperature_c !== null ||
        fields.firmness !== null ||
        Boolean(fields.note) ||
        typeof fields.green_speed_ft === 'number',
    },
    h('summary', null, `Conditions, lengths${taken ? ` (${taken})` : ''} and note`),
    h(
      'div',
      { class: 'row' },
      number('wind_mph', 'Wind, mph', 0, 100),
      number('temperature_c', 'Temperature, °C', -30, 60),
      number('green_speed_ft', 'Green speed, feet', GREEN_SPEEDS_FT[0], GREEN_SPEEDS_FT[1], 'decimal'),
    ),
    choices(
      'Ground',
      [
        ['soft', 'soft'],
        ['medium', 'medium'],
        ['firm', 'firm'],
      ],
      fields.firmness,
      (firmness) => set({ firmness }),
      { clearable: true, id: 'firmness' },
    ),
    choices(
      'Lengths measured',
      LENGTHS_TAKEN.map((word) => [word, LENGTHS_TAKEN_WORDS[word]]),
      fields.lengths_taken ?? null,
      (lengths_taken) => set({ lengths_taken }),
      { clearable: true, id: 'lengths-taken' },
    ),
    h('p', { class: 'hint' }, 'How you measured most lengths of this round. Optional.'),
    h('p', { class: 'hint' }, 'Wind and pin of each hole are recorded as you play it: tap its par and length.'),
    field('Note', note),
  );
}

/** What stays true whatever the tool says. */
function cautions() {
  return h(
    'details',
    { class: 'hint-box' },
    h('summary', null, 'Before you go out'),
    h(
      'ul',
      null,
      h('li', null, 'Lightning: stop play and take shelter.'),
      h('li', null, 'Hit only when nobody is in range.'),
      h('li', null, 'Keep pace: record the shot while walking to it.'),
      h('li', null, "Wind and firmness change distances. The Committee's local rules come first."),
      h('li', null, 'What you see here is evidence, not advice from a licensed coach or a referee.'),
    ),
  );
}
