/** Places of a plan in the map's yards. */

/** Places of an option's sample, in the map's yards. @param {any} plan @param {any} option @returns {{x: number, y: number, end: string}[]} */
export function landingsOf({ from }, { aim_deg, landings }) {
  const turn = (aim_deg * Math.PI) / 180;
  return landings.right_yd.map((/** @type {number} */ right, /** @type {number} */ place) => {
    const along = landings.along_yd[place];
    return {
      x: from[0] + Math.sin(turn) * along + Math.cos(turn) * right,
      y: from[1] + Math.cos(turn) * along - Math.sin(turn) * right,
      end: landings.ends[place],
    };
  });
}

/** The point that an option is aimed at. @param {any} plan @param {any} option @returns {[number, number]} */
export function aimPoint({ from }, { aim_deg, reach_yd }) {
  const turn = (aim_deg * Math.PI) / 180;
  return [from[0] + Math.sin(turn) * reach_yd, from[1] + Math.cos(turn) * reach_yd];
}
