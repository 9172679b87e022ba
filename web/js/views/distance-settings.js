/** Settings of the distance ladder: the limits of its flags, and the correction for the air, off unless asked for. */
import { plain } from '../game/numbers.js';
import { METRES_PER_YARD } from '../game/units.js';
import { button, field, h } from '../ui/elements.js';

import { percent } from './words.js';

/** @typedef {import('./page.js').Context} Context */

const DEFAULTS = { gap_yd: 18, overlap: 0.35 }; // what the server takes when nothing is asked

/**
 * A number typed in, kept within its range; empty is "not set".
 * @param {string} id @param {string} words @param {string|number} value @param {[number, number]} range @param {(value: number|null) => void} set @param {string} [step]
 */
export function numberField(id, words, value, [low, high], set, step = '1') {
  const input = h('input', {
    type: 'number',
    id,
    value,
    min: String(low),
    max: String(high),
    step,
    inputmode: low < 0 ? 'text' : 'decimal',
  });
  input.addEventListener('change', () =>
    set(
      input.value.trim() === '' || !Number.isFinite(Number(input.value))
        ? null
        : Math.min(Math.max(Number(input.value), low), high),
    ),
  );
  return field(words, input);
}

/** A number for the address: no more digits than it needs. @param {number} value */
export function written(value) {
  return String(Number(value.toFixed(2)));
}

/** @param {{gap_yd: number, overlap: number}|undefined} settings as the answer states them @param {import('./lengths.js').Lengths} lengths @param {Context} context */
export function flagSettings(settings, lengths, { session, filters, change }) {
  const { gap_yd: gap, overlap } = settings ?? DEFAULTS;
  const metres = lengths.unit === 'm';
  const setGap = (/** @type {number|null} */ value) =>
    change({ gap: value === null ? '' : written(metres ? value / METRES_PER_YARD : value) });
  const details = h(
    'details',
    { open: session.state.flagsOpen },
    h(
      'summary',
      { id: 'flag-settings' },
      `Flags: a gap over ${lengths.words(gap)}, an overlap over ${percent(overlap)}`,
    ),
    h(
      'div',
      { class: 'row' },
      numberField(
        'gap',
        `A gap is more than, ${lengths.unit}`,
        plain(lengths.of(gap), 0),
        metres ? [1, 91] : [1, 100],
        setGap,
      ),
      numberField('overlap', 'An overlap is more than, %', String(Math.round(overlap * 100)), [1, 50], (value) =>
        change({ overlap: value === null ? '' : written(value / 100) }),
      ),
    ),
    h(
      'p',
      { class: 'hint' },
      'Overlap: how often a shot with the shorter club goes further. The usual limits are a choice of this tool.',
    ),
    filters.gap || filters.overlap
      ? h(
          'div',
          { class: 'row' },
          button('The usual limits', () => change({ gap: '', overlap: '' }), { id: 'default-flags' }),
        )
      : null,
  );
  details.addEventListener('toggle', () => {
    session.state.flagsOpen = details.open;
  });
  return details;
}

/** @param {boolean} on @param {Context} context */
export function airSettings(on, { session, filters, change }) {
  const set = (/** @type {string} */ name) => (/** @type {number|null} */ value) =>
    change({ [name]: value === null ? '' : written(value) });
  const details = h(
    'details',
    { open: session.state.airOpen },
    h('summary', { id: 'air-settings' }, on ? 'Corrected for the air' : 'Not corrected for the air'),
    h(
      'div',
      { class: 'row' },
      numberField('temperature', 'Temperature, °C', filters.temperature ?? '', [-30, 60], set('temperature')),
      numberField('altitude', 'Altitude, m', filters.altitude ?? '', [-430, 4000], set('altitude')),
      numberField('wind', 'Wind against, mph (with: negative)', filters.wind ?? '', [-60, 60], set('wind')),
    ),
    h(
      'div',
      { class: 'row' },
      numberField('measured-c', 'The shots were played at, °C', filters.measured_c ?? '', [-30, 60], set('measured_c')),
      numberField('measured-m', 'and at, m of altitude', filters.measured_m ?? '', [-430, 4000], set('measured_m')),
    ),
    h(
      'p',
      { class: 'hint' },
      'Off unless one of the first three is set. What is left empty is the standard atmosphere: sea level, and the temperature of the altitude, 15 °C at sea level.',
    ),
    on
      ? h(
          'div',
          { class: 'row' },
          button(
            'No correction',
            () => change({ temperature: '', altitude: '', wind: '', measured_c: '', measured_m: '' }),
            { id: 'no-air' },
          ),
        )
      : null,
  );
  details.addEventListener('toggle', () => {
    session.state.airOpen = details.open;
  });
  return details;
}

/** What the correction did, shown wherever it is on. @param {any} air */
export function airWords(air) {
  if (!air) return null;
  const change = Math.abs(air.factor - 1) * 100;
  const at = (/** @type {number|null} */ celsius, /** @type {number} */ metres) =>
    `${celsius === null ? 'the standard temperature' : `${plain(celsius, 0)} °C`} at ${plain(metres, 0)} m`;
  const wind = air.head_wind_mph
    ? `, with ${Math.abs(air.head_wind_mph)} mph of wind ${air.head_wind_mph > 0 ? 'against' : 'from behind'}`
    : '';
  return h(
    'p',
    { class: 'notice', id: 'corrected' },
    h(
      'strong',
      null,
      `Corrected for the air: every distance is ${change.toFixed(1)} % ${air.factor < 1 ? 'shorter' : 'longer'}. `,
    ),
    `For ${at(air.temperature_c, air.altitude_m)}${wind}; the shots are taken as played at ${at(air.measured_at_c, air.measured_at_m)} without wind. ${air.caution[0].toUpperCase()}${air.caution.slice(1)}.`,
  );
}
