/**
 * Folding changes into a record, the same on the server and on every device.
 *
 * Leaves are the changes of a record that no other change of it names as a parent. The head is the greatest leaf by (not
 * deleted, effective time, change id), compared as text, so an edit beats a concurrent delete and clocks order only
 * concurrent edits. Of a deleted record the greatest put speaks. The fold depends on the set of changes alone, never on the order in which they arrived.
 */

/**
 * @typedef {object} Change
 * @property {string} change_id @property {string} record_id @property {string} kind @property {string[]} parents
 * @property {'put'|'delete'} op @property {any} body @property {string} device_id @property {string} client_time
 * @property {number} schema_version
 *
 * @typedef {Change & {effective_time: string}} TimedChange
 *
 * @typedef {{leaves: TimedChange[], head: TimedChange, deleted: boolean, speaks: TimedChange|null}} Folded
 * `leaves`: best first, the head leads; `speaks`: the put whose body the record shows, also when it is deleted: the head, or
 * then the greatest put, whether or not another change replaced it; null when there never was one
 */

/**
 * @param {TimedChange} a @param {TimedChange} b @returns {number} below 0 when `a` ranks above `b`
 */
function byRank(a, b) {
  const live = Number(b.op !== 'delete') - Number(a.op !== 'delete');
  if (live) return live;
  if (a.effective_time !== b.effective_time) return a.effective_time > b.effective_time ? -1 : 1;
  return a.change_id > b.change_id ? -1 : 1;
}

/**
 * Fold all changes of one record. RangeError when there is none.
 * @param {TimedChange[]} changes @returns {Folded}
 */
export function fold(changes) {
  const byId = new Map(changes.map((change) => [change.change_id, change]));
  if (!byId.size) throw new RangeError('changes: a record needs at least one');
  const named = new Set();
  for (const change of byId.values()) {
    for (const parent of change.parents) if (parent !== change.change_id) named.add(parent);
  }
  const all = [...byId.values()];
  const unnamed = all.filter((change) => !named.has(change.change_id));
  // Parents that name each other in a ring (no honest device makes one) would leave no leaf: take all.
  const leaves = (unnamed.length ? unnamed : all).sort(byRank);
  const head = leaves[0];
  const puts = all.filter((change) => change.op !== 'delete').sort(byRank);
  return { leaves, head, deleted: head.op === 'delete', speaks: head.op === 'delete' ? (puts[0] ?? null) : head };
}
