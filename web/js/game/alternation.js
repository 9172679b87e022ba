/**
 * Which club on trial a hole of a practice round is for: random in balanced blocks, the same on every device. Twin of
 * `server/game/alternation.py`.
 */

const HOLES_A_CLUB = 2;

/** @param {string[]} clubIds two or more, in any order @param {string} roundId @param {number} hole @returns {string} */
export function clubOfHole(clubIds, roundId, hole) {
  const clubs = [...new Set(clubIds)].sort();
  const size = HOLES_A_CLUB * clubs.length;
  const block = Math.floor((hole - 1) / size);
  const ofBlock = `${clubs.join('|')} ${roundId} ${block}`;
  const order = Array.from({ length: size }, (_, slot) => slot).sort(
    (a, b) => mixed(`${ofBlock} ${a}`) - mixed(`${ofBlock} ${b}`) || a - b,
  );
  return clubs[order[(hole - 1) % size] % clubs.length];
}

/** FNV-1a over UTF-8, then the finalizer of MurmurHash3. @param {string} text @returns {number} */
export function mixed(text) {
  let value = 0x811c9dc5;
  for (const byte of new TextEncoder().encode(text)) value = Math.imul(value ^ byte, 0x01000193);
  value = Math.imul(value ^ (value >>> 16), 0x85ebca6b);
  value = Math.imul(value ^ (value >>> 13), 0xc2b2ae35);
  return (value ^ (value >>> 16)) >>> 0;
}

/**
 * Clubs of a trial that were not hit yet from the spot of the last shot of a ball, when that was hit with one of them.
 * @param {import('./shot.js').Shot[]} shots of the round @param {string[]} clubIds on trial @param {number} hole @param {number} ball
 * @returns {string[]} ids
 */
export function stillToHit(shots, clubIds, hole, ball) {
  const played = shots.filter((shot) => shot.hole === hole);
  const last = played.filter((shot) => shot.ball === ball).sort((a, b) => b.order - a.order)[0];
  if (!last || last.provisional || !clubIds.includes(last.club_id)) return [];
  const hit = new Set(played.filter((shot) => spotOf(shot) === spotOf(last)).map((shot) => shot.club_id));
  return clubIds.filter((id) => !hit.has(id));
}

/**
 * How many duels a round holds: spots from which two clubs on trial or more were hit, with a ball each.
 * @param {import('./shot.js').Shot[]} shots @param {string[]} clubIds @returns {number}
 */
export function duelsOf(shots, clubIds) {
  /** @type {Map<string, {clubs: Set<string>, balls: Set<number>}>} */
  const spots = new Map();
  for (const shot of shots.filter((one) => clubIds.includes(one.club_id))) {
    const spot = spots.get(spotOf(shot)) ?? { clubs: new Set(), balls: new Set() };
    spot.clubs.add(shot.club_id);
    spot.balls.add(shot.ball);
    spots.set(spotOf(shot), spot);
  }
  return [...spots.values()].filter(({ clubs, balls }) => clubs.size > 1 && balls.size > 1).length;
}

/** @param {import('./shot.js').Shot} shot */
function spotOf({ hole, lie, distance_yd }) {
  return `${hole} ${lie} ${distance_yd}`;
}

/**
 * The clubs of a round's bag that are on trial against each other: of one type, two or more; the first such type.
 * @param {{record_id: string, body: {sort: string, on_trial?: boolean, label: string}}[]} bag
 */
export function clubsOnTrial(bag) {
  const trying = bag.filter((club) => club.body.on_trial);
  const found = trying.find((club) => trying.filter((other) => other.body.sort === club.body.sort).length > 1);
  if (!found) return [];
  const same = trying.filter((club) => club.body.sort === found.body.sort);
  return same.sort((a, b) => a.body.label.localeCompare(b.body.label));
}
