/** Help in its place: a few lines on the screen that is shown, and the keys; kept on the phone like every part of the app. */
import { button, h, sheet } from './elements.js';
import { KEYS, MORE_KEYS } from './shortcuts.js';
import { setThisPhone, thisPhone } from './this-phone.js';

const ROUNDS = [
  'The black button starts a round or continues the open one. Everything is saved on this phone at once and sent when there is a network.',
  'The slip shows your last finished round. Strokes gained of one round are mostly chance: look for what comes back.',
];
const PLAY = [
  'Set lie, distance and club, then tap Hit or Holed. They come filled in: correct only what is wrong.',
  'Holed turns to the next hole by itself; Player has a setting to stay. On the green, common lengths are one tap.',
  'Undo takes the last step back, also from the next hole. A tap on a shot shows all of it: shape, strike, finish, note.',
  'More has penalties, a provisional ball and picking up.',
];
const EVIDENCE = [
  'Strokes gained: how many strokes you save against the baseline from the same lie and distance. 0 is as good as the baseline, −1 costs a stroke.',
  'Four questions lead to everything: where strokes go, which club, where it goes, where to aim. Each page gives the answer first; figures, filters and methods are folded below it.',
  'The interval is the range the true figure lies in, nine times in ten. Where it holds zero, it could be either: wait for more rounds.',
];
/** By the first part of the address. @type {Record<string, string[]>} */
const WORDS = {
  '': ROUNDS,
  round: PLAY,
  new: [
    'Choose course, tees and kind. Practice rounds count too. In a competition round nothing is suggested and strokes gained stay locked until you finish it (rule 4.3a).',
  ],
  practice: [
    'One tap on the pad, on Holed or on what was left saves a ball. More has duels of two clubs and random targets.',
  ],
  evidence: EVIDENCE,
  bag: [
    'Tap a club for its type, loft and setups. Two clubs of one type marked On trial are compared in practice rounds.',
  ],
  courses: ['Pars and lengths from any scorecard take a minute. Plans need a map of the hole, also a minute each.'],
  player: ['Units, baseline and categories stand here, with account, sharing, import and this phone’s settings.'],
  import: ['A table with one shot a row. You see what would be stored before anything is.'],
};

/** @param {string} hash the address shown */
export function showHelp(hash) {
  const words = WORDS[hash.split(/[/?]/)[0]] ?? ROUNDS;
  sheet('Help', (redraw) => [
    words.map((one) => h('p', null, one)),
    h('h3', null, 'Keyboard'),
    h(
      'dl',
      { class: 'keys' },
      [...KEYS.map(([key, what]) => [key, what]), ...MORE_KEYS].map(([key, what]) =>
        h('div', null, h('dt', null, h('kbd', null, key)), h('dd', null, what)),
      ),
    ),
    button(
      thisPhone().keys ? 'Turn these keys off' : 'Turn these keys on',
      () => {
        setThisPhone({ keys: !thisPhone().keys });
        redraw();
      },
      { id: 'keys', class: 'wide' },
    ),
  ]);
}
