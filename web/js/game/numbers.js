/** Numbers in words, rounded: a zero never has a sign, whichever side it was rounded from. Twin: server/game/numbers.py. */

/**
 * A number with so many decimals and a true minus: "1.50", "−0.25", "0.00".
 * @param {number} value @param {number} decimals @returns {string}
 */
export function plain(value, decimals) {
  const rounded = value.toFixed(decimals);
  return Number(rounded) === 0 ? rounded.replace('-', '') : rounded.replace('-', '−');
}

/**
 * A gain or loss: "+1.50", "−0.25", and "0.00" for what rounds to zero. @param {number} value @param {number} decimals @returns {string}
 */
export function signed(value, decimals) {
  const words = plain(value, decimals);
  return value > 0 && Number(words) !== 0 ? `+${words}` : words;
}
