/** Parts of the app that are loaded when they are first asked for. */

const NOT_HERE =
  'This part of the app is not on this phone yet. It comes once the server can be reached; if it does not come then, a new version is waiting to be installed.';

/**
 * A module, or words that say why it cannot be had.
 * @template T @param {() => Promise<T>} load @returns {Promise<T>}
 */
export async function part(load) {
  try {
    return await load();
  } catch {
    throw new Error(NOT_HERE);
  }
}
