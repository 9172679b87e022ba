/**
 * The sides that a trial can have: clubs, the setups of clubs that had more than one, and balls when there are two.
 *
 * @typedef {{value: string, words: string, club: string}} Side `value` as the address and the API name it: "driver",
 * "driver@2026-06-22", "ball:yellow Marigold"; `club` is empty for a ball
 */
import { day } from './words.js';

const AS_IT_WAS = 'as it was';
const SETUP = /^(.*?), (?:(\d{4}-\d\d-\d\d) (.*)|as it was)$/s;
const BALL = 'ball:';
const LONGEST_MARK = 2; // "4 iron A", "4 iron B": they differ in their mark alone

/**
 * @param {{setup: string}[]} rows of the summary by setup @returns {Side[]} each club followed by its setups, earliest first
 */
export function sidesOf(rows) {
  /** @type {Map<string, Side[]>} */
  const setups = new Map();
  for (const { setup } of rows) {
    const parts = SETUP.exec(setup);
    if (!parts) continue;
    const [, club, since, note] = parts;
    const side = {
      club,
      value: `${club}@${since ?? AS_IT_WAS}`,
      words: since ? `${club} since ${day(since)}: ${note}` : `${club} ${AS_IT_WAS}`,
    };
    setups.set(club, [...(setups.get(club) ?? []), side]);
  }
  const collator = new Intl.Collator('en', { numeric: true });
  return [...setups.keys()].sort(collator.compare).flatMap((club) => {
    const own = /** @type {Side[]} */ (setups.get(club)).sort((a, b) => started(a).localeCompare(started(b)));
    return [{ club, value: club, words: club }, ...(own.length > 1 ? own : [])];
  });
}

/** The balls that rounds were played with, none of which is a side by itself. @param {string[]|undefined} labels the latest first @returns {Side[]} */
export function ballsOf(labels = []) {
  return labels.length < 2
    ? []
    : labels.map((label) => ({ club: '', value: `${BALL}${label}`, words: `ball ${label}` }));
}

/** @param {Side} side @returns {string} the day on which it began; what was before the first comes first */
function started(side) {
  return side.value.endsWith(AS_IT_WAS) ? '' : side.value.slice(side.club.length + 1);
}

/**
 * Trials that suggest themselves: clubs that differ in a mark alone, a setup against the one before, the two balls used last.
 * @param {Side[]} sides @returns {[Side, Side][]}
 */
export function suggestions(sides) {
  const clubs = sides.filter((side) => side.value === side.club);
  const marked = clubs.flatMap((a, index) =>
    clubs
      .slice(index + 1)
      .filter((b) => alike(a.club, b.club))
      .map((b) => /** @type {[Side, Side]} */ ([a, b])),
  );
  const changed = sides.flatMap((side, index) => {
    const before = sides[index - 1];
    return before && side.club && before.club === side.club && before.value !== before.club
      ? [/** @type {[Side, Side]} */ ([side, before])]
      : [];
  });
  const [last, before] = sides.filter((side) => !side.club);
  return [...marked, ...changed, ...(before ? [/** @type {[Side, Side]} */ ([last, before])] : [])];
}

/** @param {string} a @param {string} b */
function alike(a, b) {
  const [one, other] = [a, b].map((label) => {
    const words = label.split(/[-\s]+/);
    const mark = words.pop() ?? '';
    return mark && mark.length <= LONGEST_MARK ? words.join(' ') : '';
  });
  return one !== '' && one === other;
}
