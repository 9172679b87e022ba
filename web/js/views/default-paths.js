/**
 * What every view of a player's evidence asks when no filter is set, the cheapest and most wanted first; a test compares the
 * list with the views. The list is a module of its own, so that keeping the answers loads none of the drawings.
 */

/** @param {string} player id @returns {string[]} */
export function defaultPaths(player) {
  const of = `/api/players/${encodeURIComponent(player)}`;
  return [
    of,
    `${of}/choices`,
    `${of}/strokes-gained?by=club`,
    `${of}/strokes-gained?by=round`,
    `${of}/strokes-gained?by=month`,
    `${of}/priorities`,
    `${of}/distances`,
    `${of}/putting`,
    `${of}/strokes-gained?by=setup`,
    `${of}/strokes-gained?by=category`,
    `${of}/scores`,
    `${of}/notes`,
    `${of}/patterns`,
    '/api/baselines',
    `${of}/plans`,
  ];
}
