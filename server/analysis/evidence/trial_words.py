"""The result of a trial, in one plain sentence each: the verdict, its design and the two auxiliary measures."""

from __future__ import annotations

from typing import Final, NamedTuple

from server.analysis.evidence.intervals import LEAST_ROUNDS, LEAST_SHOTS
from server.analysis.evidence.matched import (
    ALL_ALIKE,
    NO_CONTROL,
    NO_OVERLAP,
    NO_TURNS,
    ONE_ROUND_CARRIES_ALL,
    TIED_TO_COVARIATES,
    TOO_FEW_ROUNDS,
    TOO_FEW_SHOTS,
    Matched,
)
from server.analysis.evidence.trials import (
    ALTERNATED,
    BEFORE_AND_AFTER,
    BY_ROUNDS,
    CHOSEN,
    PAIRED,
    WORTH_SHARE,
    LengthSpread,
    SharePlayable,
    Trial,
)
from server.analysis.putting.rows import PutterComparison
from server.game.numbers import plain, signed, two_figures

BETTER: Final = "better"
ALIKE: Final = "alike"
LEANING: Final = "leaning"
CANNOT_TELL: Final = "cannot_tell"
SETTLED: Final = (BETTER, ALIKE)
"""What holds at every check, so that more shots are not needed."""

HARDLY: Final = 1 / 3
"""Below this share of the smaller matched side "hardly used from the same lie and distance" is the first reason."""


class Verdict(NamedTuple):
    """`code`: one of the words above; `side`: "a", "b" or None, whom it speaks of; `words`: the sentence."""

    code: str
    side: str | None
    words: str


def verdict(trial: Trial, a: str, b: str, make_rate: PutterComparison | None = None) -> Verdict:
    """The verdict of a trial between the sides called `a` and `b`; between putters with what the make-rates show.

    Better: the confidence sequence lies on one side of 0. Alike: it lies within the difference worth having. Both are
    settled: they hold though the player looks after every round. Leaning: the interval of one look lies on one side of
    0. Else it is not clear yet, with the reason. Putters: better or alike only where the make-rates do not clearly
    show the opposite, and leaning where they alone are clear.
    """
    found = trial.matched
    holes_more = None if found.before_and_after else _holes_more(make_rate)
    if found.difference is None or found.low is None or found.high is None:
        return Verdict(CANNOT_TELL, None, f"Not clear yet: {_lacking(trial, a, b)}.")
    leads = found.difference > 0
    side, front, rear = ("a", a, b) if leads else ("b", b, a)
    if holes_more not in (None, side):
        words = (
            f"Not clear yet: by strokes gained {front} is ahead ({_once(trial, leads)}), but {rear} holes more putts"
        )
        return Verdict(CANNOT_TELL, None, f"{words}{_more(trial)}.")
    low, high = _turned(found.always_low, found.always_high, leads)
    if low is not None and low > 0:
        words = (
            f"{front} is better than {rear}: {_gains(trial)} from the same lie and distance ({_always(trial, leads)})"
        )
        return Verdict(BETTER, side, f"{'; '.join([words, *_cautions(trial)])}.")
    effect = trial.effect_a_shot
    if effect and holes_more is None and low is not None and high is not None and low > -effect and high < effect:
        words = f"{a} and {b} are similar: they differ by less than {trial.minimum_effect:g} strokes a round"
        return Verdict(ALIKE, None, f"{words} ({_always(trial, leads)} for {front}).")
    once_low, _ = _turned(found.low, found.high, leads)
    if (once_low is not None and once_low > 0) or holes_more:
        words = f"Leaning to {front}, not settled: {_gains(trial)} on {rear} so far ({_once(trial, leads)})"
        if holes_more:
            words += f"; it also holes more putts ({_putts(make_rate)})"
        return Verdict(LEANING, side, f"{'; '.join([words, *_cautions(trial)])}{_more(trial)}.")
    return Verdict(CANNOT_TELL, None, f"Not clear yet: {_noise(trial, front, leads)}{_more(trial)}.")


def design_words(trial: Trial) -> str:
    """Which design the verdict is based on, and what may be hidden in it: one sentence."""
    found = trial.matched
    if not found.used_a:
        return ""
    alone = found.used_a + found.used_b - 2 * trial.pairs
    pairs = f" {trial.pairs} pairs from one spot are in it." if trial.pairs else ""
    words = {
        PAIRED: f"Paired: both were hit from the same spot {trial.pairs} times, the fairest comparison.",
        ALTERNATED: f"Alternated: {trial.in_order} of {alone} shots were with the club drawn for the hole, so "
        "choice does not bias it.",
        BY_ROUNDS: f"By rounds: {found.rounds_a} against {found.rounds_b} rounds, all clubs, on the same courses; "
        "adjusted for a linear trend over the days.",
        BEFORE_AND_AFTER: _before_and_after(found),
        CHOSEN: "Chosen: you picked the club for each shot, and the reason may bias the difference; hit both "
        f"from one spot in practice rounds to be surer.{pairs}",
    }[trial.design]
    refused = f" {found.refused} shots were left out: the two start too far apart there." if found.refused else ""
    return words + refused


def _before_and_after(found: Matched) -> str:
    counts = f"{found.rounds_a} and {found.rounds_b} rounds"
    rounds = f"Before and after: of {counts} they share {found.shared_rounds or 'none'}"
    if found.control_change is None:
        return f"{rounds}, so form, courses and season may explain the difference."
    change = f"{signed(found.control_change, 3)} strokes a shot over the same rounds"
    return f"{rounds}. Your other clubs changed by {change} ({found.control_shots} shots); that is taken off."


def _holes_more(found: PutterComparison | None) -> str | None:
    """The side that clearly holes more putts."""
    if found is None or found["low"] is None or found["high"] is None:
        return None
    return "a" if found["low"] > 0 else "b" if found["high"] < 0 else None


def _putts(found: PutterComparison | None) -> str:
    assert found is not None
    assert found["difference"] is not None
    return f"{100 * abs(found['difference']):.1f} of 100 more over your own mix of lengths"


def _turned(low: float | None, high: float | None, leads: bool) -> tuple[float | None, float | None]:
    """An interval seen from the side in front."""
    if low is None or high is None:
        return None, None
    return (low, high) if leads else (-high, -low)


def _gains(trial: Trial) -> str:
    size = abs(trial.matched.difference or 0.0)
    if not trial.shots_a_typical_round:
        return f"it gains {size:.2f} strokes a shot"
    return f"it gains {size * trial.shots_a_typical_round:.2f} strokes a round"


def _span(trial: Trial, low: float | None, high: float | None) -> str:
    """An interval in strokes a round; a shot where neither side is used in rounds that count."""
    assert low is not None
    assert high is not None
    often = trial.shots_a_typical_round
    unit = "a round" if often else "a shot"
    return f"{signed(low * (often or 1), 2)} to {signed(high * (often or 1), 2)} {unit}"


def _once(trial: Trial, leads: bool) -> str:
    low, high = _turned(trial.matched.low, trial.matched.high, leads)
    return f"{100 * trial.level:g} % interval {_span(trial, low, high)}"


def _always(trial: Trial, leads: bool) -> str:
    low, high = _turned(trial.matched.always_low, trial.matched.always_high, leads)
    many = f" and all {trial.pairs_on_trial} pairs on trial" if trial.pairs_on_trial > 1 else ""
    return f"{100 - 50 * (1 - trial.level):g} % interval at every check{many} {_span(trial, low, high)}"


def _cautions(trial: Trial) -> list[str]:
    size = abs(trial.matched.difference or 0.0)
    small = trial.effect_a_shot is not None and size < trial.effect_a_shot
    words = [f"that is less than the {trial.minimum_effect:g} a round that matters"] if small else []
    return [*words, *([f"but {_counterparts(trial)}"] if _hardly(trial) else [])]


def _more(trial: Trial) -> str:
    missing, between = trial.shots_missing, trial.missing_between
    if not missing or not between:
        return ""
    span = f" ({two_figures(between[0])} to {two_figures(between[1])})"
    return f"; about {two_figures(missing)} more shots with each{span} would settle {trial.minimum_effect:g} a round"


def _hardly(trial: Trial) -> bool:
    return trial.matched.used_a < HARDLY * trial.shots_a or trial.matched.used_b < HARDLY * trial.shots_b


def _counterparts(trial: Trial) -> str:
    used = trial.matched.used_a, trial.matched.used_b
    return f"only {used[0]} of {trial.shots_a} and {used[1]} of {trial.shots_b} shots have a counterpart"


def _noise(trial: Trial, front: str, leads: bool) -> str:
    spread = f"the difference may be anything ({_once(trial, leads)} for {front})"
    if _hardly(trial):
        return f"the two were rarely used from the same lie and distance ({_counterparts(trial)}), and {spread}"
    return spread


def _lacking(trial: Trial, a: str, b: str) -> str:
    found = trial.matched
    unused = [name for name, shots in ((a, trial.shots_a), (b, trial.shots_b)) if not shots]
    if not trial.rounds + trial.short_rounds and unused:
        return "there are no shots in these days"
    if unused:
        return f"no shots with {' or '.join(unused)} in these days"
    counts = f"{found.used_a} with {a}, {found.used_b} with {b}"
    reasons = {
        NO_OVERLAP: "the two were never used from the same lie and a similar distance",
        TOO_FEW_SHOTS: f"too few shots from the same lie and distance ({counts}; at least {LEAST_SHOTS} with each are "
        "needed)",
        NO_CONTROL: "the two share hardly a round, so form and courses may explain the difference, and there are "
        f"too few shots with your other clubs in those rounds to adjust for that ({found.control_shots})",
        NO_TURNS: "the two were not played in turn, so form and season may explain the difference; change from "
        "round to round",
        TIED_TO_COVARIATES: "the two were never used from the same distances",
        TOO_FEW_ROUNDS: f"the shots from the same lie and distance come from too few rounds ("
        f"{found.rounds_a} with {a}, {found.rounds_b} with {b}; at least {LEAST_ROUNDS} with each are needed)",
        ALL_ALIKE: "every shot gained the same, so there is no spread to judge by",
        ONE_ROUND_CARRIES_ALL: "only one round has both",
    }
    return reasons[str(found.lacking)]


def length_words(found: LengthSpread, a: str, b: str, level: float) -> str:
    """One sentence about the spread of length."""
    if found.test is None:
        return (
            "Length: not enough data; full swings with a recorded finish from the same clean lies: "
            f"{found.shots_a} with {a}, {found.shots_b} with {b}, at least {LEAST_SHOTS} with each are needed."
        )
    sizes = (found.test.typical_a, found.test.typical_b)
    if found.test.p is None:
        return (
            f"Length: neither spreads at all, so there is nothing to compare ({found.shots_a}, {found.shots_b} shots)."
        )
    tight, wide = (a, b) if sizes[0] < sizes[1] else (b, a)
    figures = f"off its middle by {min(sizes):.1f} yd on average against {max(sizes):.1f}"
    sure = f"p {found.test.p:.2f}" if found.test.p >= 0.01 else "p below 0.01"
    shots = f"{found.shots_a} shots with {a}, {found.shots_b} with {b}"
    if found.test.p < 1 - level:
        return f"Length: {tight} is tighter, {figures} with {wide} (unlikely by chance, {sure}; {shots})."
    return f"Length: no clear difference; {tight} was {figures} with {wide} ({sure}; {shots})."


def playable_words(found: SharePlayable, a: str, b: str, level: float) -> str:
    """One sentence about the share playable."""
    if found.shares is None:
        return (
            f"Playable: not enough data; {found.shots_a} with {a} and {found.shots_b} with {b} from the same lie and "
            f"distance, at least {LEAST_SHOTS} with each are needed."
        )
    share = found.shares
    ahead = share.difference > 0
    front, rear = (a, b) if ahead else (b, a)
    low, high = (share.low, share.high) if ahead else (-share.high, -share.low)
    figures = f"{_percent(max(share.share_a, share.share_b))} % against {_percent(min(share.share_a, share.share_b))} %"
    interval = f"{100 * level:g} % interval {signed(100 * low, 0)} to {signed(100 * high, 0)} points"
    if low > 0:
        return f"Playable: {front} stays playable more often than {rear}, {figures} ({interval})."
    words = f"Playable: no clear difference, {front} {figures} with {rear} ({interval})"
    if share.difference == 0:
        words = f"Playable: no difference, {_percent(share.share_a)} % with either ({interval} for {front})"
    if found.shots_needed is None:
        return f"{words}."
    points = f"{100 * WORTH_SHARE:g} points"
    return f"{words}; settling {points} takes about {two_figures(round(found.shots_needed))} shots with each."


def _percent(share: float) -> str:
    return plain(100 * share, 0)
