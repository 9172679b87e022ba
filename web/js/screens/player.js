/** The player's settings. */
import { SCHEMES, DEFAULT_SHORT_GAME_YD } from '../game/categories.js';
import { ask } from '../log/answers.js';
import { choices, field, h, rowTo, select } from '../ui/elements.js';
import { SCHEME_WORDS } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session */

/** @param {Session} session @returns {Promise<import('../routes.js').Drawn>} */
export async function playerScreen(session) {
  const body = /** @type {import('../game/shot.js').Player} */ (session.player); // its route asks for one
  const save = async (/** @type {any} */ change) => {
    await session.write(null, () => ({
      edits: [{ record_id: /** @type {string} */ (session.playerId), kind: 'player', body: { ...body, ...change } }],
      words: 'Settings saved',
    }));
    await session.load();
    await session.frame?.refresh();
  };
  const baselines = await baselineChoices(session, body.baseline ?? 'tour');
  const name = h('input', {
    value: body.name,
    maxlength: '80',
    required: true,
    onchange: () => name.value.trim() && save({ name: name.value.trim() }),
  });
  const scheme = body.category_scheme ?? 'four_part';
  const shortGame = h('input', {
    type: 'number',
    min: '1',
    max: '200',
    inputmode: 'numeric',
    value: String(session.scheme.short_game_yd),
    onchange: () => save({ short_game_yd: Math.min(Math.max(Number(shortGame.value) || 1, 1), 200) }),
  });
  return {
    title: 'Player',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, body.name),
      h(
        'div',
        { class: 'row' },
        h('a', { class: 'button', href: '#/saving' }, 'Saving and sending'),
        h('a', { class: 'button', href: '#/players' }, 'Another player'),
      ),
      h(
        'ul',
        { class: 'list' },
        rowTo(
          'account',
          'to-account',
          'Account',
          session.me?.account ? `signed in as ${session.me.account.name}` : 'who is signed in here',
        ),
        rowTo('sharing', 'to-sharing', 'Sharing', 'who can see your rounds'),
        rowTo(`notes/${session.playerId}`, 'to-notes', 'Notes', 'what your coach wrote'),
        rowTo('import', 'to-import', 'Import rounds', 'from a table, with a preview'),
        rowTo('this-phone', 'to-this-phone', 'This phone', 'text size, thumb, gloves, screen, vibration'),
        rowTo('own-data', 'to-own-data', 'Your data', 'download everything, or erase it'),
      ),
      h('h2', null, 'Settings'),
      field('Name', name),
      h('h2', null, 'Plays'),
      choices(
        'Plays',
        [
          ['right', 'right-handed'],
          ['left', 'left-handed'],
        ],
        body.plays,
        (plays) => save({ plays }),
        { id: 'plays' },
      ),
      h('h2', null, 'Lengths'),
      choices(
        'Units',
        [
          ['yards', 'yards'],
          ['metres', 'metres'],
        ],
        body.units ?? 'yards',
        (units) => save({ units }),
        { id: 'units' },
      ),
      h('p', { class: 'hint' }, 'On the green it is always feet.'),
      ...turnSetting(session),
      ...positionSettings(session, body, save),
      h('h2', null, 'Values'),
      field(
        'Baseline',
        select(baselines, body.baseline ?? 'tour', (baseline) => save({ baseline })),
      ),
      session.baseline
        ? h(
            'p',
            { class: 'hint' },
            `${session.baseline.title}, version ${session.baseline.version}. On this phone, also offline.`,
          )
        : h('p', { class: 'hint' }, 'Not on this phone yet: connect once.'),
      field(
        'Categories',
        select(
          Object.keys(SCHEMES).map((key) => [key, SCHEME_WORDS[key]]),
          scheme,
          (value) => save({ category_scheme: value, short_game_yd: DEFAULT_SHORT_GAME_YD[value] }),
        ),
      ),
      field('Short game begins at, yards from the hole', shortGame, 'Usual: 50 in four parts, 100 in three.'),
    ),
  };
}

/** What follows a hole that is done, on this phone. @param {Session} session */
function turnSetting(session) {
  const stay = async (/** @type {string|null} */ value) => {
    await session.stayOnHole(value === 'stay');
    await session.frame?.refresh();
  };
  return [
    h('h2', null, 'After a hole'),
    choices(
      'After a hole',
      [
        ['next', 'to the next hole'],
        ['stay', 'stay on the hole'],
      ],
      session.staysOnHole ? 'stay' : 'next',
      stay,
      { id: 'turn' },
    ),
    h('p', { class: 'hint' }, 'On this phone. Undo takes the last putt back from the next hole too.'),
  ];
}

/**
 * Distances by position on this phone, and who gets to see positions. @param {Session} session @param {import('../game/shot.js').Player} body
 * @param {(change: any) => Promise<void>} save
 */
function positionSettings(session, body, save) {
  const use = async (/** @type {string|null} */ value) => {
    await session.usePosition(value === 'on');
    await session.frame?.refresh();
  };
  return [
    h('h2', null, 'Position'),
    choices(
      'Distances by position',
      [
        ['on', 'distances by position'],
        ['off', 'off'],
      ],
      session.positionOff ? 'off' : 'on',
      use,
      { id: 'position' },
    ),
    h(
      'p',
      { class: 'hint' },
      'On this phone. Rule 4.3a allows distances; a local rule may ban devices that measure them, and the Committee decides. Turn them off then.',
    ),
    choices(
      'Who sees positions',
      [
        ['own', 'only you see positions'],
        ['shared', 'shared with the shots'],
      ],
      body.shares_positions ? 'shared' : 'own',
      (value) => save({ shares_positions: value === 'shared' }),
      { id: 'positions' },
    ),
    h(
      'p',
      { class: 'hint' },
      'Shared: everyone who can see your rounds, and the season tables, get the positions of your shots and of marked holes.',
    ),
  ];
}

/** @param {Session} session @param {string} current @returns {Promise<[string, string][]>} */
async function baselineChoices(session, current) {
  try {
    const answer = await ask(fetch.bind(globalThis), '/api/baselines', {}, 2500);
    return answer.baselines.map((/** @type {any} */ one) => [one.id, one.title]);
  } catch {
    return [[current, session.baseline?.title ?? current]];
  }
}
