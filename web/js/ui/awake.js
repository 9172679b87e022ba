/**
 * Keeps the screen on while a hole is played, where the player wants it (Screen Wake Lock). The browser itself lets go when the
 * page is hidden; it is asked again when the page comes back. No timer is needed for any of it.
 */
import { canStayAwake, thisPhone } from './this-phone.js';

let playing = false;
/** Asked for and not answered yet, or held. @type {Promise<WakeLockSentinel|null>|null} */
let held = null;

/** A screen is drawn. @param {boolean} isHole whether a hole is played on it */
export function screenShown(isHole) {
  playing = isHole;
  settle();
}

document.addEventListener('visibilitychange', () => settle());
addEventListener('storage', () => settle()); // the setting changed

function settle() {
  if (!canStayAwake()) return;
  const wanted = playing && document.visibilityState === 'visible' && thisPhone().awake;
  if (wanted) held ??= ask();
  else letGo();
}

/** @returns {Promise<WakeLockSentinel|null>} null where it is refused, on a battery that is nearly empty for one */
async function ask() {
  try {
    const lock = await navigator.wakeLock.request('screen');
    lock.addEventListener('release', () => {
      held = null;
    });
    return lock;
  } catch {
    held = null; // asked again with the next screen
    return null;
  }
}

function letGo() {
  const lock = held;
  held = null;
  lock?.then((one) => one?.release()).catch(() => undefined);
}
