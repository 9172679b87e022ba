/** Rounds, or practice sessions, out of a table (CSV, XLSX): chosen, previewed by the server, stored in full or not at all. How
 * the file was read is reported with the preview, and can be chosen otherwise. */
import { change, sentence, tried } from './server-answers.js';
import { button, field, h } from '../ui/elements.js';
import { KIND_WORDS, counted, dayWords, today } from '../ui/words.js';
import { PLACE_WORDS } from './practice-data.js';

/** @typedef {import('../session.js').Session} Session */

const LONGEST_TABLE = 3_000_000; // characters; the server's bound
const LARGEST_FILE = 2_900_000; // bytes of a file that is no UTF-8 text; the server's bound
const PIECE = 32_768; // bytes that become characters at once
const PATIENCE_MS = 120_000; // the longest table, on a server that is busy
const ROUNDS_AT_ONCE = 60;
const REFUSED = 422;
const LONGEST_FILE_NAME = 120;

/**
 * What a table may hold. `found`: what the preview lists of it; `row`: one of those; `ask`: the body that the server wants.
 * @typedef {object} Import
 * @property {string} title @property {string} intro @property {string} label @property {string} one @property {string} part
 * @property {string} path @property {(sent: Sent, name: string, dry: boolean, session: Session) => any} ask @property {(answer: any) => any[]} found
 * @property {(one: any) => any} row @property {() => any} columns @property {() => any} other
 */

/** @type {Import} */
const ROUNDS = {
  title: 'Import rounds',
  intro: 'a CSV or XLSX file with one shot a row',
  label: 'A shots table (CSV, XLSX)',
  one: 'round',
  part: 'shot',
  path: 'import',
  ask: (sent, _name, dry) => ({ ...sent, dry_run: dry }),
  found: (answer) => answer.rounds,
  row: (round) =>
    foundRow(
      round.played_on,
      `${round.course ?? 'no course'}${round.tees ? `, ${round.tees}` : ''} · ${KIND_WORDS[round.kind]}`,
      counted(round.holes, 'hole'),
      counted(round.shots, 'shot'),
    ),
  columns,
  other: () =>
    h('p', null, h('a', { href: '#/import/practice', id: 'to-practice-import' }, 'A table of practice balls')),
};

/** @type {Import} */
const PRACTICE = {
  title: 'Import practice',
  intro: 'a CSV or XLSX file with one ball a row',
  label: 'A practice table (CSV, XLSX)',
  one: 'practice session',
  part: 'ball',
  path: 'import-practice',
  ask: (sent, name, dry, session) => ({
    ...sent,
    dry_run: dry,
    file: name.slice(0, LONGEST_FILE_NAME),
    date: chosenDay(),
    units: session.units === 'metres' ? 'm' : 'yd',
  }),
  found: (answer) => answer.sessions,
  row: (one) =>
    foundRow(one.date, PLACE_WORDS[one.place] ?? one.place, counted(one.balls, 'ball'), counted(one.clubs, 'club')),
  columns: practiceColumns,
  other: () => h('p', null, h('a', { href: '#/import', id: 'to-rounds-import' }, 'A table of rounds')),
};

/** What may be chosen of how a file is read: name in the request, title, words by value. */
const CHOICES = [
  {
    name: 'date_format',
    title: 'Days',
    words: [
      'YYYY-MM-DD',
      'DD.MM.YYYY',
      'DD/MM/YYYY',
      'MM/DD/YYYY',
      'DD-MM-YYYY',
      'MM-DD-YYYY',
      'YYYY/MM/DD',
      'YYYY.MM.DD',
    ].map((form) => [form, form]),
  },
  {
    name: 'decimal',
    title: 'Decimal mark',
    words: [
      ['point', 'point: 12.5'],
      ['comma', 'comma: 12,5'],
    ],
  },
  {
    name: 'separator',
    title: 'Between the cells of a CSV',
    words: [
      ['comma', 'commas'],
      ['semicolon', 'semicolons'],
      ['tab', 'tabs'],
    ],
  },
];

/** @typedef {{ table?: string, content?: string, date_format?: string, decimal?: string, separator?: string }} Sent */

/** @param {Session} session @returns {import('../routes.js').Drawn} */
export function importScreen(session) {
  return tableScreen(session, ROUNDS);
}

/** The day of rows that say none. @returns {string} */
function chosenDay() {
  return /** @type {HTMLInputElement|null} */ (document.getElementById('table-day'))?.value || today();
}

/** @param {Session} session @returns {import('../routes.js').Drawn} */
export function practiceImportScreen(session) {
  return tableScreen(session, PRACTICE);
}

/** @param {Session} session @param {Import} what @returns {import('../routes.js').Drawn} */
function tableScreen(session, what) {
  const result = h('div', { id: 'import-result', role: 'status' });
  const chosen = h('input', { type: 'file', accept: '.csv,.txt,.tsv,.xlsx,text/csv', id: 'table-file' });
  chosen.addEventListener('change', async () => {
    const file = chosen.files?.[0];
    if (!file) return;
    result.replaceChildren(h('p', null, 'Reading…'));
    const parts = await preview(session, what, file, result);
    result.replaceChildren(...parts);
    chosen.value = ''; // the same file, mended, can be chosen again
  });
  return {
    title: what.title,
    still: true,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, what.title),
      h(
        'p',
        null,
        `${what === ROUNDS ? 'Rounds' : 'Practice'} of ${session.playerName} from a table: ${what.intro}. You see first what is in it; then every row is stored, or none.`,
      ),
      what === PRACTICE
        ? field('Day of balls without a date', h('input', { type: 'date', id: 'table-day', value: today() }))
        : null,
      h('div', { class: 'field' }, h('label', { for: 'table-file' }, what.label), chosen),
      result,
      what.columns(),
      what.other(),
    ),
  };
}

/** What a table must have, folded. @param {[string, string][]} parts title and words @param {string} hint */
function columnList(parts, hint) {
  return h(
    'details',
    null,
    h('summary', { id: 'columns' }, 'What the table needs'),
    h(
      'dl',
      null,
      parts.map(([title, words]) => h('div', null, h('dt', null, title), h('dd', { class: 'plain' }, words))),
    ),
    h('p', { class: 'hint' }, hint),
  );
}

function columns() {
  return columnList(
    [
      [
        'Needed',
        'played_on (2026-05-31), hole, par, length_yd (or length with length_unit), shot, lie, distance, club',
      ],
      ['Lies', 'tee, fairway, fringe, rough, sand, recovery, green'],
      ['Distances', 'to the hole: feet on the green, yards elsewhere, unless the column unit says yd, ft or m'],
      [
        'Optional',
        'kind, course, tees, round (1 and 2 for two rounds of a day), ball_label, lengths_taken, ball, holed, penalty_strokes with penalty_reason, swing, planned_shape, planned_height, actual_shape, carry_yd, strike, lon, lat, accuracy_m, note',
      ],
    ],
    'A shots table exported here can be imported again; rows already here change nothing.',
  );
}

function practiceColumns() {
  return columnList(
    [
      ['Needed', 'club, and where the ball finished: carry, total, offline (“6 L”, “−6” or “6 R”), or left'],
      ['Of a putt', 'length, holed, left: in feet unless said otherwise'],
      [
        'Optional',
        'target, units (yd, m, ft), date (2026-05-31), place, swing, lie, strike, planned_shape, actual_shape',
      ],
      ['Units', 'your own unless a column says units, or its title does: “carry (m)”'],
    ],
    'Practice balls never count as strokes of a round.',
  );
}

/** @param {Session} session @param {Import} what @param {File} file @param {HTMLElement} result @returns {Promise<any[]>} */
async function preview(session, what, file, result) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  const table = textOf(bytes);
  const most = table === null ? LARGEST_FILE : LONGEST_TABLE;
  if (bytes.length > most)
    return [
      h(
        'p',
        { class: 'notice' },
        `${file.name} has ${bytes.length.toLocaleString('en-GB')} bytes; a table may have up to ${most.toLocaleString('en-GB')}. Split it by rounds. Nothing was stored.`,
      ),
    ];
  await session.schedule.now(); // the server must know the player, and what the rows are laid over
  return asked(session, what, file.name, table === null ? { content: base64(bytes) } : { table }, result);
}

/** The words of a text in UTF-8; null for any other file, which the server reads.
 * @param {Uint8Array<ArrayBuffer>} bytes */
function textOf(bytes) {
  try {
    const words = new TextDecoder('utf-8', { fatal: true }).decode(bytes);
    return words && !words.includes('\0') ? words : null;
  } catch {
    return null;
  }
}

/** @param {Uint8Array} bytes */
function base64(bytes) {
  let words = '';
  for (let at = 0; at < bytes.length; at += PIECE) words += String.fromCharCode(...bytes.subarray(at, at + PIECE));
  return btoa(words);
}

/** @param {Session} session @param {Import} what @param {string} name @param {Sent} sent @param {HTMLElement} result
 * @returns {Promise<any[]>} */
async function asked(session, what, name, sent, result) {
  const choose = choices(sent, async (chosen) => {
    result.replaceChildren(h('p', null, 'Reading…'));
    result.replaceChildren(...(await asked(session, what, name, { ...sent, ...chosen }, result)));
  });
  try {
    const found = await change('POST', address(session, what), what.ask(sent, name, true, session), PATIENCE_MS);
    return shown(session, what, name, sent, found, result, choose);
  } catch (error) {
    return [...refused(name, /** @type {any} */ (error)), choose];
  }
}

/** How the file is read, to be chosen otherwise.
 * @param {Sent} sent @param {(chosen: Sent) => void} again */
function choices(sent, again) {
  return h(
    'details',
    { id: 'reading' },
    h('summary', null, 'Change how it is read'),
    CHOICES.map(({ name, title, words }) => {
      const now = /** @type {any} */ (sent)[name] ?? '';
      const select = /** @type {HTMLSelectElement} */ (
        h(
          'select',
          { id: `reading-${name}` },
          [['', 'as in the file'], ...words].map(([value, word]) =>
            h('option', { value, selected: value === now }, word),
          ),
        )
      );
      select.addEventListener('change', () => again({ [name]: select.value || undefined }));
      return h('div', { class: 'field' }, h('label', { for: `reading-${name}` }, title), select);
    }),
  );
}

/** @param {Session} session @param {Import} what */
function address(session, what) {
  return `/api/players/${encodeURIComponent(/** @type {string} */ (session.playerId))}/${what.path}`;
}

/** @param {string} name @param {any} error */
function refused(name, error) {
  const faults = error.status === REFUSED ? (error.problem?.errors ?? []) : [];
  if (!faults.length)
    return [
      h(
        'p',
        { class: 'notice', id: 'refused' },
        `${sentence(error.message)} Nothing was stored.${error.kind === 'offline' ? ' The preview needs a network.' : ''}`,
      ),
    ];
  /** What is beside the range: how many more there are, and what settles it. @param {any} fault */
  const more = (fault) => {
    const [, words] = /; (.*)$/.exec(fault.message) ?? [];
    return fault.range && words ? h('span', { class: 'list-under' }, words) : null;
  };
  const row = (/** @type {any} */ fault) => {
    const [, place, column] = /^(row \d+), (.*)$/.exec(fault.field) ?? [null, fault.field, ''];
    return h(
      'tr',
      null,
      h('th', { scope: 'row' }, place, h('span', { class: 'list-under' }, column)),
      h('td', null, fault.value || '–'),
      h('td', null, fault.range || fault.message, more(fault)),
    );
  };
  return [
    h(
      'p',
      { class: 'notice', id: 'refused' },
      h('strong', null, `${name} cannot be imported; nothing was stored.`),
      ` ${counted(faults.length, 'problem')} to fix, then choose the file again.`,
    ),
    h(
      'div',
      { class: 'table-box', tabindex: '0', role: 'region', 'aria-label': 'Problems in the table' },
      h(
        'table',
        { class: 'faults' },
        h('caption', null, 'Rows count as a spreadsheet does: the header is row 1.'),
        h(
          'thead',
          null,
          h(
            'tr',
            null,
            ['where', 'value', 'allowed, or what is wrong'].map((words) => h('th', { scope: 'col' }, words)),
          ),
        ),
        h('tbody', null, faults.map(row)),
      ),
    ),
  ];
}

/** @param {string} day @param {string} under @param {string} side @param {string} sideUnder */
function foundRow(day, under, side, sideUnder) {
  return h(
    'li',
    { class: 'list-row' },
    h('span', { class: 'list-main' }, dayWords(day), h('span', { class: 'list-under' }, under)),
    h('span', { class: 'list-side' }, side, h('span', { class: 'list-under' }, sideUnder)),
  );
}

/**
 * @param {Session} session @param {Import} what @param {string} name @param {Sent} sent @param {any} found
 * @param {HTMLElement} result @param {HTMLElement} choose
 */
function shown(session, what, name, sent, found, result, choose) {
  const inIt = what.found(found);
  const all = counted(inIt.length, what.one);
  const store = () =>
    tried(session, async () => {
      const done = await change('POST', address(session, what), what.ask(sent, name, false, session), PATIENCE_MS);
      const stored = counted(what.found(done).length, what.one);
      await session.schedule.now();
      await session.load();
      session.frame?.say(`${stored} stored`);
      result.replaceChildren(
        h('p', { class: 'lead', id: 'stored' }, `Stored: ${stored}, ${counted(done.rows, what.part)}.`),
        h('a', { class: 'button wide strong', href: '#/', id: 'to-rounds' }, 'To the rounds'),
      );
    });
  const words = (/** @type {string} */ title, /** @type {string[]} */ lines) =>
    lines.length
      ? h(
          'details',
          { open: lines.length < 8 },
          h('summary', null, `${title}: ${lines.length}`),
          h(
            'ul',
            null,
            lines.map((line) => h('li', null, sentence(line))),
          ),
        )
      : null;
  const more = inIt.length - ROUNDS_AT_ONCE;
  return [
    h('h2', null, `What is in ${name}`),
    h('p', { class: 'lead', id: 'preview' }, `${all}, ${counted(found.rows, what.part)}. Nothing is stored yet.`),
    h('p', { id: 'taken' }, `Read as ${found.taken}. Is that right?`),
    choose,
    found.kept
      ? h('p', null, `${counted(found.kept, 'record')} were edited here after an earlier import and stay as they are.`)
      : null,
    h('ul', { class: 'list', id: 'rounds-found' }, inIt.slice(0, ROUNDS_AT_ONCE).map(what.row)),
    more > 0 ? h('p', { class: 'hint' }, `and ${counted(more, `more ${what.one}`)}`) : null,
    words('New here', found.made ?? []),
    words('Please check', found.notes ?? []),
    found.changes
      ? button(`Store ${all}`, store, { class: 'wide strong', id: 'store-rounds' })
      : h('p', { class: 'lead', id: 'nothing-new' }, 'Everything is already here: nothing to store.'),
  ].filter(Boolean);
}
