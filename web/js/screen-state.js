/**
 * What screens hold in memory while the app runs. All but the first two fields may speak of a player, so when somebody leaves
 * the phone the session starts over with `forPage()`: nothing else outlives that.
 */
export class ScreenState {
  /** @param {{noWorker?: boolean, retriesErasures?: boolean}} [page] what is true of the open page, whoever uses it */
  constructor({ noWorker = false, retriesErasures = false } = {}) {
    /** The browser has no service worker for the app, so it cannot start without a network. */
    this.noWorker = noWorker;
    /** The listeners that retry waiting erasures are registered. */
    this.retriesErasures = retriesErasures;

    /** Open drafts by their key. @type {Map<string, import('./log/drafts.js').Draft<unknown>>} */
    this.drafts = new Map();
    /** Keeps a second tap on the play screen from counting twice. @type {import('./screens/tap-guard.js').TapGuard|null} */
    this.tapGuard = null;
    /**
     * Stock distances by club id and the trial, for the hole being played: read once a hole. `hole`: round id and hole
     * number.
     * @type {{hole: string, stock: import('./game/distances.js').StockDistances,
     *   trial: import('./screens/play-trial.js').TrialOfHole|null, caddies: import('./log/caddying.js').CaddieRow[]}|null}
     */
    this.playing = null;
    /** What was last shown of a position, and for which entry. `asking`: the phone is being asked. @type {{key: string, words: string, asking: boolean}|null} */
    this.position = null;
    /** The hole that turned to another screen by itself, and the addresses of both. @type {{hole: number, from: string, to: string}|null} */
    this.turned = null;
    /** A round is being set up: a course made meanwhile leads back to it. */
    this.settingUpRound = false;
    /** What the list of rounds is narrowed to, and how many of its rows are shown; null: not looked at yet. @type {RoundSearch|null} */
    this.roundSearch = null;

    /** Where a sign-in leads, an address without "#/"; null: where it leads by itself. @type {string|null} */
    this.afterSignIn = null;
    /** The server is being asked to erase. */
    this.erasing = false;
    /** It is to be asked once more: the network came back while the server was asked. */
    this.eraseAgain = false;
    /** Why an erasure still waits, in words; null: not asked yet, or none waits. @type {string|null} */
    this.erasureWords = null;
    /** Id of the player of whom it was shown that the server has erased them: once. @type {string|null} */
    this.toldErased = null;

    /** Id of the element of an evidence view that gets the focus back when the view is drawn again. @type {string|null} */
    this.evidenceFocus = null;
    /** What was folded or unfolded on the pages of evidence, by page and title. @type {Map<string, boolean>} */
    this.folds = new Map();
    /** The filters of the evidence are unfolded. */
    this.filtersOpen = false;
    /** The settings of the ladder's flags are unfolded. */
    this.flagsOpen = false;
    /** The settings of air and wind are unfolded. */
    this.airOpen = false;
    /** What a plan is asked for is unfolded. */
    this.planSettingsOpen = false;
    /** The settings of a plan's day are unfolded. */
    this.dayOpen = false;
    /** Those of its pin and tee. */
    this.pinOpen = false;
    /** The plan is drawn close up where the ball lands, not as the full hole. */
    this.planClose = false;
  }

  /** A fresh state that keeps only what is true of the open page. @returns {ScreenState} */
  forPage() {
    return new ScreenState({ noWorker: this.noWorker, retriesErasures: this.retriesErasures });
  }
}

/** @typedef {{words: string, kind: string, shown: number}} RoundSearch `kind` empty: all kinds */
