/** Two devices changed the same thing: both versions side by side, one tap keeps either. Nothing is lost meanwhile. */
import { cachedCaddies } from '../log/caddying.js';
import { fold } from '../log/fold.js';
import { effectiveTime } from '../log/clock.js';
import { conditionsByHole, conditionsLines } from '../game/hole-conditions.js';
import { spoken } from '../game/units.js';
import { button, h } from '../ui/elements.js';
import { labels, roundData } from './round-data.js';

/** @typedef {import('../session.js').Session} Session */

/** @param {Session} session @param {string} roundId @returns {Promise<import('../routes.js').Drawn>} */
export async function versionsScreen(session, roundId) {
  const data = await roundData(session, roundId);
  const label = labels(data.clubs);
  const records = [data.round, ...data.shots].filter((record) => record.conflict);
  const caddies = await cachedCaddies(session.store, data.round.player_id).catch(() => []);
  const names = new Map(caddies.map((one) => [one.device_id ?? '', one.name ?? '']));
  const parts = await Promise.all(records.map((record) => oneRecord(session, record, label, names)));
  return {
    title: 'Two versions',
    content: h(
      'div',
      { class: 'page' },
      h('h1', null, 'Two versions'),
      h(
        'p',
        null,
        parts.length
          ? 'Two devices changed the same entry before they synced. Nothing is lost; tap the version that is right.'
          : 'Every entry has one version.',
      ),
      parts,
      h('p', null, h('a', { class: 'button', href: `#/round/${roundId}/card` }, 'Back to the round')),
    ),
  };
}

/** @param {Session} session @param {import('../log/store.js').StoredRecord} record @param {(id: string) => string} label @param {Map<string, string>} names */
async function oneRecord(session, record, label, names) {
  const changes = await session.store.changesOf(record.record_id);
  const { leaves } = fold(
    changes.map((change) => ({ ...change, effective_time: effectiveTime(change, session.store.offsetMs) })),
  );
  const keep = async (/** @type {any} */ leaf) => {
    await session.write(record.kind === 'shot' ? record.body.round_id : null, () => ({
      edits: [
        {
          record_id: record.record_id,
          kind: record.kind,
          body: leaf.op === 'delete' ? null : leaf.body,
          parents: leaves.map((one) => one.change_id),
        },
      ],
      words: 'Version kept',
    }));
    await session.frame?.refresh();
  };
  const title = record.kind === 'shot' ? `Hole ${record.body.hole}, shot ${record.body.order}` : 'The round itself';
  const different = differing(leaves.map((leaf) => leaf.body ?? {}));
  return h(
    'section',
    { class: 'versions' },
    h('h2', null, title),
    h(
      'div',
      { class: 'side-by-side' },
      leaves.map((leaf, place) => version(session, leaf, place, different, keep, { label, names })),
    ),
  );
}

/**
 * @param {Session} session @param {any} leaf @param {number} place @param {string[]} different @param {(leaf: any) => void} keep
 * @param {{label: (id: string) => string, names: Map<string, string>}} words of clubs and of caddies' phones
 */
function version(session, leaf, place, different, keep, { label, names }) {
  const mine = leaf.device_id === session.store.deviceId;
  const other = names.get(leaf.device_id) || (session.caddying ? session.playerName : 'another device');
  const time = new Date(leaf.effective_time);
  return h(
    'div',
    { class: 'version' },
    h('h3', null, place === 0 ? 'Shown now' : 'The other'),
    h(
      'p',
      { class: 'hint' },
      `${mine ? 'this phone' : other}, ${time.toLocaleString('en-GB', { dateStyle: 'medium', timeStyle: 'short' })}`,
    ),
    leaf.op === 'delete'
      ? h('p', null, 'deleted')
      : h(
          'dl',
          null,
          different.flatMap((name) => [
            h('dt', null, name.replaceAll('_', ' ').replace(/ (yd|id)$/, '')),
            h('dd', null, valueWords(session, name, leaf.body, label)),
          ]),
        ),
    button('Keep this one', () => keep(leaf), { class: 'wide', id: `keep-${leaf.change_id}` }),
  );
}

/** @param {any[]} bodies @returns {string[]} */
function differing(bodies) {
  const names = new Set(bodies.flatMap((body) => Object.keys(body)));
  return [...names].filter(
    (name) => name !== 'at' && new Set(bodies.map((body) => JSON.stringify(body[name] ?? null))).size > 1,
  );
}

/** @param {Session} session @param {string} name @param {any} body @param {(id: string) => string} label @returns {string} */
function valueWords(session, name, body, label) {
  const value = body[name];
  if (value === null || value === undefined || value === '') return '–';
  if (name === 'club_id') return label(value);
  if (name === 'distance_yd') return spoken(value, body.lie, session.units);
  if (name === 'hole_conditions')
    return (
      conditionsLines(
        conditionsByHole(
          body.holes.map((/** @type {any} */ hole) => hole.number),
          value,
        ),
      ).join('; ') || '–'
    );
  if (name === 'bag') return `${value.length} clubs`;
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  return typeof value === 'object' ? JSON.stringify(value) : String(value);
}
