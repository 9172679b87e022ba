/**
 * Which screen an address shows. Screens marked `evidence` show strokes gained, patterns, trials or plans: they are not
 * reachable while a competition round is open (rule 4.3a).
 *
 * @typedef {{title: string, content: any, bar?: any, after?: () => void, wide?: boolean}} Drawn
 * @typedef {(session: import('./session.js').Session, ...places: string[]) => Promise<Drawn>|Drawn} Screen
 */
import { bagScreen, clubScreen } from './screens/bag.js';
import { cardScreen } from './screens/card.js';
import { courseScreen, coursesScreen } from './screens/courses.js';
import { homeScreen } from './screens/home.js';
import { lockedScreen } from './screens/locked.js';
import { newRoundScreen, roundSetupScreen } from './screens/round-setup.js';
import { playScreen } from './screens/play.js';
import { playerScreen, playersScreen } from './screens/players.js';
import { reviewScreen } from './screens/review.js';
import { savingScreen } from './screens/saving.js';
import { versionsScreen } from './screens/versions.js';

/** @type {{address: RegExp, screen: Screen, evidence?: boolean, stranger?: boolean}[]} */
const ROUTES = [
  { address: /^$/, screen: homeScreen },
  { address: /^players$/, screen: playersScreen, stranger: true },
  { address: /^player$/, screen: playerScreen },
  { address: /^new$/, screen: newRoundScreen },
  { address: /^round\/([^/]+)\/card$/, screen: cardScreen },
  { address: /^round\/([^/]+)\/review$/, screen: reviewScreen, evidence: true },
  { address: /^round\/([^/]+)\/setup$/, screen: roundSetupScreen },
  { address: /^round\/([^/]+)\/versions$/, screen: versionsScreen },
  { address: /^round\/([^/]+)\/(\d+)$/, screen: playScreen },
  { address: /^bag$/, screen: bagScreen },
  { address: /^bag\/([^/]+)$/, screen: clubScreen },
  { address: /^courses$/, screen: coursesScreen },
  { address: /^courses\/([^/]+)$/, screen: courseScreen },
  { address: /^saving$/, screen: savingScreen, stranger: true },
];

/**
 * @param {import('./session.js').Session} session @param {string} hash without its "#/" @returns {Promise<Drawn>}
 */
export async function route(session, hash) {
  for (const { address, screen, evidence, stranger } of ROUTES) {
    const match = address.exec(hash);
    if (!match) continue;
    if (!stranger && !session.player) return playersScreen(session);
    const lock = evidence ? await session.lockingRound() : null;
    if (lock) return lockedScreen(session, lock);
    return screen(session, ...match.slice(1));
  }
  return session.player ? homeScreen(session) : playersScreen(session);
}
