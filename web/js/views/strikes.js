/** What was noted of a club's shots: how often each strike, planned height and planned shape comes, and what it costs. */
import { plain } from '../game/numbers.js';
import { h } from '../ui/elements.js';
import { counted, gained, tone } from '../ui/words.js';
import { countCell, table, valueCell } from '../charts/figure.js';
import { isClear, TOO_FEW } from '../charts/whisker-chart.js';
import { NOTHING, toSide } from './lengths.js';
import { interval, percent, signed } from './words.js';

const NOT_CENTRE = 'not centre';
const LONGER = /** @type {[string, string]} */ (['shorter', 'longer']);
const FIELD_WORDS = /** @type {Record<string, string>} */ ({
  strike: 'Strike',
  planned_height: 'Planned height',
  planned_shape: 'Planned shape',
});

/** @param {any} found the answer on one club @param {import('./lengths.js').Lengths} lengths */
export function strikesPart(found, lengths) {
  const [club] = found.clubs;
  return h(
    'section',
    { class: 'strikes' },
    club
      ? [
          club.fields.map((/** @type {any} */ field) => fieldPart(field, lengths, found.level)),
          h(
            'p',
            { class: 'hint' },
            `Only shots with the detail recorded count. Length: full swings, a strike against centred ones, a height or a shape against the others. Strokes: gained a shot, against this club’s other shots with it recorded. Both from the same lie and distance. ${found.caution}`,
          ),
        ]
      : h(
          'p',
          null,
          'Nothing recorded for these shots. Record Strike, Planned height and Planned shape in a shot’s details: this page then shows what each costs.',
        ),
  );
}

/** @param {any} field @param {import('./lengths.js').Lengths} lengths @param {number} level */
function fieldPart(field, lengths, level) {
  const name = FIELD_WORDS[field.field] ?? field.field;
  const { told, values } = field;
  const noted = `recorded for ${told} of ${counted(told + field.not_told, 'shot')}`;
  if (values.length === 1)
    return h('p', null, `${name}: ${noted}, always ${values[0].value}: nothing to compare it with.`);
  const rows = values.map((/** @type {any} */ one) => [
    valueCell(one.value === NOT_CENTRE ? 'all but centre' : one.value, countCell(one.shots)),
    share(one.share),
    one.yards ? yards(one.yards, lengths) : NOTHING,
    strokes(one.strokes),
  ]);
  const pooled = values.find((/** @type {any} */ one) => one.value === NOT_CENTRE);
  return [
    pooled ? h('p', { class: 'lead' }, sentence(pooled, lengths)) : null,
    table(
      `${name}, ${noted}: share, and what it costs in ${lengths.unit} and strokes, with the ${percent(level)} interval`,
      [`${name.toLowerCase()}, shots`, 'share', lengths.unit, 'strokes'],
      rows,
    ),
  ];
}

/** What mishits cost, as far as it is known. @param {any} pooled @param {import('./lengths.js').Lengths} lengths */
function sentence({ share: often, yards: length, strokes: cost }, lengths) {
  const head = `Missed the centre ${percent(often.value)} of the time`;
  const found = [
    isClear(length)
      ? `went ${toSide(lengths.of(length.difference), LONGER, 0).replace(' ', ` ${lengths.unit} `)} than centred ones`
      : null,
    isClear(cost)
      ? `${cost.difference < 0 ? 'cost' : 'won'} ${plain(Math.abs(cost.difference), 2)} strokes each`
      : null,
  ].filter(Boolean);
  return found.length
    ? `${head}: on average such shots ${found.join(' and ')}.`
    : `${head}: whether it costs length or strokes is not clear yet.`;
}

/** @param {any} figure */
function share({ value, low, high }) {
  return valueCell(percent(value), low === null ? TOO_FEW : `${percent(low).replace(' %', '')} to ${percent(high)}`);
}

/** Yards or metres with their sign: below zero it goes shorter. @param {any} cost @param {import('./lengths.js').Lengths} lengths */
function yards(cost, lengths) {
  const one = (/** @type {number} */ value, digits = 0) => signed(lengths.of(value), digits);
  return cell(cost, () => [one(cost.difference, 1), `${one(cost.low)} to ${one(cost.high)}`]);
}

/** @param {any} cost */
function strokes(cost) {
  return cell(cost, () => [gained(cost.difference), interval(cost.low, cost.high)]);
}

/** A difference over its interval, coloured once it is clear. @param {any} cost @param {() => [string, string]} words */
function cell(cost, words) {
  if (cost.lacking) return valueCell(NOTHING, cost.lacking);
  const [value, under] = words();
  return valueCell(value, under, isClear(cost) ? tone(cost.difference) : '');
}
