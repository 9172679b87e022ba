/** Everything of a player in one ZIP file: the phone's log, what the server keeps, the tables of every season. */
import { ask, fetchAgain } from '../log/answers.js';
import { logFile } from '../log/log-file.js';
import { zipFile } from '../log/zip.js';
import { today } from '../ui/words.js';

/** @typedef {import('../session.js').Session} Session */

const DESCRIPTOR = 'datapackage.json';
const PATIENCE_MS = 60_000;
const LOCKED = 423;

/**
 * `inside` and `missing` in words.
 * @param {Session} session @returns {Promise<{name: string, content: Blob, inside: string[], missing: string[]}>}
 */
export async function everythingFile(session) {
  const log = await logFile(session.store);
  const files = [{ name: 'phone/log.json', content: log.text }];
  const inside = [`the log of this phone (${log.changes} changes)`];
  /** @type {string[]} */
  const missing = [];
  const fetcher = fetch.bind(globalThis);
  try {
    const ownData = await ask(
      fetcher,
      `/api/players/${encodeURIComponent(/** @type {string} */ (session.playerId))}/everything`,
      {},
      PATIENCE_MS,
    );
    files.push({ name: 'server/everything.json', content: JSON.stringify(ownData, null, 1) });
    inside.push(`all that the server keeps (${ownData.changes.length} changes, ${ownData.notes.length} notes)`);
    if (ownData.locked) missing.push('notes (locked while a competition round is open)');
    for (const address of ownData.tables) await season(address, files, inside, missing);
  } catch (error) {
    const words = error instanceof Error ? error.message : String(error);
    missing.push(`what the server keeps, and the tables of the seasons (${words.replace(/\.$/, '')})`);
  }
  return { name: `pencilbag-everything-${today()}.zip`, content: zipFile(files), inside, missing };
}

/**
 * The tables that a descriptor names, each beside it. @param {string} address of the descriptor @param {{name: string, content: string}[]} files
 * @param {string[]} inside @param {string[]} missing
 */
async function season(address, files, inside, missing) {
  const year = /season\/(\d+)\//.exec(address)?.[1] ?? '';
  const described = await ask(fetch.bind(globalThis), address, {}, PATIENCE_MS);
  const resources = [];
  let added = 0;
  for (const resource of described.resources) {
    const { pathname, search } = new URL(resource.path, location.origin);
    const response = await fetchAgain(
      fetch.bind(globalThis),
      pathname + search,
      { credentials: 'same-origin' },
      PATIENCE_MS,
    );
    if (response.ok) {
      files.push({ name: `season-${year}/${resource.name}.csv`, content: await response.text() });
      resources.push({ ...resource, path: `${resource.name}.csv` });
      added += 1;
    } else
      missing.push(
        `${resource.name} of ${year} (${response.status === LOCKED ? 'locked while a competition round is open' : `the server answered ${response.status}`})`,
      );
  }
  files.push({ name: `season-${year}/${DESCRIPTOR}`, content: JSON.stringify({ ...described, resources }, null, 1) });
  inside.push(`${added} tables of ${year}`);
}
