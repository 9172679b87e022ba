/** Which putters a report is of, and what the comparison of two says. */
import { signed } from '../game/numbers.js';
import { field, h, select } from '../ui/elements.js';
import { table } from '../charts/figure.js';
import { sidesOf } from './sides.js';
import { about, percent } from './words.js';

/**
 * The putters: those that the report names, else the clubs called so.
 * @param {any} found @param {{setup: string}[]} setups @returns {string[]}
 */
export function puttersOf(found, setups) {
  return (
    found.putters ??
    sidesOf(setups)
      .filter((side) => side.value === side.club && /putt/i.test(side.club))
      .map((side) => side.club)
  );
}

/** @param {string[]} putters @param {import('./page.js').Context} context */
export function putterChooser(putters, { filters, change }) {
  const names = [...new Set([...putters, filters.club, filters.against].filter(Boolean))];
  if (names.length < 2) return null;
  const options = (/** @type {string} */ none, /** @type {string|undefined} */ without) => [
    ['', none],
    ...names.filter((name) => name !== without).map((name) => [name, name]),
  ];
  const putter = select(
    /** @type {any} */ (options('all putters', undefined)),
    filters.club ?? '',
    (club) => change({ club, against: club && club !== filters.against ? filters.against : '' }),
    { id: 'putter' },
  );
  const other = filters.club
    ? field(
        'Against',
        select(
          /** @type {any} */ (options('no other putter', filters.club)),
          filters.against ?? '',
          (against) => change({ against }),
          { id: 'other-putter' },
        ),
      )
    : null;
  return h('div', { class: 'row chooser' }, field('Putter', putter), other);
}

/** @param {any} found */
export function puttersCompared({
  comparison: { a, b, difference, low, high, chance_a_better: chance, feet, words, putts_needed: needed },
  level,
}) {
  const points = (/** @type {number} */ share) => signed(100 * share, 1);
  const known = difference !== null;
  const fact = (/** @type {string} */ title, /** @type {string} */ value, /** @type {string} */ under) =>
    h('div', null, h('dt', null, title), h('dd', null, value, h('span', { class: 'list-under' }, under)));
  return [
    h('p', null, words),
    known
      ? h(
          'dl',
          { class: 'facts' },
          fact(
            `${a.name} minus ${b.name}`,
            `${points(difference)} of 100`,
            `${points(low)} to ${points(high)} with ${percent(level)} confidence`,
          ),
          fact(`Chance that ${a.name} holes more`, percent(chance), `that ${b.name} is: ${percent(1 - chance)}`),
          fact(
            'Putts needed with each',
            low > 0 || high < 0 ? 'enough' : about(needed),
            `there are ${a.putts} and ${b.putts}`,
          ),
        )
      : null,
    feet.length
      ? table(
          'Share holed, allowing for length',
          ['length', a.name, b.name],
          feet.map((/** @type {any} */ row) => [`${row.feet} ft`, percent(row.a), percent(row.b)]),
        )
      : null,
    h('p', { class: 'hint' }, `Below the curves only ${a.name} is shown.`),
  ];
}
