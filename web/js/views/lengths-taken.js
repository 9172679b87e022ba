/** How lengths were taken, and what errors of length would move: folded, for it qualifies figures that stand above. */
import { h } from '../ui/elements.js';
import { counted } from '../ui/words.js';

/** @type {Record<string, string>} */
const WORDS = { paced: 'paced', laser: 'laser', guessed: 'guessed', position: 'phone’s position', map: 'map' };

/** @param {{taken: {lengths_taken: string|null, rounds: number}[], words: string[]}|null} lengths */
export function lengthsTaken(lengths) {
  if (!lengths?.words.length) return null;
  const taken = lengths.taken.map(
    ({ lengths_taken: word, rounds }) => `${word ? WORDS[word] : 'not recorded'}, ${counted(rounds, 'round')}`,
  );
  return h(
    'details',
    { class: 'lengths-taken' },
    h('summary', null, 'If lengths are off'),
    h('p', { class: 'hint' }, `Lengths: ${taken.join('; ')}.`),
    h(
      'ul',
      { class: 'list plain' },
      lengths.words.map((words) => h('li', null, words)),
    ),
  );
}
