/** Addresses within the app: what comes after "#/". */

/**
 * An address as the app compares it: without the leading "#/", and without slashes at the end of its path.
 * @param {string} hash as the browser has it @returns {string}
 */
export function plainAddress(hash) {
  const [path, ...query] = hash.replace(/^#?\/*/, '').split('?');
  return [path.replace(/\/+$/, ''), ...query].join('?');
}
