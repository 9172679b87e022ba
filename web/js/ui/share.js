/** The share sheet of the phone, where there is one. Without it nothing is offered: printing goes on to be the way. */
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
    if (at.matches('.no-print, .hidden, button, svg, thead')) return;
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
 * A button that shares a part of the page as text; null where the browser has no share sheet.
 * @param {import('../session.js').Session} session @param {string} title @param {string} part selector of what is shared
 */
export function shareButton(session, title, part) {
  if (typeof navigator.share !== 'function') return null;
  const share = async () => {
    const element = document.querySelector(part);
    if (!element) return;
    try {
      await navigator.share({ title, text: plainText(element) });
    } catch (error) {
      if (/** @type {any} */ (error)?.name !== 'AbortError')
        session.warn('Not shared: this phone refused. Print it instead.');
    }
  };
  return button('Share', share, { id: 'share' });
}
