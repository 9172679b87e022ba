/** Rounds out of a table (CSV): chosen, previewed by the server, stored whole or not at all. */
import { change, sentence, tried } from './server-answers.js';
import { button, h } from '../ui/elements.js';
import { KIND_WORDS, counted, dayWords } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session */

const LONGEST_TABLE = 3_000_000; // characters; the server's bound
const PATIENCE_MS = 120_000; // the longest table, on a server that is busy
const ROUNDS_AT_ONCE = 60;
const REFUSED = 422;

/** @param {Session} session @returns {import('../routes.js').Drawn} */
export function importScreen(session) {
  const result = h('div', { id: 'import-result', role: 'status' });
  const chosen = h('input', { type: 'file', accept: '.csv,text/csv', id: 'table-file' });
  chosen.addEventListener('change', async () => {
    const file = chosen.files?.[0];
    if (!file) return;
    result.replaceChildren(h('p', null, 'Reading…'));
    const said = await preview(session, file, result);
    result.replaceChildren(...said);
    chosen.value = ''; // the same file, mended, can be chosen again
  });
  return {
    title: 'Import rounds',
    still: true,
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Import rounds'),
      h(
        'p',
        null,
        `Rounds of ${session.playerName} from a table: a CSV file with one shot a row. You see first what is in it; then every row is stored, or none.`,
      ),
      h('div', { class: 'field' }, h('label', { for: 'table-file' }, 'A shots table (CSV)'), chosen),
      result,
      columns(),
    ),
  };
}

function columns() {
  const list = (/** @type {string} */ title, /** @type {string} */ words) =>
    h('div', null, h('dt', null, title), h('dd', { class: 'plain' }, words));
  return h(
    'details',
    null,
    h('summary', { id: 'columns' }, 'What the table must have'),
    h(
      'dl',
      null,
      list('Needed', 'played_on (2026-05-31), hole, par, length_yd, shot, lie, distance, club'),
      list('Lies', 'tee, fairway, fringe, rough, sand, recovery, green'),
      list('Distances', 'to the hole: feet on the green, yards elsewhere, unless the column unit says yd, ft or m'),
      list(
        'Good to have',
        'kind, course, tees, ball_label, ball, holed, penalty_strokes with penalty_reason, swing, planned_shape, planned_height, actual_shape, strike, note',
      ),
    ),
    h(
      'p',
      { class: 'hint' },
      'A shots table that was exported here can be read back. Rows that are here already change nothing.',
    ),
  );
}

/** @param {Session} session @param {File} file @param {HTMLElement} result @returns {Promise<any[]>} */
async function preview(session, file, result) {
  if (file.size > LONGEST_TABLE)
    return [
      h(
        'p',
        { class: 'notice' },
        `${file.name} has ${file.size.toLocaleString('en-GB')} bytes; a table may have up to ${LONGEST_TABLE.toLocaleString('en-GB')}. Split it by rounds. Nothing was stored.`,
      ),
    ];
  let table;
  try {
    table = new TextDecoder('utf-8', { fatal: true }).decode(await file.arrayBuffer());
  } catch {
    return [
      h(
        'p',
        { class: 'notice' },
        `${file.name} is not a text in UTF-8: save the table as “CSV UTF-8”. Nothing was stored.`,
      ),
    ];
  }
  await session.schedule.now(); // the server must know the player, and what the rows are laid over
  try {
    return shown(
      session,
      file.name,
      table,
      await change('POST', address(session), { table, dry_run: true }, PATIENCE_MS),
      result,
    );
  } catch (error) {
    return refused(file.name, /** @type {any} */ (error));
  }
}

/** @param {Session} session */
function address(session) {
  return `/api/players/${encodeURIComponent(/** @type {string} */ (session.playerId))}/import`;
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
  const row = (/** @type {any} */ fault) => {
    const [, place, column] = /^(row \d+), (.*)$/.exec(fault.field) ?? [null, fault.field, ''];
    return h(
      'tr',
      null,
      h('th', { scope: 'row' }, place, h('span', { class: 'list-under' }, column)),
      h('td', null, fault.value || '–'),
      h('td', null, fault.range || fault.message),
    );
  };
  return [
    h(
      'p',
      { class: 'notice', id: 'refused' },
      h('strong', null, `${name} cannot be taken, and nothing was stored.`),
      ` ${counted(faults.length, 'thing')} to mend, then choose the file again.`,
    ),
    h(
      'div',
      { class: 'table-box', tabindex: '0', role: 'region', 'aria-label': 'What is wrong with the table' },
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

/** @param {Session} session @param {string} name @param {string} table @param {any} found @param {HTMLElement} result */
function shown(session, name, table, found, result) {
  const store = () =>
    tried(session, async () => {
      const done = await change('POST', address(session), { table, dry_run: false }, PATIENCE_MS);
      await session.schedule.now();
      await session.load();
      session.frame?.say(`${counted(done.rounds.length, 'round')} stored`);
      result.replaceChildren(
        h(
          'p',
          { class: 'lead', id: 'stored' },
          `Stored: ${counted(done.rounds.length, 'round')}, ${counted(done.rows, 'shot')}.`,
        ),
        h('a', { class: 'button wide strong', href: '#/', id: 'to-rounds' }, 'To the rounds'),
      );
    });
  const row = (/** @type {any} */ round) =>
    h(
      'li',
      { class: 'list-row' },
      h(
        'span',
        { class: 'list-main' },
        dayWords(round.played_on),
        h(
          'span',
          { class: 'list-under' },
          `${round.course ?? 'no course'}${round.tees ? `, ${round.tees}` : ''} · ${KIND_WORDS[round.kind]}`,
        ),
      ),
      h(
        'span',
        { class: 'list-side' },
        counted(round.holes, 'hole'),
        h('span', { class: 'list-under' }, counted(round.shots, 'shot')),
      ),
    );
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
  const more = found.rounds.length - ROUNDS_AT_ONCE;
  return [
    h('h2', null, `What is in ${name}`),
    h(
      'p',
      { class: 'lead', id: 'preview' },
      `${counted(found.rounds.length, 'round')}, ${counted(found.rows, 'shot')}. Nothing is stored yet.`,
    ),
    found.kept
      ? h(
          'p',
          null,
          `${counted(found.kept, 'record')} were edited here since an import of the same rows, and stay as they are.`,
        )
      : null,
    h('ul', { class: 'list', id: 'rounds-found' }, found.rounds.slice(0, ROUNDS_AT_ONCE).map(row)),
    more > 0 ? h('p', { class: 'hint' }, `and ${counted(more, 'more round', 'more rounds')}`) : null,
    words('New here', found.made),
    words('To look at', found.notes),
    found.changes
      ? button(`Store ${counted(found.rounds.length, 'round')}`, store, { class: 'wide strong', id: 'store-rounds' })
      : h('p', { class: 'lead', id: 'nothing-new' }, 'All of it is here already: there is nothing to store.'),
  ].filter(Boolean);
}
