/** Courses: kept on the phone; a new one in a minute from its pars and lengths. */
import { FARTHEST_YD, HIGHEST_PAR, LOWEST_PAR, MOST_HOLES } from '../game/ranges.js';
import { fromYards, toYards } from '../game/units.js';
import { draftNotice } from './draft-notice.js';
import { backOrSave, button, choices, confirmSheet, field, h } from '../ui/elements.js';
import { confirmUnusualHoles } from './unusual.js';
import { counted } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session */

const PARS = ['3', '4', '5'];

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function coursesScreen(session) {
  const courses = await session.store.records(/** @type {string} */ (session.playerId), 'course');
  courses.sort((a, b) => a.body.name.localeCompare(b.body.name));
  return {
    title: 'Courses',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Courses'),
      courses.length
        ? h(
            'ul',
            { class: 'list' },
            courses.map((course) =>
              h(
                'li',
                null,
                h(
                  'a',
                  { class: 'list-row', href: `#/courses/${course.record_id}` },
                  h(
                    'span',
                    { class: 'list-main' },
                    course.body.name,
                    h(
                      'span',
                      { class: 'list-under' },
                      course.body.tees.map((/** @type {any} */ tees) => teesWords(tees)).join(' · '),
                    ),
                  ),
                ),
              ),
            ),
          )
        : h('p', { class: 'empty' }, 'No course yet. Add one from the pars and lengths on any scorecard.'),
      h(
        'div',
        { class: 'bottom-actions' },
        h('a', { class: 'button wide strong', href: '#/courses/new', id: 'new-course' }, 'Add a course'),
      ),
    ),
  };
}

/** @param {any} tees @returns {string} */
function teesWords(tees) {
  return `${tees.name || 'tees'}: ${counted(tees.holes.length, 'hole')}, par ${tees.holes.reduce((/** @type {number} */ sum, /** @type {any} */ hole) => sum + hole.par, 0)}`;
}

/** @param {number} count @param {any[]} [from] */
function holes(count, from = []) {
  return Array.from({ length: count }, (_, place) => from[place] ?? { number: place + 1, par: 4, length_yd: null });
}

/** @param {Session} session @param {string} courseId @returns {Promise<import('../routes.js').Drawn>} */
export async function courseScreen(session, courseId) {
  const fresh = courseId === 'new';
  const record = fresh ? null : await session.store.record(/** @type {string} */ (session.playerId), courseId);
  if (!fresh && (!record || record.deleted)) throw new Error('this course is not on this phone');
  const empty = () =>
    record ? structuredClone(record.body) : { name: '', tees: [{ name: 'white', holes: holes(18) }] };
  const draft = await session.drafts.open(
    /** @type {string} */ (session.playerId),
    `course ${courseId}`,
    courseId,
    empty,
    record?.head,
  );
  const fields = draft.value;
  const notice = draftNotice(session, draft);
  const page = h('div', { class: 'page' });
  const state = { tees: 0 };
  const draw = () => {
    const focused = document.activeElement?.id;
    page.replaceChildren(
      ...form(session, fields, state, draw, fresh, notice),
      ...(fresh ? [] : under(session, courseId, fields.name)),
    );
    if (focused) document.getElementById(focused)?.focus();
  };
  draw();
  const leave = () => session.frame?.go(session.state.settingUpRound ? 'new' : 'courses');
  const save = async () => {
    const problem = problemOf(fields);
    if (problem) {
      session.frame?.alert(problem);
      return;
    }
    if (!(await confirmLengths(record?.body, fields, session.units))) return;
    const body = { ...fields, name: fields.name.trim() };
    const edit = { record_id: fresh ? crypto.randomUUID() : courseId, kind: 'course', body, ...draft.parents };
    if (await session.write(null, () => ({ edits: [edit], words: `${body.name} saved` }), draft)) leave();
  };
  return {
    title: fresh ? 'A new course' : fields.name,
    still: true,
    content: page,
    bar: backOrSave(leave, save, 'save-course'),
  };
}

/** What else there is of a course that is kept. @param {Session} session @param {string} courseId @param {string} name */
function under(session, courseId, name) {
  const maps = h(
    'a',
    { class: 'button wide', href: `#/courses/${courseId}/map`, id: 'course-maps' },
    'Maps of the holes',
  );
  return [
    h('p', null, maps),
    h(
      'p',
      null,
      button('Delete the course', () => remove(session, courseId, name), { class: 'red' }),
    ),
  ];
}

/** @param {any} fields @returns {string|null} */
function problemOf(fields) {
  if (!fields.name.trim()) return 'The course needs a name.';
  const names = fields.tees.map((/** @type {any} */ tees) => tees.name);
  if (new Set(names).size < names.length) return 'Two sets of tees have the same name.';
  for (const tees of fields.tees) {
    const bad = badLength(tees.holes);
    if (bad) return `${tees.name}: ${bad}`;
  }
  return null;
}

/** @param {any[]} list of holes @returns {string|null} */
export function badLength(list) {
  const bad = list.find((hole) => !(hole.length_yd > 0 && hole.length_yd <= FARTHEST_YD));
  return bad ? `hole ${bad.number} needs a length above 0 and up to ${FARTHEST_YD} yd.` : null;
}

/** Asks about unusual holes of each set of tees that are not stored like that. @param {any} before the stored body, or null @param {any} fields @param {'yards'|'metres'|undefined} units */
async function confirmLengths(before, fields, units) {
  for (const tees of fields.tees) {
    const stored = before?.tees.find((/** @type {any} */ one) => one.name === tees.name)?.holes ?? [];
    if (!(await confirmUnusualHoles(stored, tees.holes, units))) return false;
  }
  return true;
}

/** @param {Session} session @param {string} courseId @param {string} name */
async function remove(session, courseId, name) {
  if (!(await confirmSheet('Delete this course?', `Deletes ${name}; rounds played on it keep their holes.`, 'Delete')))
    return;
  if (
    await session.write(null, () => ({
      edits: [{ record_id: courseId, kind: 'course', body: null }],
      words: 'Course deleted',
    }))
  )
    session.frame?.go('courses');
}

/**
 * @param {Session} session @param {any} fields @param {{tees: number}} state @param {() => void} draw @param {boolean} fresh
 * @param {HTMLElement|null} notice
 */
function form(session, fields, state, draw, fresh, notice) {
  const tees = fields.tees[state.tees];
  const name = h('input', { value: fields.name, maxlength: '120', id: 'course-name', required: true });
  name.addEventListener('input', () => Object.assign(fields, { name: name.value }));
  const teesName = h('input', { value: tees.name, maxlength: '60', id: 'tees-name' });
  teesName.addEventListener('input', () => Object.assign(tees, { name: teesName.value }));
  const resize = (/** @type {string|null} */ count) => {
    tees.holes = holes(Number(count), tees.holes).slice(0, Math.min(Number(count), MOST_HOLES));
    draw();
  };
  const another = () => {
    fields.tees.push({ name: '', holes: tees.holes.map((/** @type {any} */ hole) => ({ ...hole })) });
    state.tees = fields.tees.length - 1;
    draw();
  };
  const chooseTees = (/** @type {string|null} */ place) => {
    state.tees = Number(place);
    draw();
  };
  return [
    h('h1', null, fresh ? 'A new course' : fields.name),
    notice,
    field('Name', name),
    fields.tees.length > 1
      ? choices(
          'Tees',
          fields.tees.map((/** @type {any} */ one, /** @type {number} */ place) => [
            String(place),
            one.name || 'no name',
          ]),
          String(state.tees),
          chooseTees,
          { id: 'which-tees' },
        )
      : null,
    h(
      'div',
      { class: 'row' },
      field('Tees', teesName),
      choices(
        'Holes',
        [
          ['9', '9 holes'],
          ['18', '18 holes'],
        ],
        String(tees.holes.length),
        resize,
        { id: 'hole-count' },
      ),
    ),
    parsField(tees),
    lengthsTable(session, tees, draw),
    h('p', null, button('Another set of tees', another, { class: 'quiet', id: 'more-tees' })),
  ].filter(Boolean);
}

/** All pars in one go, as on a card: 4 4 3 5 … @param {any} tees */
export function parsField(tees) {
  const input = h('input', {
    inputmode: 'numeric',
    id: 'pars',
    autocomplete: 'off',
    value: tees.holes.map((/** @type {any} */ hole) => hole.par).join(''),
  });
  const take = () => {
    const pars = [...input.value]
      .filter((digit) => Number(digit) >= LOWEST_PAR && Number(digit) <= HIGHEST_PAR)
      .map(Number);
    for (const [place, hole] of tees.holes.entries()) hole.par = pars[place] ?? hole.par;
    for (const { number, par } of tees.holes)
      for (const one of PARS)
        document.getElementById(`par-${number}-${one}`)?.setAttribute('aria-pressed', String(one === String(par)));
  };
  input.addEventListener('input', take); // in its place: a table drawn anew would lose the field that the thumb goes to next
  return field('Pars in a row', input, 'For example 443545344.');
}

/** The pars on offer; the rare sixth only where it was typed. @param {any} hole @returns {string[]} */
function parsOf(hole) {
  return [...PARS, ...(hole.par > 5 ? [String(hole.par)] : [])];
}

/** @param {Session} session @param {any} tees its holes are changed in place @param {() => void} draw */
export function lengthsTable(session, tees, draw) {
  const unit = session.units === 'metres' ? 'm' : 'yd';
  const set = (/** @type {any} */ hole, /** @type {string|null} */ par) => {
    hole.par = Number(par);
    draw();
  };
  const rows = tees.holes.map((/** @type {any} */ hole) => {
    const input = h('input', {
      type: 'number',
      inputmode: 'numeric',
      min: '1',
      max: '700',
      id: `length-${hole.number}`,
      'aria-label': `Hole ${hole.number}: length in ${unit}`,
      enterkeyhint: 'next',
      value: hole.length_yd ? Math.round(fromYards(hole.length_yd, unit)) : '',
    });
    input.addEventListener('input', () =>
      Object.assign(hole, { length_yd: Number(input.value) > 0 ? toYards(Number(input.value), unit) : null }),
    );
    input.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
      if (event.key !== 'Enter') return;
      event.preventDefault();
      document.getElementById(`length-${hole.number + 1}`)?.focus();
    });
    return h(
      'tr',
      null,
      h('th', { scope: 'row' }, hole.number),
      h(
        'td',
        null,
        choices(
          `Hole ${hole.number}: par`,
          parsOf(hole).map((par) => [par, par]),
          String(hole.par),
          (par) => set(hole, par),
          { id: `par-${hole.number}`, class: 'tight' },
        ),
      ),
      h('td', null, input),
    );
  });
  return h(
    'table',
    { class: 'course' },
    h(
      'thead',
      null,
      h(
        'tr',
        null,
        ['Hole', 'Par', unit].map((words) => h('th', { scope: 'col' }, words)),
      ),
    ),
    h('tbody', null, rows),
  );
}
