/** Summaries of valued shots: strokes gained by category, club and hole, and the best and worst shots. */

/**
 * A shot with its value.
 * @typedef {{record_id: string, shot: import('./shot.js').Shot, value: import('./valuation.js').Valued}} ValuedShot
 * @typedef {{name: string, shots: number, strokes_gained: number, extended: number}} SummaryRow
 */

/**
 * Sums by a key; shots without a value are left out.
 * @param {ValuedShot[]} valued @param {(row: ValuedShot) => string|null} keyOf @returns {SummaryRow[]} in order of meeting
 */
function sumBy(valued, keyOf) {
  /** @type {Map<string, SummaryRow>} */
  const rows = new Map();
  for (const row of valued) {
    const name = keyOf(row);
    if (name === null || row.value.strokes_gained === null) continue;
    const sum = rows.get(name) ?? { name, shots: 0, strokes_gained: 0, extended: 0 };
    sum.shots += 1;
    sum.strokes_gained += row.value.strokes_gained;
    sum.extended += row.value.basis === 'extended' ? 1 : 0;
    rows.set(name, sum);
  }
  return [...rows.values()];
}

/** @param {ValuedShot[]} valued @returns {ValuedShot[]} */
export function ofRecord(valued) {
  return valued.filter((row) => row.shot.ball === 1);
}

/**
 * By category, the ball of record alone, every category of the scheme in playing order.
 * @param {ValuedShot[]} valued @param {string[]} categories @returns {SummaryRow[]}
 */
export function byCategory(valued, categories) {
  const rows = sumBy(ofRecord(valued), (row) => row.value.category);
  return categories.map(
    (name) => rows.find((row) => row.name === name) ?? { name, shots: 0, strokes_gained: 0, extended: 0 },
  );
}

/**
 * By club, extra balls included, best first.
 * @param {ValuedShot[]} valued @returns {SummaryRow[]} `name` is the club's id
 */
export function byClub(valued) {
  return sumBy(valued, (row) => row.shot.club_id).sort((a, b) => b.strokes_gained - a.strokes_gained);
}

/**
 * By hole, the ball of record alone.
 * @param {ValuedShot[]} valued @returns {Map<number, SummaryRow>}
 */
export function byHole(valued) {
  return new Map(sumBy(ofRecord(valued), (row) => String(row.shot.hole)).map((row) => [Number(row.name), row]));
}

/**
 * The sum over the ball of record, and how many of its shots have no value.
 * @param {ValuedShot[]} valued @returns {{strokes_gained: number, shots: number, unvalued: number}}
 */
export function total(valued) {
  const record = ofRecord(valued);
  const counted = record.filter((row) => row.value.strokes_gained !== null);
  return {
    strokes_gained: counted.reduce((sum, row) => sum + /** @type {number} */ (row.value.strokes_gained), 0),
    shots: counted.length,
    unvalued: record.length - counted.length,
  };
}

/**
 * The best and the worst shots of the ball of record; no shot is in both.
 * @param {ValuedShot[]} valued @param {number} count @returns {{best: ValuedShot[], worst: ValuedShot[]}}
 */
export function extremes(valued, count) {
  const sorted = ofRecord(valued)
    .filter((row) => row.value.strokes_gained !== null)
    .sort((a, b) => /** @type {number} */ (b.value.strokes_gained) - /** @type {number} */ (a.value.strokes_gained));
  const best = sorted.slice(0, Math.min(count, Math.ceil(sorted.length / 2)));
  const worst = sorted.slice(best.length).slice(-count).reverse();
  return { best, worst };
}
