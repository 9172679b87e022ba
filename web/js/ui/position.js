/**
 * The one place that asks the phone where it is: once, by a tap. Nothing is watched, and nothing asks again by itself.
 *
 * @typedef {{position: [number, number, number]}|{words: string}} Asked longitude, latitude (WGS84 degrees), accuracy in metres; or why there is none
 */

const LONGEST_WAIT_MS = 20_000; // a phone that has just woken needs so long; the browser counts it
const OLDEST_MS = 30_000; // a walking player is 40 m farther by then: a choice of this tool
const DENIED = 1; // W3C Geolocation, GeolocationPositionError
const TIMED_OUT = 3;

const BY_HAND = 'Type the distance.';

/** @param {number} code of the browser @returns {string} */
function reasonWords(code) {
  if (code === DENIED) return `Position refused: allow it for this page in the browser’s settings. ${BY_HAND}`;
  if (code === TIMED_OUT) return `No position within 20 seconds. Try again under open sky. ${BY_HAND}`;
  return `No position here: indoors, or switched off on this device. ${BY_HAND}`;
}

/** @param {number} number @param {number} decimals */
const kept = (number, decimals) => Number(number.toFixed(decimals));

/**
 * Where the phone is now. Never fails: without a position it answers one line for the player.
 * @param {{isSecureContext: boolean, navigator: {geolocation?: Geolocation}, Date: {now: () => number}}} [page] @returns {Promise<Asked>}
 */
export function askPosition(page = globalThis) {
  if (!page.isSecureContext)
    return Promise.resolve({ words: `Position needs a secure address, one that begins with https. ${BY_HAND}` });
  const source = page.navigator.geolocation;
  if (!source) return Promise.resolve({ words: `This browser gives no position. ${BY_HAND}` });
  return new Promise((resolve) => {
    const found = (/** @type {any} */ { coords, timestamp }) => {
      const { longitude: lon, latitude: lat, accuracy } = coords;
      const sound =
        [lon, lat, accuracy].every(Number.isFinite) && Math.abs(lon) <= 180 && Math.abs(lat) <= 90 && accuracy >= 0;
      if (!sound || (lon === 0 && lat === 0)) resolve({ words: `The device gave no usable position. ${BY_HAND}` });
      else if (!(Math.abs(page.Date.now() - timestamp) <= OLDEST_MS))
        resolve({ words: `The position is not of now, or the phone’s clock is wrong. Try again. ${BY_HAND}` });
      else resolve({ position: [kept(lon, 7), kept(lat, 7), kept(accuracy, 1)] });
    };
    const failed = (/** @type {any} */ error) => resolve({ words: reasonWords(error.code) });
    try {
      source.getCurrentPosition(found, failed, { enableHighAccuracy: true, maximumAge: 0, timeout: LONGEST_WAIT_MS });
    } catch {
      failed({ code: 0 });
    }
  });
}
