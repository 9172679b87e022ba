/** The bag: clubs, on trial, retired, setups with their dates, and the distances the phone knows. */
import { longestFirst } from '../game/guess.js';
import { SORTS } from '../game/shot.js';
import { fromYards, defaultUnit } from '../game/units.js';
import { draftNotice } from './draft-notice.js';
import { button, choices, confirmSheet, field, h } from '../ui/elements.js';
import { LOCK_WORDS } from './locked.js';
import { notesPart } from './notes.js';
import { loadStockDistances } from './round-data.js';
import { counted, today } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session @typedef {import('../log/store.js').StoredRecord} StoredRecord */

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function bagScreen(session) {
  const clubs = await session.store.records(/** @type {string} */ (session.playerId), 'club');
  const stock = await loadStockDistances(session, clubs);
  const lock = await session.lockingRound();
  const inHand = longestFirst(
    clubs.filter((club) => !club.body.retired_on),
    stock,
  );
  const retired = clubs.filter((club) => club.body.retired_on);
  const row = (/** @type {StoredRecord} */ club) =>
    h(
      'li',
      null,
      h(
        'a',
        { class: 'list-row', href: `#/bag/${club.record_id}` },
        h(
          'span',
          { class: 'list-main' },
          club.body.label,
          club.body.on_trial ? h('span', { class: 'mark' }, ' on trial') : null,
          h('span', { class: 'list-under' }, underLabel(club)),
        ),
        lock ? null : h('span', { class: 'list-side' }, distanceWords(session, club, stock.get(club.record_id))),
      ),
    );
  return {
    title: 'Bag',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Bag'),
      lock
        ? h('p', { class: 'hint' }, LOCK_WORDS)
        : h(
            'p',
            { class: 'hint' },
            'Distances: median of full swings from tee and fairway that have a finish or were meant to stop well short of the hole.',
          ),
      h('ul', { class: 'list' }, inHand.map(row)),
      retired.length
        ? h(
            'details',
            null,
            h('summary', null, `Retired: ${retired.length}`),
            h('ul', { class: 'list' }, retired.map(row)),
          )
        : null,
      h(
        'div',
        { class: 'bottom-actions' },
        h('a', { class: 'button wide strong', href: '#/bag/new', id: 'new-club' }, 'Add a club'),
        lock
          ? null
          : [
              h(
                'a',
                { class: 'button wide', href: `#/evidence/${session.playerId}/patterns`, id: 'to-patterns' },
                'Where each club finishes',
              ),
              h(
                'a',
                { class: 'button wide', href: `#/evidence/${session.playerId}/distances`, id: 'to-distances' },
                'Distances, gaps and overlaps',
              ),
            ],
      ),
    ),
  };
}

/** @param {StoredRecord} club @returns {string} */
function underLabel(club) {
  const loft = club.body.loft_deg ? ` · ${club.body.loft_deg}°` : '';
  return `${club.body.sort}${loft}${club.body.retired_on ? ` · retired ${club.body.retired_on}` : ''}`;
}

/** @param {Session} session @param {StoredRecord} club @param {{yards: number, swings: number, own: boolean}|undefined} stock */
function distanceWords(session, club, stock) {
  if (club.body.sort === 'putter' || !stock) return null;
  if (!stock.own)
    return h(
      'span',
      { class: 'list-under' },
      stock.swings ? `${counted(stock.swings, 'swing')}: too few` : 'no distance yet',
    );
  const unit = defaultUnit('fairway', session.units);
  return [
    h('span', { class: 'score' }, Math.round(fromYards(stock.yards, unit))),
    h('span', { class: 'list-under' }, `${unit}, ${counted(stock.swings, 'swing')}`),
  ];
}

/** @param {Session} session @param {string} clubId @returns {Promise<import('../routes.js').Drawn>} */
export async function clubScreen(session, clubId) {
  const fresh = clubId === 'new';
  const record = fresh ? null : await session.store.record(/** @type {string} */ (session.playerId), clubId);
  if (!fresh && (!record || record.deleted)) throw new Error('this club is not on this phone');
  const empty = () =>
    fresh
      ? { label: '', sort: 'iron', loft_deg: null, on_trial: false, retired_on: null }
      : structuredClone(record?.body);
  const draft = await session.drafts.open(
    /** @type {string} */ (session.playerId),
    `club ${clubId}`,
    clubId,
    empty,
    record?.head,
  );
  const fields = draft.value;
  const notice = draftNotice(session, draft);
  const setups = fresh
    ? []
    : (await session.store.records(/** @type {string} */ (session.playerId), 'setup')).filter(
        (setup) => setup.body.club_id === clubId,
      );
  setups.sort((a, b) => b.body.since.localeCompare(a.body.since));
  const box = h('div');
  const draw = () => box.replaceChildren(...clubFields(fields, set));
  const set = (/** @type {any} */ change) => {
    Object.assign(fields, change);
    draw();
  };
  draw();
  const notes =
    fresh || (await session.lockingRound())
      ? null
      : notesPart(session, { player: /** @type {string} */ (session.playerId), about: 'club', id: record?.body.label });
  const save = async () => {
    const { label, loft_deg: loft } = fields;
    const problem = !label.trim()
      ? 'The club needs a name.'
      : (loft < 0 || loft > 80) && `Loft, degrees: ${loft} is not 0 to 80.`;
    if (problem) {
      session.frame?.alert(problem);
      return;
    }
    const id = fresh ? crypto.randomUUID() : clubId;
    const edit = { record_id: id, kind: 'club', body: { ...fields, label: label.trim() }, ...draft.parents };
    const saved = await session.write(null, () => ({ edits: [edit], words: `${label} saved` }), draft);
    if (saved) session.frame?.go(fresh ? `bag/${id}` : 'bag');
  };
  return {
    title: fresh ? 'A new club' : fields.label,
    still: true,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, fresh ? 'A new club' : fields.label),
      notice,
      box,
      fresh || fields.sort === 'putter'
        ? null
        : h(
            'p',
            null,
            h(
              'a',
              {
                href: `#/evidence/${session.playerId}/patterns?${new URLSearchParams({ club: record?.body.label })}`,
                id: 'to-pattern',
              },
              'Where it finishes',
            ),
          ),
      fresh
        ? h('p', { class: 'hint' }, 'Save it, then add its setups: loft, shaft, ball, each with a start date.')
        : await setupsPart(session, clubId, setups),
      notes,
    ),
    bar: h(
      'div',
      { class: 'actions two' },
      h('a', { class: 'button act', href: '#/bag' }, 'Back'),
      button('Save', save, { class: 'act strong', id: 'save-club' }),
    ),
  };
}

/** @param {any} fields @param {(change: any) => void} set */
function clubFields(fields, set) {
  const label = h('input', { value: fields.label, maxlength: '60', id: 'club-label', required: true });
  label.addEventListener('input', () => Object.assign(fields, { label: label.value }));
  const loft = h('input', {
    type: 'number',
    min: '0',
    max: '80',
    step: '0.5',
    inputmode: 'decimal',
    value: fields.loft_deg ?? '',
    id: 'club-loft',
  });
  loft.addEventListener('input', () =>
    Object.assign(fields, { loft_deg: loft.value === '' ? null : Number(loft.value) }),
  );
  return [
    field('Name', label),
    h('h2', null, 'Type'),
    choices(
      'Type',
      SORTS.map((sort) => [sort, sort]),
      fields.sort,
      (sort) => set({ sort }),
      { id: 'sort' },
    ),
    field('Loft, degrees', loft),
    h('h2', null, 'Status'),
    choices(
      'Status',
      [
        ['in', 'in hand'],
        ['trial', 'on trial'],
        ['retired', 'retired'],
      ],
      fields.retired_on ? 'retired' : fields.on_trial ? 'trial' : 'in',
      (state) => set({ on_trial: state === 'trial', retired_on: state === 'retired' ? today() : null }),
      { id: 'state' },
    ),
  ];
}

/** @param {Session} session @param {string} clubId @param {StoredRecord[]} setups */
async function setupsPart(session, clubId, setups) {
  const empty = () => ({ club_id: clubId, since: today(), note: '', loft_deg: null, shaft: null, ball: null });
  const draft = await session.drafts.open(/** @type {string} */ (session.playerId), `setup ${clubId}`, clubId, empty);
  const fields = draft.value;
  const input = (/** @type {string} */ name, /** @type {any} */ properties) => {
    const element = h(properties.rows ? 'textarea' : 'input', {
      ...properties,
      value: /** @type {any} */ (fields)[name] ?? '',
    });
    element.addEventListener('input', () =>
      Object.assign(fields, {
        [name]:
          properties.type === 'number'
            ? element.value === ''
              ? null
              : Number(element.value)
            : element.value || (name === 'note' ? '' : null),
      }),
    );
    return element;
  };
  const add = async () => {
    if (!fields.note.trim()) {
      session.frame?.alert('Describe this setup in a few words.');
      return;
    }
    await session.write(
      null,
      () => ({ edits: [{ record_id: crypto.randomUUID(), kind: 'setup', body: { ...fields } }], words: 'Setup saved' }),
      draft,
    );
    await session.frame?.refresh();
  };
  const remove = async (/** @type {StoredRecord} */ setup) => {
    if (!(await confirmSheet('Delete this setup?', `${setup.body.note}, since ${setup.body.since}`, 'Delete'))) return;
    await session.write(null, () => ({
      edits: [{ record_id: setup.record_id, kind: 'setup', body: null }],
      words: 'Setup deleted',
    }));
    await session.frame?.refresh();
  };
  return h(
    'section',
    null,
    h('h2', null, 'Setups'),
    h('p', { class: 'hint' }, 'A shot counts for the setup in use on the day of its round.'),
    h(
      'ul',
      { class: 'list' },
      setups.map((setup) =>
        h(
          'li',
          { class: 'list-row' },
          h(
            'span',
            { class: 'list-main' },
            setup.body.note,
            h('span', { class: 'list-under' }, setupWords(setup.body)),
          ),
          button('Delete', () => remove(setup), {
            class: 'quiet',
            'aria-label': `Delete the setup ${setup.body.note}`,
          }),
        ),
      ),
    ),
    h(
      'details',
      { open: !setups.length || draft.changed },
      h('summary', null, 'Add a setup'),
      draftNotice(session, draft, 'throw-setup-away'),
      field('In use since', input('since', { type: 'date', id: 'setup-since' })),
      field(
        'Description',
        input('note', { rows: '2', maxlength: '500', id: 'setup-note', placeholder: 'one degree weaker' }),
      ),
      h(
        'div',
        { class: 'row' },
        field(
          'Loft, degrees',
          input('loft_deg', { type: 'number', step: '0.5', min: '0', max: '80', inputmode: 'decimal' }),
        ),
        field('Shaft', input('shaft', { maxlength: '120' })),
        field('Ball', input('ball', { maxlength: '120' })),
      ),
      button('Add the setup', add, { class: 'wide', id: 'add-setup' }),
    ),
  );
}

/** @param {any} setup @returns {string} */
function setupWords(setup) {
  return [`since ${setup.since}`, setup.loft_deg ? `${setup.loft_deg}°` : null, setup.shaft, setup.ball]
    .filter(Boolean)
    .join(' · ');
}
