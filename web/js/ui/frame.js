/** The frame around every screen: top line, screen, bottom bar, how saving stands, and what is said to screen readers. */
import { plainAddress } from '../addresses.js';
import { screenShown } from './awake.js';
import { button, h } from './elements.js';
import { isReader } from '../screens/server-answers.js';
import { part } from './parts.js';
import { drawAnew, drawAround } from './typing.js';

/** @typedef {{hash: string, words: string, id: string}} Tab */

/** @param {string} hash @param {string} words @param {string} [id] @returns {Tab} */
const tab = (hash, words, id = `tab-${words}`) => ({ hash, words, id });

const EVIDENCE = 'evidence';
const CADDIE_TABS = [tab('', 'Round'), tab('saving', 'Sending'), tab('players', 'Players')];
const READER_TABS = [tab(EVIDENCE, 'Strokes gained', 'tab-evidence'), tab('account', 'Account')];
const GUEST_TABS = [tab('players', 'Start'), tab(EVIDENCE, 'Strokes gained', 'tab-evidence')];

/** @param {string|null} player id @returns {Tab[]} */
function playerTabs(player) {
  return [
    tab('', 'Rounds'),
    tab(`${EVIDENCE}/${player}`, 'Strokes gained', 'tab-evidence'),
    tab('bag', 'Bag'),
    tab('courses', 'Courses'),
    tab('player', 'Player'),
  ];
}

/** Screens that stand behind a tab without its name in their address. @type {Record<string, string>} */
const BEHIND = {
  new: '',
  round: '',
  practice: '',
  import: '',
  'this-phone': 'player',
  sharing: 'player',
  'own-data': 'player',
  notes: 'player',
};

/** From here on the tabs stand in the top line. */
const WIDE = '(min-width: 75rem)';

/** Where a hole is played. */
const HOLE = /^round\/[^/]+\/\d+$/;

/** A finger that never lifts does not hold the screen up for longer than this. */
const LONGEST_TOUCH_MS = 1500;

/** @param {string} id @returns {HTMLElement} */
function place(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}

export class Frame {
  /**
   * @param {import('../session.js').Session} session
   * @param {(session: import('../session.js').Session, hash: string) => Promise<import('../routes.js').Drawn>} route
   */
  constructor(session, route) {
    this.session = session;
    this.route = route;
    this.drawing = 0;
    this.shownHash = '';
    this.still = false;
    /** Settles when no finger is down: drawing under a finger would swallow its tap. */
    this.free = Promise.resolve();
  }

  async start() {
    addEventListener('hashchange', () => this.refresh());
    addEventListener('pointerdown', () => this.waitForFinger());
    place('help').addEventListener('click', () => this.help());
    matchMedia(WIDE).addEventListener('change', () => this.placeBar());
    await this.refresh();
  }

  /** From a finger's touch until just after its click. */
  waitForFinger() {
    this.free = new Promise((resolve) => {
      const lifted = () => setTimeout(resolve, 0);
      for (const name of ['pointerup', 'pointercancel']) addEventListener(name, lifted, { once: true });
      setTimeout(resolve, LONGEST_TOUCH_MS);
    });
  }

  /** @returns {string} */
  get hash() {
    return plainAddress(location.hash);
  }

  /** @param {string} hash without "#/" */
  go(hash) {
    if (this.hash === hash) this.refresh();
    else location.hash = `#/${hash}`;
  }

  /** Help on the screen that is shown. */
  async help() {
    try {
      (await part(() => import('./help.js'))).showHelp(this.hash);
    } catch (error) {
      this.alert(error instanceof Error ? error.message : String(error));
    }
  }

  /** Draws again because something came from elsewhere; a screen that is being filled in stays as it is. */
  async refreshQuietly() {
    if (this.still && this.hash === this.shownHash) this.drawStatus();
    else await this.refresh();
  }

  /** Draws the screen of the address again; keeps the focus where it was. */
  async refresh() {
    this.drawing += 1;
    const turn = this.drawing;
    const hash = this.hash;
    let drawn;
    try {
      drawn = await this.route(this.session, hash);
    } catch (error) {
      drawn = this.failed(error);
    }
    await this.free;
    if (turn !== this.drawing) return;
    const moved = hash !== this.shownHash;
    const focused = document.activeElement?.id;
    this.shownHash = hash;
    this.still = drawn.still ?? false;
    document.title = `${drawn.title} · Pencilbag`;
    const draw = () => place('main').replaceChildren(drawn.content);
    if (moved) drawAnew(draw);
    else drawAround(draw);
    place('bar').replaceChildren(...[drawn.bar ?? [drawn.action ?? [], this.tabs()]].flat(2));
    document.body.dataset.screen = hash.split('/')[0] || 'rounds';
    document.body.classList.toggle('playing', Boolean(drawn.bar));
    this.placeBar();
    screenShown(HOLE.test(hash));
    this.drawStatus();
    if (moved) {
      this.entryDone();
      for (const dialog of document.querySelectorAll('dialog')) dialog.close();
      place('main').scrollTop = 0;
      if (focused) place('main').focus();
    } else if (focused && focused !== 'main') document.getElementById(focused)?.focus({ preventScroll: true });
    drawn.after?.();
  }

  /** @param {unknown} error @returns {import('../routes.js').Drawn} */
  failed(error) {
    const words = error instanceof Error ? error.message : String(error);
    return {
      title: 'Something failed',
      content: h(
        'div',
        { class: 'page' },
        h('h1', null, 'This screen cannot be shown'),
        h('p', null, words),
        button('Try again', () => location.reload()),
      ),
    };
  }

  tabs() {
    const { caddying, player, playerId, me } = this.session;
    const first = this.hash.split(/[/?]/)[0];
    const lit = !player && first === 'notes' ? EVIDENCE : (BEHIND[first] ?? first);
    const own = player ? playerTabs(playerId) : isReader(me) ? READER_TABS : first === EVIDENCE ? GUEST_TABS : [];
    const tabs = caddying ? CADDIE_TABS : own;
    if (!tabs.length) return h('span');
    return h(
      'nav',
      { class: 'tabs', 'aria-label': 'Main' },
      tabs.map(({ hash, words, id }) =>
        h('a', { href: `#/${hash}`, id, 'aria-current': lit === hash.split('/')[0] ? 'page' : null }, words),
      ),
    );
  }

  /** The tabs stand above the screen where it is wide; the keys of the thumb stay below it. */
  placeBar() {
    const top = matchMedia(WIDE).matches && !document.body.classList.contains('playing');
    const main = place('main');
    const bar = place('bar');
    if (top === (bar.nextElementSibling === main)) return;
    if (top) main.before(bar);
    else main.after(bar);
  }

  /** How saving and sending stand, in words. @returns {string} */
  statusWords() {
    const { saving, waiting, schedule, problems, later } = this.session;
    if (saving.state === 'not saved') return 'not saved';
    if (saving.state === 'saving') return 'saving…';
    if (!this.session.playerId) return '';
    const aside = `${later ? `, ${later} for a newer server` : ''}${problems ? `, ${problems} need attention` : ''}`;
    if (this.session.caddying?.ended) return waiting ? `saved here, ${waiting} not accepted` : 'entering has ended';
    if (waiting) return `saved here, ${waiting} to send${aside}`;
    if (schedule.state.state === 'failed' && schedule.state.kind === 'sign_in')
      return `saved here, sign in to send${aside}`;
    if (schedule.state.state === 'failed' && schedule.state.kind === 'full')
      return `saved here, no room on the server${aside}`;
    if (schedule.state.state === 'failed' && schedule.state.kind === 'erased') return 'erased on the server';
    return (schedule.state.state === 'done' ? 'saved and sent' : 'saved here') + aside;
  }

  drawStatus() {
    const words = this.statusWords();
    const link = place('saving');
    if (link.textContent !== words) link.textContent = words;
    link.dataset.state = this.session.saving.state ?? '';
    link.hidden = !words;
    place('update').hidden = !this.session.update;
  }

  /** Says something to a screen reader, and shows it for a moment. @param {string} words */
  say(words) {
    place('said').textContent = words;
    this.entryDone();
  }

  entryDone() {
    if (!this.stays) place('alert').replaceChildren();
  }

  /** Until dismissed if it `stays`, else until something is saved or the screen changes. @param {string} words @param {boolean} stays */
  alert(words, stays = false) {
    this.stays = stays;
    const box = place('alert');
    box.replaceChildren(
      h('p', null, words),
      button('OK', () => box.replaceChildren(), { class: 'quiet', id: 'alert-ok' }),
    );
  }
}
