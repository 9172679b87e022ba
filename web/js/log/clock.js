/**
 * Clocks. The server's time in an answer gives the device its offset; it orders concurrent edits and nothing else.
 * A wrong clock is never a reason to refuse or to lose anything.
 */

/**
 * A time as the records write it: ISO 8601, UTC, milliseconds.
 * @param {number} milliseconds since 1970 @returns {string}
 */
export function iso(milliseconds) {
  const latest = 8.64e15;
  const bounded = Math.min(Math.max(milliseconds, 0), latest);
  return new Date(Number.isFinite(bounded) ? bounded : 0).toISOString();
}

/**
 * How far the server's clock is ahead of this device's, in milliseconds: its time against the middle of the request.
 * @param {string} serverNow ISO 8601 @param {number} sentAt @param {number} receivedAt device milliseconds
 * @returns {number|null} null when the answer holds no time
 */
export function offsetFrom(serverNow, sentAt, receivedAt) {
  const server = Date.parse(serverNow);
  return Number.isFinite(server) ? server - (sentAt + receivedAt) / 2 : null;
}

/**
 * The time by which a change is ordered on this device until the server has set the lasting one.
 * @param {{client_time: string, effective_time?: string|null}} change @param {number} offsetMs @returns {string}
 */
export function effectiveTime(change, offsetMs) {
  if (change.effective_time) return change.effective_time;
  const client = Date.parse(change.client_time);
  return iso((Number.isFinite(client) ? client : 0) + offsetMs);
}
