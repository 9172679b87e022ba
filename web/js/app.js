/** The app: opens the local database, finds the player, draws the screen of the address, keeps the exchange going. */
import { Session } from './session.js';
import { startBridge } from './bridge.js';
import { loadAhead, route } from './routes.js';
import { Frame } from './ui/frame.js';
import { h } from './ui/elements.js';

/** The first screen comes first. */
const AHEAD_MS = 1500;

/** @param {unknown} error */
function cannotStart(error) {
  const words = error instanceof Error ? error.message : String(error);
  document
    .getElementById('main')
    ?.replaceChildren(
      h(
        'div',
        { class: 'page' },
        h('h1', null, 'Pencilbag cannot start'),
        h('p', { role: 'alert' }, words),
        h('p', null, h('a', { href: '/' }, 'Try again')),
      ),
    );
}

/**
 * A page that is set aside, to be shown again as it was when somebody goes back, holds nothing to read; when it comes
 * back it is drawn from what is stored then.
 * @param {Session} session
 */
function sleepEmpty(session) {
  addEventListener('pagehide', ({ persisted }) => {
    if (!persisted) return;
    for (const dialog of document.querySelectorAll('dialog')) dialog.remove();
    for (const id of ['main', 'bar', 'alert', 'said', 'saving']) document.getElementById(id)?.replaceChildren();
    document.title = 'Pencilbag';
  });
  addEventListener('pageshow', ({ persisted }) => persisted && session.comeBack());
}

async function start() {
  const session = new Session();
  const frame = new Frame(session, route);
  session.frame = frame;
  await session.start();
  await frame.start();
  sleepEmpty(session);
  performance.mark('usable');
  session.schedule.start();
  startBridge(session);
  if (session.erasures.length)
    import('./screens/erasing.js').then(({ retryErasures }) => retryErasures(session)).catch(() => undefined);
  setTimeout(() => loadAhead(() => frame.help()), AHEAD_MS);
}

start().catch(cannotStart);
