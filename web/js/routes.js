/**
 * Which screen an address shows. Screens marked `evidence` show strokes gained, patterns, trials or plans: they are not
 * reachable while a competition round is open (rule 4.3a).
 *
 * @typedef {{title: string, content: any, bar?: any, action?: any, after?: () => void, still?: boolean}} Drawn `bar`: in place of
 * the tabs; `action`: the one action of the screen, over the tabs; `still`: being filled in, so not drawn again by itself
 * @typedef {(session: import('./session.js').Session, ...places: string[]) => Promise<Drawn>|Drawn} Screen
 */
import { homeScreen } from './screens/home.js';
import { part } from './ui/parts.js';
import { playersScreen } from './screens/players.js';

/**
 * The screen of a module that is loaded when it is first asked for, so that the first load stays small.
 * @param {() => Promise<any>} load @param {string} name @returns {Screen}
 */
function later(load, name) {
  return async (session, ...places) => (await part(load))[name](session, ...places);
}

const caddie = () => import('./screens/caddie.js');
const account = () => import('./screens/account.js');
const bag = () => import('./screens/bag.js');
const card = () => import('./screens/card.js');
const courses = () => import('./screens/courses.js');
const evidence = () => import('./views/screen.js');
const holes = () => import('./screens/round-holes.js');
const importing = () => import('./screens/import.js');
const invitation = () => import('./screens/invitation.js');
const locked = () => import('./screens/locked.js');
const nowhere = () => import('./screens/no-such-page.js');
const notes = () => import('./screens/notes-screen.js');
const ownData = () => import('./screens/own-data.js');
const play = () => import('./screens/play.js');
const player = () => import('./screens/player.js');
const practice = () => import('./screens/practice.js');
const practiceReview = () => import('./screens/practice-review.js');
const review = () => import('./screens/review.js');
const saving = () => import('./screens/saving.js');
const setup = () => import('./screens/round-setup.js');
const sharing = () => import('./screens/sharing.js');
const signIn = () => import('./screens/sign-in.js');
const thisPhone = () => import('./screens/this-phone.js');
const tokens = () => import('./screens/tokens.js');
const versions = () => import('./screens/versions.js');
const whosePhone = () => import('./screens/whose-phone.js');

/** @type {{address: RegExp, screen: Screen, evidence?: boolean, withoutPlayer?: boolean}[]} */
const ROUTES = [
  { address: /^$/, screen: homeScreen },
  { address: /^players$/, screen: playersScreen, withoutPlayer: true },
  { address: /^player$/, screen: later(player, 'playerScreen') },
  { address: /^new$/, screen: later(setup, 'newRoundScreen') },
  { address: /^round\/([^/]+)\/card$/, screen: later(card, 'cardScreen') },
  { address: /^round\/([^/]+)\/review$/, screen: later(review, 'reviewScreen'), evidence: true },
  { address: /^round\/([^/]+)\/holes$/, screen: later(holes, 'roundHolesScreen') },
  { address: /^round\/([^/]+)\/setup$/, screen: later(setup, 'roundSetupScreen') },
  { address: /^round\/([^/]+)\/versions$/, screen: later(versions, 'versionsScreen') },
  { address: /^round\/([^/]+)\/(\d+)$/, screen: later(play, 'playScreen') },
  { address: /^practice\/new$/, screen: later(practice, 'newPracticeScreen') },
  { address: /^practice\/([^/]+)$/, screen: later(practice, 'practiceScreen') },
  { address: /^practice\/([^/]+)\/review$/, screen: later(practiceReview, 'practiceReviewScreen') },
  { address: /^bag$/, screen: later(bag, 'bagScreen') },
  { address: /^bag\/([^/]+)$/, screen: later(bag, 'clubScreen') },
  { address: /^courses$/, screen: later(courses, 'coursesScreen') },
  { address: /^courses\/([^/]+)\/map$/, screen: later(() => import('./screens/course-maps.js'), 'courseMapsScreen') },
  { address: /^courses\/([^/]+)\/map\/(\d+)$/, screen: later(() => import('./screens/hole-map.js'), 'holeMapScreen') },
  {
    address: /^courses\/([^/]+)\/map\/(\d+)\/walk$/,
    screen: later(() => import('./screens/hole-walk.js'), 'holeWalkScreen'),
  },
  { address: /^courses\/([^/]+)$/, screen: later(courses, 'courseScreen') },
  {
    address: /^evidence(?:\/([^/?]+)(?:\/([^/?]+))?)?(?:\?(.*))?$/,
    screen: later(evidence, 'evidenceScreen'),
    evidence: true,
    withoutPlayer: true,
  },
  { address: /^sign-in$/, screen: later(signIn, 'signInScreen'), withoutPlayer: true },
  { address: /^join\/([^/]+)$/, screen: later(signIn, 'joinScreen'), withoutPlayer: true },
  { address: /^account$/, screen: later(account, 'accountScreen'), withoutPlayer: true },
  { address: /^account\/tokens$/, screen: later(tokens, 'tokensScreen'), withoutPlayer: true },
  { address: /^sharing$/, screen: later(sharing, 'sharingScreen') },
  { address: /^invitation(?:\/([^/]+))?$/, screen: later(invitation, 'invitationScreen'), withoutPlayer: true },
  { address: /^notes\/([^/]+)$/, screen: later(notes, 'notesScreen'), evidence: true, withoutPlayer: true },
  { address: /^caddie(?:\/([^/]+))?$/, screen: later(caddie, 'takeUpScreen'), withoutPlayer: true },
  { address: /^import$/, screen: later(importing, 'importScreen') },
  { address: /^import\/practice$/, screen: later(importing, 'practiceImportScreen') },
  { address: /^own-data$/, screen: later(ownData, 'ownDataScreen') },
  { address: /^this-phone$/, screen: later(thisPhone, 'thisPhoneScreen'), withoutPlayer: true },
  { address: /^whose-phone$/, screen: later(whosePhone, 'whosePhoneScreen'), withoutPlayer: true },
  { address: /^saving$/, screen: later(saving, 'savingScreen'), withoutPlayer: true },
];

/** What a phone shows that enters one round for another player. `round`: its id @param {string} hash @param {string} round */
function isCaddies(hash, round) {
  if (hash.startsWith('round/')) return new RegExp(`^round/${round}/(card|versions|\\d+)$`).test(hash);
  return /^(players|saving|sign-in|join\/.*|account.*|caddie.*)$/.test(hash);
}

/** Gets ready what a player needs next, once the first screen is there. @param {() => void} help shows the help */
export function loadAhead(help) {
  import('./ui/shortcuts.js').then(({ listen }) => listen(help)).catch(() => undefined);
  play()
    .then(setup)
    .then(card)
    .catch(() => undefined); // offline before the worker was ready: asked for again when it is needed
}

/**
 * @param {import('./session.js').Session} session @param {string} hash without its "#/" @returns {Promise<Drawn>}
 */
export async function route(session, hash) {
  for (const { address, screen, evidence, withoutPlayer } of ROUTES) {
    const match = address.exec(hash);
    if (!match) continue;
    if (session.caddying && !isCaddies(hash, session.caddying.round_id))
      return (await part(caddie)).caddieScreen(session, session.caddying);
    if (!withoutPlayer && !session.player) return playersScreen(session);
    const lock = evidence ? await session.lockingRound() : null;
    if (lock) return (await locked()).lockedScreen(session, lock);
    return screen(session, ...match.slice(1));
  }
  return (await part(nowhere)).noSuchPage(hash, '', session.player ? 'To the rounds' : 'To the start');
}
