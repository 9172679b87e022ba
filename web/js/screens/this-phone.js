/** Settings of this phone alone: text, hand, gloves, the screen kept on, a vibration. */
import { choices, h } from '../ui/elements.js';
import { TEXT_SIZES, canStayAwake, canVibrate, setThisPhone, thisPhone } from '../ui/this-phone.js';

/** @typedef {import('../session.js').Session} Session */

/** @param {Session} session @returns {import('../routes.js').Drawn} */
export function thisPhoneScreen(session) {
  const now = thisPhone();
  const set = async (/** @type {Partial<import('../ui/this-phone.js').ThisPhone>} */ change) => {
    if (setThisPhone(change)) session.frame?.say('Setting saved on this phone');
    else session.warn('Not saved: this browser lets the app keep no settings.');
    await session.frame?.refresh();
  };
  return {
    title: 'This phone',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'This phone'),
      h('p', { class: 'hint' }, 'These settings stay on this phone, whoever plays with it. They are never sent.'),
      h('h2', null, 'Text size'),
      choices(
        'Text size',
        TEXT_SIZES.map((size) => [String(size), `${size} %`]),
        String(now.text),
        (size) => set({ text: Number(size) }),
        { id: 'text' },
      ),
      h('p', { class: 'hint' }, 'Comes on top of the text size of your browser.'),
      h('h2', null, 'Thumb'),
      choices(
        'Thumb',
        [
          ['right', 'right thumb'],
          ['left', 'left thumb'],
        ],
        now.hand,
        (hand) => set({ hand: hand === 'left' ? 'left' : 'right' }),
        { id: 'hand' },
      ),
      h('p', { class: 'hint' }, 'For the left thumb, Hit and the other main buttons move to the left.'),
      flip('Gloves', 'gloves', ['usual keys', 'larger keys'], now.gloves, set),
      flip('Screen while you play', 'awake', ['goes dark as usual', 'stays on'], now.awake, set),
      h(
        'p',
        { class: 'hint' },
        canStayAwake()
          ? 'Only while a hole is on the screen. It takes more battery.'
          : 'This browser cannot keep the screen on. Your phone’s own settings may.',
      ),
      flip('When a shot is saved', 'vibrate', ['no vibration', 'a short vibration'], now.vibrate, set),
      canVibrate() ? null : h('p', { class: 'hint' }, 'This browser has no vibration.'),
      h('h2', null, 'Dictation'),
      h('p', null, 'To dictate a note, tap the microphone of your keyboard in any note field.'),
      session.player ? h('p', null, h('a', { href: '#/player' }, 'Player')) : null,
    ),
  };
}

/**
 * A setting that is off or on. @param {string} title @param {'gloves'|'awake'|'vibrate'} name @param {[string, string]} words
 * @param {boolean} on @param {(change: any) => void} set
 */
function flip(title, name, [off, yes], on, set) {
  return [
    h('h2', null, title),
    choices(
      title,
      [
        ['off', off],
        ['on', yes],
      ],
      on ? 'on' : 'off',
      (value) => set({ [name]: value === 'on' }),
      { id: name },
    ),
  ];
}
