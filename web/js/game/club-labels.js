/** Short labels of clubs, to fit the ring of a choice: PW, 50, 4i, driver. The full label stays in the accessible name. */

/** @type {Record<string, string>} */
const LETTERS = { iron: 'i', hybrid: 'h', wood: 'w', i: 'i', h: 'h', w: 'w' };
/** @type {Record<string, string>} */
const WEDGES = { pitching: 'PW', approach: 'AW', gap: 'GW', sand: 'SW', lob: 'LW' };
const NUMBERED = /^(\d{1,2})[\s-]*(iron|hybrid|wood|i|h|w)(?![a-z])[\s,-]*(.*)$/i;
const NUMBER_LAST = /^(iron|hybrid|wood)[\s-]*(\d{1,2})(?!\d)[\s,-]*(.*)$/i;
const WEDGE = /^(pitching|approach|gap|sand|lob)[\s-]*wedge(?![a-z])[\s,-]*(.*)$/i;
const LOFTED = /^(\d{2})\s*(?:°|deg(?:rees?)?(?![a-z]))?[\s-]*(?:wedge(?![a-z]))?[\s,-]*(.*)$/i;
const WORD = /^(driver|putter)(?![a-z])[\s,-]*(.*)$/i;
const LONGEST = 8;
const LONGEST_REST = 3;

/** @param {string} rest what the player added behind the club, shortened to its initials where it is long */
function added(rest) {
  if (!rest) return '';
  const short = [...rest].length <= LONGEST_REST ? rest : initials(rest);
  return ` ${short}`;
}

/** @param {string} words @returns {string} */
function initials(words) {
  return words
    .split(/[\s-]+/)
    .filter(Boolean)
    .slice(0, LONGEST_REST)
    .map((word) => [...word][0])
    .join('')
    .toUpperCase();
}

/**
 * @param {string} label the player's own @param {string} sort of the club: driver, wood, hybrid, iron, wedge, putter
 * @returns {string} of 8 characters at most where the label has more
 */
export function shortLabel(label, sort) {
  const plain = label.trim().replace(/\s+/g, ' ');
  const numbered = NUMBERED.exec(plain);
  if (numbered) return `${numbered[1]}${LETTERS[numbered[2].toLowerCase()]}${added(numbered[3])}`;
  const last = NUMBER_LAST.exec(plain);
  if (last) return `${last[2]}${LETTERS[last[1].toLowerCase()]}${added(last[3])}`;
  const wedge = WEDGE.exec(plain);
  if (wedge) return `${WEDGES[wedge[1].toLowerCase()]}${added(wedge[2])}`;
  const lofted = sort === 'wedge' ? LOFTED.exec(plain) : null;
  if (lofted) return `${lofted[1]}${added(lofted[2])}`;
  const word = WORD.exec(plain);
  if (word) return `${word[1].toLowerCase()}${added(word[2])}`;
  const letters = [...plain];
  return letters.length <= LONGEST
    ? plain
    : `${letters
        .slice(0, LONGEST - 1)
        .join('')
        .trim()}…`;
}

/**
 * Short labels of clubs that are offered side by side; two that would be the same keep their full ones.
 * @template {{record_id: string, body: {label: string, sort: string}}} C
 * @param {C[]} clubs @returns {Map<string, string>} by id
 */
export function shortLabels(clubs) {
  const short = new Map(clubs.map((club) => [club.record_id, shortLabel(club.body.label, club.body.sort)]));
  const all = [...short.values()].map((label) => label.toLowerCase());
  return new Map(
    clubs.map((club) => {
      const label = short.get(club.record_id) ?? club.body.label;
      const twice = all.filter((one) => one === label.toLowerCase()).length > 1;
      return [club.record_id, twice ? club.body.label : label];
    }),
  );
}

/** The name that is read out: the full label, with what is seen in it (WCAG 2.2, 2.5.3). @param {string} short @param {string} label */
export function spokenLabel(short, label) {
  return label.toLowerCase().includes(short.toLowerCase()) ? label : `${short}, ${label}`;
}
