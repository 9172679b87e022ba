/** Building blocks of the screens: elements, fields, sheets. No markup is ever made from text. */

/**
 * @typedef {Node|string|number|null|undefined|false|any[]} Child lists of children may be nested
 */

/**
 * An element. Properties starting with "on" are listeners, `class`, `data-*`, `aria-*` and the rest are attributes; null and
 * false leave an attribute out, true sets it empty.
 * @param {string} tag @param {Record<string, any>|null} [properties] @param {...Child} children @returns {any}
 */
export function h(tag, properties, ...children) {
  const svg = ['svg', 'path', 'line', 'rect', 'circle', 'text', 'g'].includes(tag);
  const element = svg ? document.createElementNS('http://www.w3.org/2000/svg', tag) : document.createElement(tag);
  for (const [name, value] of Object.entries(properties ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
    else if (name === 'value') /** @type {any} */ (element).value = value;
    else if (name === 'checked') /** @type {any} */ (element).checked = value;
    else element.setAttribute(name, value === true ? '' : String(value));
  }
  append(element, children);
  return element;
}

/** @param {Element} element @param {Child[]} children */
function append(element, children) {
  for (const child of children) {
    if (Array.isArray(child)) append(element, child);
    else if (child !== null && child !== undefined && child !== false)
      element.append(child instanceof Node ? child : String(child));
  }
}

let lastId = 0;

/**
 * Draws in the frame after an element has changed its size: a drawing that changes it again within the same one is an error to
 * browsers. @param {HTMLElement} element @param {() => void} draw
 */
export function whenResized(element, draw) {
  new ResizeObserver(() => requestAnimationFrame(draw)).observe(element);
}

/** @returns {string} an id for one element of this page */
export function freshId() {
  lastId += 1;
  return `f${lastId}`;
}

/**
 * A button. @param {Child} words @param {(event: Event) => void} press @param {Record<string, any>} [properties] @returns {HTMLButtonElement}
 */
export function button(words, press, properties = {}) {
  return h('button', { type: 'button', onclick: press, 'data-stroke': strokeOf(words), ...properties }, words);
}

/** Which of four hands draws the box around these words: the same one every time. @param {Child} words @returns {number} */
function strokeOf(words) {
  const letters = typeof words === 'string' ? [...words] : [];
  return letters.reduce((sum, letter) => (Math.imul(sum, 31) + letter.charCodeAt(0)) | 0, 7) & 3;
}

/**
 * A labelled field. @param {string} label @param {any} control @param {Child} [hint] @returns {HTMLElement}
 */
export function field(label, control, hint) {
  control.id ||= freshId();
  const hintId = hint ? `${control.id}-hint` : null;
  if (hintId) control.setAttribute('aria-describedby', hintId);
  return h(
    'div',
    { class: 'field' },
    h('label', { for: control.id }, label),
    control,
    hint ? h('p', { class: 'hint', id: hintId }, hint) : null,
  );
}

/**
 * One choice out of a few, as buttons that look like a circled word. A press on the chosen one clears it when `clearable`.
 * @param {string} label @param {[string, string, string?][]} options value, words, and the name that is read out where it says more
 * @param {string|null|undefined} chosen
 * @param {(value: string|null) => void} choose @param {{clearable?: boolean, id?: string, class?: string}} [more]
 * @returns {HTMLElement}
 */
export function choices(label, options, chosen, choose, more = {}) {
  const id = more.id ?? freshId();
  const press = (/** @type {string} */ value) => choose(more.clearable && value === chosen ? null : value);
  return h(
    'div',
    { class: `choices ${more.class ?? ''}`, role: 'group', 'aria-label': label },
    options.map(([value, words, name]) =>
      button(words, () => press(value), {
        class: 'choice',
        id: `${id}-${value}`,
        'aria-pressed': value === chosen ? 'true' : 'false',
        'aria-label': name ?? null,
      }),
    ),
  );
}

/**
 * A select. @param {[string, string][]} options @param {string} value @param {(value: string) => void} change @param {Record<string, any>} [properties]
 * @returns {HTMLSelectElement}
 */
export function select(options, value, change, properties = {}) {
  const element = h(
    'select',
    { ...properties, onchange: () => change(element.value) },
    options.map(([key, words]) => h('option', { value: key }, words)),
  );
  element.value = value;
  return element;
}

/**
 * A row of a list that leads to another screen. @param {string} hash @param {string} id @param {string} words @param {string} under
 */
export function rowTo(hash, id, words, under) {
  return h(
    'li',
    null,
    h(
      'a',
      { class: 'list-row', href: `#/${hash}`, id },
      h('span', { class: 'list-main' }, words, h('span', { class: 'list-under' }, under)),
    ),
  );
}

/**
 * A sheet that rises from the bottom. `build` gets the sheet and its close function; it may be drawn again. `mayClose` is asked
 * when the player leaves it by Close, Escape or a tap beside it; what `build` closes is closed.
 * @param {string} title @param {(redraw: () => void, close: () => void) => Child} build @param {() => Promise<boolean>} [mayClose]
 * @returns {HTMLDialogElement}
 */
export function sheet(title, build, mayClose = async () => true) {
  const id = freshId();
  const body = h('div', { class: 'sheet-body' });
  const dialog = h(
    'dialog',
    { class: 'sheet', 'aria-labelledby': id },
    h(
      'div',
      { class: 'sheet-head' },
      h('h2', { id }, title),
      button('Close', () => leave(), { class: 'quiet', id: `${id}-close` }),
    ),
    body,
  );
  const leave = async () => {
    if (await mayClose()) dialog.close();
  };
  const redraw = () => {
    const focused = document.activeElement?.id;
    body.replaceChildren();
    append(body, [build(redraw, () => dialog.close())]);
    if (focused) document.getElementById(focused)?.focus();
  };
  redraw();
  dialog.addEventListener('close', () => dialog.remove());
  dialog.addEventListener('click', (/** @type {MouseEvent} */ event) => {
    if (event.target === dialog) leave();
  });
  dialog.addEventListener('cancel', (/** @type {Event} */ event) => {
    event.preventDefault();
    leave();
  });
  document.body.append(dialog);
  dialog.showModal();
  return dialog;
}

/**
 * Asks before something that is hard to take back. @param {string} title @param {string} words @param {string} yes
 * @param {string} [no] @returns {Promise<boolean>}
 */
export function confirmSheet(title, words, yes, no = 'No') {
  return new Promise((resolve) => {
    let answer = false;
    const dialog = sheet(title, (_redraw, close) => [
      h('p', null, words),
      h(
        'div',
        { class: 'row' },
        button(no, close, { class: 'wide' }),
        button(
          yes,
          () => {
            answer = true;
            close();
          },
          { class: 'wide red' },
        ),
      ),
    ]);
    dialog.addEventListener('close', () => resolve(answer));
  });
}

/** The bar of a form. @param {() => unknown} leave @param {() => unknown} save @param {string} id of the button that saves */
export function backOrSave(leave, save, id) {
  return h(
    'div',
    { class: 'actions two' },
    button('Back', leave, { class: 'act' }),
    button('Save', save, { class: 'act strong', id }),
  );
}
