/** What is shown at an address that leads nowhere. */
import { h } from '../ui/elements.js';

/**
 * @param {string} address without "#/" @param {string} hash of the way on @param {string} words for it
 * @returns {import('../routes.js').Drawn}
 */
export function noSuchPage(address, hash, words) {
  return {
    title: 'No such page',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'There is no such page'),
      h(
        'p',
        null,
        'The address ',
        h('span', { class: 'address' }, `#/${address}`),
        ' is not a page of this app. It may have been cut off or mistyped.',
      ),
      h('p', null, h('a', { class: 'button wide strong', href: `#/${hash}`, id: 'way-on' }, words)),
    ),
  };
}
