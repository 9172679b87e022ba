/** The map of one hole, entered in a minute: a few numbers, the drawing live above them. Works without a network. */
import { LEFT, LONG, RIGHT, SHORT, TROUBLE, formFaults, mapFromForm } from '../game/map-form.js';
import { toYards } from '../game/units.js';
import { courseOf, longestHoles, mapsOf } from './course-records.js';
import { draftNotice } from './draft-notice.js';
import { button, choices, confirmSheet, field, h } from '../ui/elements.js';
import { holeStrip, stripWords } from '../charts/hole-strip.js';
import { drawable, entryOf, faultSentence, formOf, freshEntry, shown } from './map-entry.js';
import { part } from '../ui/parts.js';
import { HOLES, styleSheet } from '../ui/style-sheet.js';

/**
 * @typedef {import('../session.js').Session} Session @typedef {import('./map-entry.js').Entry} Entry
 * @typedef {{session: Session, courseId: string, course: any, hole: number, par: number, unit: import('../game/units.js').Unit, record: any, others: string[], entry: Entry, typed: boolean, faults: import('../game/map-form.js').Fault[], drawn: {features: import('../game/hole-maps.js').Feature[], words: string}|null, redraw: () => void, live: () => void}} Context
 */

const SIDE_WORDS = /** @type {[string, string][]} */ ([
  [LEFT, 'left'],
  [RIGHT, 'right'],
  [SHORT, 'short'],
  [LONG, 'behind'],
]);
const KINDS = /** @type {[string, string][]} */ (Object.keys(TROUBLE).map((kind) => [kind, kind.replaceAll('_', ' ')]));

/** @param {Session} session @param {string} courseId @param {string} number @returns {Promise<import('../routes.js').Drawn>} */
export async function holeMapScreen(session, courseId, number) {
  await styleSheet(HOLES);
  const course = await courseOf(session, courseId);
  const holes = longestHoles(course);
  const hole = holes.find((one) => one.number === Number(number));
  if (!hole) throw new Error(`${course.name} has no hole ${number}`);
  const records = (await mapsOf(session, courseId)).get(hole.number) ?? [];
  const record = records[records.length - 1] ?? null;
  const empty = () => ({
    entry: record?.body.form ? entryOf(record.body.form) : freshEntry(hole.length_yd, hole.par),
    typed: !record || Boolean(record.body.form),
  });
  const draft = await session.drafts.open(
    /** @type {string} */ (session.playerId),
    `map ${courseId} ${hole.number}`,
    courseId,
    empty,
    record?.head,
  );
  const entered = draft.value;
  const notice = draftNotice(session, draft);
  const page = h('div', { class: 'page' });
  /** @type {Context} */
  const context = {
    session,
    courseId,
    course,
    hole: hole.number,
    par: hole.par,
    unit: session.units === 'metres' ? 'm' : 'yd',
    record,
    others: records.slice(0, -1).map((/** @type {any} */ one) => one.record_id),
    entry: entered.entry,
    typed: entered.typed,
    faults: [],
    drawn: null,
    redraw: () => draw(),
    live: () => undefined,
  };
  const draw = () => {
    const focused = document.activeElement?.id;
    page.replaceChildren(...[notice, ...form(context, entered)].filter(Boolean));
    if (focused) document.getElementById(focused)?.focus();
  };
  draw();
  const next = holes.find((one) => one.number > hole.number);
  const leave = (/** @type {string} */ to) => session.frame?.go(to);
  const save = async (/** @type {string} */ to) => {
    if (await saveMap(context, courseId, draft)) leave(to);
  };
  const bar = h(
    'div',
    { class: `actions ${next ? 'three' : 'two'}` },
    button('Back', () => leave(`courses/${courseId}/map`), { class: 'act', id: 'map-back' }),
    button('Save', () => save(`courses/${courseId}/map`), { class: next ? 'act' : 'act strong', id: 'save-map' }),
    next
      ? button('Save, next hole', () => save(`courses/${courseId}/map/${next.number}`), {
          class: 'act strong',
          id: 'save-map-next',
        })
      : null,
  );
  if (record)
    page.append(
      h(
        'p',
        null,
        button('Remove this map', () => remove(context, draft, () => leave(`courses/${courseId}/map`)), {
          class: 'red',
          id: 'remove-map',
        }),
      ),
    );
  return { title: `Map of hole ${hole.number}`, still: true, content: page, bar };
}

/** @param {Context} context @param {string} courseId @param {import('../log/drafts.js').Draft<any>} draft @returns {Promise<boolean>} */
async function saveMap(context, courseId, draft) {
  const { session, hole, record, others } = context;
  const { form: made, inputs } = formOf(context.entry);
  context.faults = formFaults(made);
  if (context.faults.length) {
    context.redraw();
    document.getElementById(inputs[context.faults[0].field] ?? '')?.focus();
    session.frame?.say(`Not saved. ${context.faults.map((fault) => faultSentence(fault, context.unit)).join(' ')}`);
    return false;
  }
  const body = { ...(await grown(record?.body, made)), course_id: courseId, hole, form: made };
  const edits = [
    { record_id: record?.record_id ?? crypto.randomUUID(), kind: 'hole_map', body, ...draft.parents },
    ...others.map((record_id) => ({ record_id, kind: 'hole_map', body: null })),
  ];
  return session.write(null, () => ({ edits, words: `Map of hole ${hole} saved` }), draft);
}

/**
 * The map with what was entered by hand: it has no place on the earth any more, unless the hole was walked too.
 * @param {any} body @param {import('../game/map-form.js').HoleForm} made
 */
async function grown(body, made) {
  const { frame: _, ...rest } = body ?? {};
  if (body?.walk?.length) {
    const { walkedMap } = await part(() => import('../game/walked-map.js'));
    const { features, frame, faults } = walkedMap(body.walk, { form: made });
    if (frame && !faults.length) return { ...rest, features, frame };
  }
  return { ...rest, features: mapFromForm(made) };
}

/** @param {Context} context @param {import('../log/drafts.js').Draft<any>} draft @param {() => void} leave */
async function remove({ session, hole, record, others }, draft, leave) {
  if (
    !(await confirmSheet('Remove this map?', `Hole ${hole} then needs a new map before it can be planned.`, 'Remove'))
  )
    return;
  const edits = [record.record_id, ...others].map((record_id) => ({ record_id, kind: 'hole_map', body: null }));
  if (await session.write(null, () => ({ edits, words: `Map of hole ${hole} removed` }), draft)) leave();
}

/** @param {Context} context @param {{typed: boolean}} entered */
function form(context, entered) {
  const { record, unit, course, hole, par } = context;
  const strip = h('div', { class: 'strip-holder', id: 'map-drawing' });
  const status = h('p', { class: 'hint', id: 'map-said' });
  context.live = () => {
    context.typed = entered.typed = true;
    drawLive(context, strip, status);
  };
  drawLive(context, strip, status);
  return [
    h('h1', null, `Hole ${hole}: map`),
    h('p', { class: 'hint' }, `${course.name}, par ${par}. Estimates will do; the map can be changed at any time.`),
    h('div', { class: 'map-head' }, strip, status),
    h(
      'p',
      null,
      h(
        'a',
        { class: 'button', href: `#/courses/${context.courseId}/map/${hole}/walk`, id: 'to-walk' },
        'Map it by walking',
      ),
    ),
    context.faults.length
      ? h(
          'div',
          { class: 'notice', role: 'alert', id: 'map-faults' },
          h(
            'ul',
            null,
            context.faults.map((fault) => h('li', null, faultSentence(fault, unit))),
          ),
        )
      : null,
    record && !record.body.form && !entered.typed
      ? h(
          'p',
          { class: 'notice' },
          record.body.walk?.length
            ? 'This hole was mapped by walking. Numbers entered here fill in what was not walked.'
            : `This hole has an imported map of ${record.body.features.length} polygons. Numbers entered here replace it.`,
        )
      : null,
    par === 3 ? null : fairwayPart(context),
    troublePart(context),
    greenPart(context),
    shapePart(context),
  ].filter(Boolean);
}

/** @param {Context} context @param {HTMLElement} strip @param {HTMLElement} status */
function drawLive(context, strip, status) {
  const { entry, record, typed, unit } = context;
  if (!typed) {
    holeStrip(
      strip,
      record.body.features,
      unit,
      record.body.walk?.length ? 'The map of the hole as it was walked' : 'The imported map of the hole',
    );
    status.textContent = '';
    return;
  }
  const found = drawable(entry);
  status.classList.toggle('fault', 'faults' in found);
  if ('faults' in found) {
    status.textContent = `Not drawn yet. ${faultSentence(found.faults[0], unit)}`;
    if (context.drawn) holeStrip(strip, context.drawn.features, unit, context.drawn.words);
    return;
  }
  context.drawn = { features: mapFromForm(found.form), words: stripWords(found.form, unit) };
  holeStrip(strip, context.drawn.features, unit, context.drawn.words);
  status.textContent = found.missing.length
    ? `Drawn with a usual size until you enter ${found.missing.join(' and ')}.`
    : '';
}

/**
 * @param {Context} context @param {string} words @param {string} id @param {number|null} value @param {(yards: number|null) => void} set
 */
function length(context, words, id, value, set) {
  const { unit, entry, faults } = context;
  const bad = faults.find((fault) => formOf(entry).inputs[fault.field] === id);
  const input = h('input', {
    type: 'number',
    inputmode: 'decimal',
    step: 'any',
    id,
    enterkeyhint: 'next',
    autocomplete: 'off',
    'aria-invalid': bad ? 'true' : null,
    value: value === null ? '' : shown(value, unit),
  });
  input.addEventListener('input', () => {
    set(input.value === '' ? null : toYards(Number(input.value), unit));
    context.live();
  });
  input.addEventListener('focus', () => input.select());
  input.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
    if (event.key !== 'Enter') return;
    event.preventDefault();
    const all = [...document.querySelectorAll('main input')];
    /** @type {HTMLElement|undefined} */ (all[all.indexOf(input) + 1])?.focus();
  });
  const named = field(`${words}, ${unit}`, input);
  if (bad) {
    named.append(h('p', { class: 'fault', id: `${id}-fault` }, faultSentence(bad, unit)));
    input.setAttribute('aria-describedby', `${id}-fault`);
  }
  return named;
}

/** @param {Context} context */
function fairwayPart(context) {
  const rows = context.entry.rows.map((row, place) =>
    h(
      'div',
      { class: 'map-row', role: 'group', 'aria-label': `Fairway, ${place ? 'second' : 'first'} width` },
      length(
        context,
        place ? 'and this far from the tee' : 'This far from the tee',
        `map-at-${place + 1}`,
        row.at,
        (at) => Object.assign(row, { at }),
      ),
      length(context, 'the fairway is wide', `map-wide-${place + 1}`, row.width, (width) =>
        Object.assign(row, { width }),
      ),
    ),
  );
  return h(
    'section',
    null,
    h('h2', null, 'Fairway'),
    rows,
    h('p', { class: 'hint' }, 'One width will do. Leave the other empty.'),
  );
}

/** @param {Context} context */
function greenPart(context) {
  const { entry } = context;
  return h(
    'section',
    null,
    h('h2', null, 'Green'),
    h(
      'div',
      { class: 'map-row' },
      length(context, 'Depth', 'map-depth', entry.green_depth_yd, (green_depth_yd) =>
        Object.assign(entry, { green_depth_yd }),
      ),
      length(context, 'Width', 'map-width', entry.green_width_yd, (green_width_yd) =>
        Object.assign(entry, { green_width_yd }),
      ),
    ),
  );
}

/** @param {Context} context */
function shapePart(context) {
  const { entry, redraw } = context;
  const turn = (/** @type {string|null} */ side) => {
    Object.assign(entry.bend, { side: side ?? 'straight' });
    context.typed = true;
    redraw();
  };
  return h(
    'section',
    null,
    h('h2', null, 'Length and bend'),
    length(context, 'Back tee to the middle of the green, straight', 'map-length', entry.length_yd, (length_yd) =>
      Object.assign(entry, { length_yd }),
    ),
    h('p', { class: 'hint' }, 'Halfway, the middle of the fairway is off the straight line from tee to green by:'),
    choices(
      'Bend',
      [
        ['left', 'left'],
        ['straight', 'on it'],
        ['right', 'right'],
      ],
      entry.bend.side,
      turn,
      { id: 'bend' },
    ),
    entry.bend.side === 'straight'
      ? null
      : length(context, 'by', 'map-bend', entry.bend.by, (by) => Object.assign(entry.bend, { by })),
  );
}

/** @param {Context} context */
function troublePart(context) {
  const { entry, redraw } = context;
  const add = (/** @type {string} */ side) => {
    entry.trouble.push({
      kind: side === SHORT || side === LONG ? 'bunker' : 'trees',
      side,
      begins_yd: null,
      part: false,
      from_yd: null,
      to_yd: null,
    });
    redraw();
    document.getElementById(`map-begins-${entry.trouble.length}`)?.focus();
  };
  return h(
    'section',
    null,
    h('h2', null, 'Trouble'),
    entry.trouble.map((one, place) => troubleOne(context, one, place + 1)),
    h(
      'div',
      { class: 'choices', role: 'group', 'aria-label': 'Add trouble' },
      SIDE_WORDS.map(([side, words]) => button(`+ ${words}`, () => add(side), { id: `add-${side}` })),
    ),
  );
}

/** @param {Context} context @param {import('./map-entry.js').TroubleEntry} one @param {number} number */
function troubleOne(context, one, number) {
  const { entry, redraw } = context;
  const set = (/** @type {Partial<import('./map-entry.js').TroubleEntry>} */ change) => {
    Object.assign(one, change);
    context.live();
    redraw();
  };
  const takeOut = () => {
    entry.trouble.splice(number - 1, 1);
    redraw();
  };
  const along = one.side === LEFT || one.side === RIGHT;
  const where = SIDE_WORDS.find(([side]) => side === one.side)?.[1];
  return h(
    'div',
    { class: 'trouble-one', role: 'group', 'aria-label': `Trouble ${number}, ${where}` },
    h('h3', null, `${number}. ${where}`, button('Take out', takeOut, { class: 'quiet', id: `map-out-${number}` })),
    choices(`Trouble ${number}`, KINDS, one.kind, (kind) => set({ kind: kind ?? one.kind }), {
      id: `map-kind-${number}`,
    }),
    length(
      context,
      along
        ? 'Begins from the middle of the fairway'
        : one.side === SHORT
          ? 'Begins before the front edge'
          : 'Begins behind the back edge',
      `map-begins-${number}`,
      one.begins_yd,
      (begins_yd) => Object.assign(one, { begins_yd }),
    ),
    along
      ? choices(
          `Trouble ${number}, how far along`,
          [
            ['whole', 'the whole hole'],
            ['part', 'only a part'],
          ],
          one.part ? 'part' : 'whole',
          (value) => set({ part: value === 'part' }),
          { id: `map-part-${number}` },
        )
      : null,
    along && one.part
      ? h(
          'div',
          { class: 'map-row' },
          length(context, 'From the tee, from', `map-from-${number}`, one.from_yd, (from_yd) =>
            Object.assign(one, { from_yd }),
          ),
          length(context, 'to', `map-to-${number}`, one.to_yd, (to_yd) => Object.assign(one, { to_yd })),
        )
      : null,
  );
}
