/** The courses of a player and the maps of their holes, as this phone holds them. */

/** @typedef {import('../session.js').Session} Session */

/** The maps of a course's holes on this phone, hole -> records, the one that counts last. @param {Session} session @param {string} courseId */
export async function mapsOf(session, courseId) {
  const records = await session.store.records(/** @type {string} */ (session.playerId), 'hole_map');
  const mine = records
    .filter((one) => one.body.course_id === courseId)
    .sort((a, b) => (a.record_id < b.record_id ? -1 : 1));
  return Map.groupBy
    ? Map.groupBy(mine, (one) => one.body.hole)
    : mine.reduce((found, one) => found.set(one.body.hole, [...(found.get(one.body.hole) ?? []), one]), new Map());
}

/** The holes of a course as its longest tees have them. @param {any} course @returns {{number: number, par: number, length_yd: number}[]} */
export function longestHoles(course) {
  const found = new Map();
  for (const tees of course.tees)
    for (const hole of tees.holes)
      if (!(found.get(hole.number)?.length_yd >= hole.length_yd)) found.set(hole.number, hole);
  return [...found.values()].sort((a, b) => a.number - b.number);
}

/** @param {Session} session @param {string} courseId @returns {Promise<any>} the course's body */
export async function courseOf(session, courseId) {
  const record = await session.store.record(/** @type {string} */ (session.playerId), courseId);
  if (!record || record.deleted) throw new Error('this course is not on this phone');
  return record.body;
}
