/** Conditions of a round as they were recorded, on its card and its review. */
import { conditionsByHole, conditionsLines } from '../game/hole-conditions.js';
import { LENGTHS_TAKEN_WORDS } from './round-setup.js';
import { h } from '../ui/elements.js';

/**
 * What holds for the full round, in one line; empty when nothing is recorded. @param {any} body of the round @returns {string}
 */
export function roundConditions(body) {
  const has = (/** @type {string} */ name) => typeof body[name] === 'number';
  return [
    has('wind_mph') && `wind ${body.wind_mph} mph`,
    has('temperature_c') && `${body.temperature_c} °C`,
    body.firmness && `${body.firmness} ground`,
    has('green_speed_ft') && `greens ${body.green_speed_ft} ft`,
    body.lengths_taken && `lengths: ${LENGTHS_TAKEN_WORDS[body.lengths_taken] ?? body.lengths_taken}`,
  ]
    .filter(Boolean)
    .join(', ');
}

/** Nothing where nothing was recorded; holes that agree stand together. @param {any} body of the round */
export function conditionsPart(body) {
  const numbers = body.holes.map((/** @type {any} */ hole) => hole.number);
  const round = roundConditions(body);
  const lines = [round && `Round: ${round}`, ...conditionsLines(conditionsByHole(numbers, body.hole_conditions))];
  const known = lines.filter(Boolean);
  return known.length
    ? h(
        'section',
        { id: 'recorded-conditions' },
        h('h2', null, 'Conditions'),
        h(
          'ul',
          { class: 'hint' },
          known.map((line) => h('li', null, line)),
        ),
      )
    : null;
}
