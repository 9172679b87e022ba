/**
 * What is being typed while a screen is drawn again: the fresh field goes on where the old one was, and what was typed counts as
 * soon as the field is left.
 */

/** @typedef {HTMLInputElement|HTMLTextAreaElement} TextField */

/** Fields with something typed that no change has sent yet. @type {WeakSet<Element>} */
const touched = new WeakSet();

/** The field that was drawn over and has not been drawn again yet. @type {TextField|null} */
let waiting = null;
let drawing = false;

addEventListener('input', ({ target }) => touched.add(/** @type {Element} */ (target)), { capture: true });
addEventListener('change', settle, { capture: true });

/** A field that is drawn over is not left: what the browser tells of it then is half a number. @param {Event} event */
function settle(event) {
  if (drawing) event.stopImmediatePropagation();
  else touched.delete(/** @type {Element} */ (event.target));
}

/** @returns {TextField|null} */
function typedIn() {
  const field = document.activeElement;
  const text = field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement;
  return text && field.id && touched.has(field) ? field : null;
}

/**
 * Draws, and carries over what is being typed in a field with an id; a screen that waits for an answer may come between.
 * @param {() => void} draw replaces elements of the page
 */
export function drawAround(draw) {
  waiting = typedIn() ?? waiting;
  drawing = true;
  draw();
  drawing = false;
  if (!waiting || waiting.isConnected) return;
  const fresh = /** @type {TextField|null} */ (document.getElementById(waiting.id));
  if (!fresh) return;
  goOn(fresh, waiting);
  waiting = null;
}

/** Draws another screen: what was being typed in the last one is over. @param {() => void} draw */
export function drawAnew(draw) {
  waiting = null;
  draw();
}

/** @param {TextField} fresh @param {TextField} old */
function goOn(fresh, old) {
  if (fresh.type !== old.type) return;
  fresh.value = old.value;
  touched.add(fresh);
  // The browser tells of what was typed, not of what was put back.
  const tell = () => {
    if (touched.has(fresh)) fresh.dispatchEvent(new Event('change', { bubbles: true }));
  };
  const elsewhere = ![document.body, document.getElementById('main')].includes(
    /** @type {any} */ (document.activeElement),
  );
  if (elsewhere) {
    tell();
    return;
  }
  fresh.addEventListener('blur', tell);
  fresh.focus({ preventScroll: true });
  if (old.selectionStart !== null) fresh.setSelectionRange(old.selectionStart, old.selectionEnd); // null: a number has none
}
