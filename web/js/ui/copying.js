/** Something to be handed on: words in a field, copied by a button, passed on by the phone where it can, drawn as a QR code. */
import { button, field, h } from './elements.js';

/**
 * @param {import('../session.js').Session} session @param {string} label @param {string} words @param {{id: string, share?: boolean}} more
 */
export function handOn(session, label, words, more) {
  const input = h('input', { readonly: true, value: words, id: more.id, class: 'secret', spellcheck: 'false' });
  const copy = button(
    'Copy',
    async () => {
      try {
        await navigator.clipboard.writeText(words);
        session.frame?.say(`${label}: copied`);
        copy.textContent = 'Copied';
      } catch {
        input.focus();
        input.select();
        session.frame?.say('Selected: copy it by hand');
      }
    },
    { id: `${more.id}-copy` },
  );
  const pass =
    more.share && 'share' in navigator
      ? button('Send', () => navigator.share({ url: words }).catch(() => undefined), { id: `${more.id}-send` })
      : null;
  return h('div', null, field(label, input), h('div', { class: 'row' }, copy, pass));
}

/** A QR code that the server has drawn (SVG), as a picture. @param {string} drawing @param {string} words what it holds */
export function qrCode(drawing, words) {
  return h(
    'p',
    { class: 'qr' },
    h('img', { src: `data:image/svg+xml,${encodeURIComponent(drawing)}`, alt: words, width: '240', height: '240' }),
  );
}
