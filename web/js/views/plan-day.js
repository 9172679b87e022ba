/** The day of a plan: wind, ground and air, all off unless set. */
import { button, field, h, select } from '../ui/elements.js';
import { numberField, written } from './distance-settings.js';

/** @typedef {import('./page.js').Context} Context */

const FROM = /** @type {[string, string][]} */ ([
  ['0', 'against'],
  ['45', 'against, from the right'],
  ['90', 'from the right'],
  ['135', 'helping, from the right'],
  ['180', 'helping'],
  ['225', 'helping, from the left'],
  ['270', 'from the left'],
  ['315', 'against, from the left'],
]);
const GROUND = /** @type {[string, string][]} */ ([
  ['', 'as usual'],
  ['soft', 'soft'],
  ['firm', 'firm'],
]);
const OFF = { blows: '', blows_from: '', firmness: '', temperature: '', altitude: '' };

/** Wind along the hole, ground, temperature and altitude. @param {Context} context */
export function daySettings({ session, filters, change }) {
  const on = Boolean(filters.blows || filters.firmness || filters.temperature || filters.altitude);
  const set = (/** @type {string} */ name) => (/** @type {number|null} */ value) =>
    change({ [name]: value === null ? '' : written(value), option: '' });
  const details = h(
    'details',
    { class: 'more-settings', open: session.state.dayOpen },
    h('summary', { id: 'day-settings' }, `Wind, ground and air: ${on ? 'as set' : 'as usual'}`),
    h(
      'div',
      { class: 'row' },
      numberField('blows', 'Wind, mph', filters.blows ?? '', [0, 60], set('blows')),
      field(
        'It blows',
        select(FROM, filters.blows_from ?? '0', (from) => change({ blows_from: from, option: '' }), {
          id: 'blows-from',
        }),
      ),
      field(
        'The ground is',
        select(GROUND, filters.firmness ?? '', (firmness) => change({ firmness, option: '' }), { id: 'firmness' }),
      ),
    ),
    h(
      'div',
      { class: 'row' },
      numberField('temperature', 'Temperature, °C', filters.temperature ?? '', [-30, 60], set('temperature')),
      numberField('altitude', 'Altitude, m', filters.altitude ?? '', [-430, 4000], set('altitude')),
    ),
    h('p', { class: 'hint' }, 'Wind is seen along the line from the back tee to the green.'),
    on
      ? h(
          'div',
          { class: 'row' },
          button('As usual', () => change({ ...OFF, option: '' }), { id: 'usual-day' }),
        )
      : null,
  );
  details.addEventListener('toggle', () => {
    session.state.dayOpen = details.open;
  });
  return details;
}
