/** The hint to put the app on the home screen before the first round. */
import { button, h } from './elements.js';

/** @type {any} */
let offered = null;

addEventListener('beforeinstallprompt', (event) => {
  event.preventDefault();
  offered = event;
});

/** @returns {boolean} */
export function isInstalled() {
  return matchMedia('(display-mode: standalone)').matches || Boolean(/** @type {any} */ (navigator).standalone);
}

/** The hint, or null when the app runs from the home screen already. */
export function installHint() {
  if (isInstalled()) return null;
  return h(
    'details',
    { class: 'hint-box', open: true },
    h('summary', null, 'Before the first round: put it on the home screen'),
    h(
      'p',
      null,
      'It then opens with no signal. On some phones the home-screen app has separate storage, so do it first. In the browser menu: "Add to home screen" or "Install".',
    ),
    offered ? button('Install', () => offered.prompt(), { id: 'install' }) : null,
  );
}
