/**
 * Settings of this phone alone: they are no record, are never sent and outlast whoever plays with it. `look.js` applies those
 * that change what is painted.
 *
 * @typedef {object} ThisPhone
 * @property {number} text percent of the browser's text size, one of TEXT_SIZES @property {'right'|'left'} hand whose thumb taps
 * @property {boolean} gloves larger keys @property {boolean} awake the screen stays on while a hole is played
 * @property {boolean} vibrate a short one when something is saved @property {boolean} keys single keys lead through the app
 */

const KEPT = 'pencilbag this phone';
export const TEXT_SIZES = [100, 125, 150, 175, 200];
/** @type {ThisPhone} */
const USUAL = { text: 100, hand: 'right', gloves: false, awake: false, vibrate: false, keys: true };
const VIBRATION_MS = 15;

/** What is kept, each setting only where it is one. @returns {ThisPhone} */
export function thisPhone() {
  /** @type {any} */
  let kept = null;
  try {
    kept = JSON.parse(localStorage.getItem(KEPT) ?? 'null');
  } catch {
    // storage is refused, or holds something else
  }
  return {
    text: TEXT_SIZES.includes(kept?.text) ? kept.text : USUAL.text,
    hand: kept?.hand === 'left' ? 'left' : USUAL.hand,
    gloves: kept?.gloves === true,
    awake: kept?.awake === true,
    vibrate: kept?.vibrate === true,
    keys: kept?.keys !== false,
  };
}

/** @param {Partial<ThisPhone>} change @returns {boolean} whether it is kept: a browser may refuse to */
export function setThisPhone(change) {
  try {
    localStorage.setItem(KEPT, JSON.stringify({ ...thisPhone(), ...change }));
  } catch {
    return false;
  }
  dispatchEvent(new StorageEvent('storage', { key: KEPT })); // of its own accord it goes to other tabs alone
  return true;
}

/** Whether this browser can keep the screen on. */
export const canStayAwake = () => 'wakeLock' in navigator;
/** Whether it has a vibration to ask for; a device without a motor may say so too. */
export const canVibrate = () => 'vibrate' in navigator;

/** Something was saved. */
export function feelSaved() {
  if (canVibrate() && thisPhone().vibrate) navigator.vibrate(VIBRATION_MS);
}
