/** A page as text for others: by the share sheet of the phone, else by the clipboard. Files are not shared; printing makes them. */
import { button } from './elements.js';

/**
 * What a part of the page says, as plain text: a line a paragraph, heading, item or row of a table.
 * @param {Element} element @returns {string}
 */
export function plainText(element) {
  /** @type {string[]} */
  const lines = [];
  const words = (/** @type {Node} */ node) => (node.textContent ?? '').replace(/\s+/g, ' ').trim();
  const walk = (/** @type {Element} */ at) => {
    if (at.matches('.no-print, .hidden, button, summary, svg, thead')) return;
    if (at.matches('tr')) lines.push([...at.children].map(words).filter(Boolean).join('  '));
    else if (at.matches('dt')) lines.push(`${words(at)}: ${at.nextElementSibling ? words(at.nextElementSibling) : ''}`);
    else if (at.matches('dd')) return;
    else if (at.matches('h1, h2, h3')) lines.push('', words(at));
    else if (at.matches('p, li, caption') || !at.children.length) lines.push(words(at));
    else for (const child of at.children) walk(child);
  };
  walk(element);
  return lines
    .join('\n')
    .replace(/\n{3,}/g, '\n\n')
    .trim();
}

/**
 * A button that shares a part of the page as text, by the share sheet or, where there is none or it refuses, by the clipboard; null
 * where the browser has neither.
 * @param {import('../session.js').Session} session @param {string} title @param {string} part selector of what is shared
 */
export function shareButton(session, title, part) {
  const sheet = typeof navigator.share === 'function';
  const clipboard = Boolean(navigator.clipboard); // there is none on an address that is not secure
  if (!sheet && !clipboard) return null;
  const copy = (/** @type {string} */ text) =>
    navigator.clipboard.writeText(text).then(
      () => session.frame?.say('Copied as text'),
      () => session.warn('Not shared: this phone refused. Print it instead.'),
    );
  const share = async () => {
    const element = document.querySelector(part);
    if (!element) return;
    const text = plainText(element);
    if (!sheet) return copy(text);
    try {
      await navigator.share({ title, text });
    } catch (error) {
      if (/** @type {any} */ (error)?.name === 'AbortError') return; // the player closed the sheet
      if (clipboard) await copy(text);
      else session.warn('Not shared: this phone refused. Print it instead.');
    }
  };
  return button(sheet ? 'Share' : 'Copy as text', share, { id: 'share' });
}
