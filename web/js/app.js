/** The app: opens the local database, finds the player, draws the screen of the address, keeps the exchange going. */
import { Session } from './session.js';
import { startBridge } from './bridge.js';
import { loadAhead, route } from './routes.js';
import { Frame } from './screens/frame.js';
import { h } from './screens/elements.js';

/** The first screen comes first. */
const AHEAD_MS = 1500;

/** @param {unknown} error */
function cannotStart(error) {
  const words = error instanceof Error ? error.message : String(error);
  document.getElementById('main')?.replaceChildren(
    h('div', { class: 'page' }, h('h1', null, 'Pencilbag cannot start'), h('p', { role: 'alert' }, words), h('p', null, h('a', { href: '/' }, 'Try again'))),
  );
}

async function start() {
  const session = new Session();
  const frame = new Frame(session, route);
  session.frame = frame;
  await session.start();
  await frame.start();
  performance.mark('usable');
  session.schedule.start();
  startBridge(session);
  if (session.erasures.length) import('./screens/erasing.js').then(({ keepAsking }) => keepAsking(session)).catch(() => undefined);
  setTimeout(loadAhead, AHEAD_MS);
}

start().catch(cannotStart);
