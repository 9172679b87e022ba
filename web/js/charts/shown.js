/** Work that begins only once its element is on the screen. */

const LOOK_MS = 30;
const LOOKS = 200; // 6 s; a finger on the screen holds the drawing up for 1.5 s at most

/**
 * An element that was built and never shown, because a newer one was or the reader has left, begins nothing.
 * @param {HTMLElement} element @param {() => void} begin @param {number} [left] looks still to take
 */
export function whenShown(element, begin, left = LOOKS) {
  if (element.isConnected) begin();
  else if (left) setTimeout(() => whenShown(element, begin, left - 1), LOOK_MS);
}
