"""What a trial says, in one plain sentence each: the verdict and the two sharper measures."""

from __future__ import annotations

from typing import Final, NamedTuple

from server.analysis.evidence.intervals import LEAST_ROUNDS, LEAST_SHOTS
from server.analysis.evidence.matched import ALL_ALIKE, NO_OVERLAP, ONE_ROUND_CARRIES_ALL, TOO_FEW_ROUNDS, TOO_FEW_SHOTS
from server.analysis.evidence.trials import WORTH_SHARE, LengthSpread, SharePlayable, Trial
from server.game.numbers import signed

BETTER: Final = "better"
NO_WORSE: Final = "no_worse"
ALIKE: Final = "alike"
CANNOT_TELL: Final = "cannot_tell"

HARDLY: Final = 1 / 3
"""Below this share of the smaller matched side "hardly used from like places" is the first reason given."""


class Verdict(NamedTuple):
    """`code`: one of the words above; `side`: "a", "b" or None, whom it speaks of; `words`: the sentence."""

    code: str
    side: str | None
    words: str


def verdict(trial: Trial, a: str, b: str) -> Verdict:
    """The verdict of a trial between the sides called `a` and `b`.

    Better: the interval lies on one side of 0. Alike: it lies within the difference worth having. No worse: it does not
    reach the difference worth having against a side. Else it cannot be told yet, with the reason.
    """
    found = trial.matched
    if found.difference is None or found.low is None or found.high is None:
        return Verdict(CANNOT_TELL, None, f"Cannot tell yet: {_lacking(trial, a, b)}.")
    leads = found.difference > 0
    side, front, rear = ("a", a, b) if leads else ("b", b, a)
    low, high = (found.low, found.high) if leads else (-found.high, -found.low)
    size = abs(found.difference)
    if low > 0:
        words = f"{front} is better than {rear}: it gains {size:.2f} strokes a shot on it from like places"
        effect = trial.minimum_effect
        cautions = [f"that is less than the {effect:g} called worth having"] if size < effect else []
        cautions += [f"but {_counterparts(trial)}"] if _hardly(trial) else []
        return Verdict(BETTER, side, f"{'; '.join([f'{words} ({_interval(trial, low, high)})', *cautions])}.")
    if low > -trial.minimum_effect and high < trial.minimum_effect:
        words = (
            f"{a} and {b} are alike: from like places they differ by less than {trial.minimum_effect:g} strokes a shot"
        )
        return Verdict(ALIKE, None, f"{words} ({_interval(trial, low, high)} for {front}).")
    if low > -trial.minimum_effect:
        words = f"{front} is no worse than {rear}; whether it is better cannot be told yet"
        return Verdict(NO_WORSE, side, f"{words} ({_interval(trial, low, high)}){_more(trial)}.")
    return Verdict(CANNOT_TELL, None, f"Cannot tell yet: {_noise(trial, low, high, front)}{_more(trial)}.")


def _interval(trial: Trial, low: float, high: float) -> str:
    return f"{100 * trial.level:g} % interval {signed(low, 2)} to {signed(high, 2)}"


def _more(trial: Trial) -> str:
    missing = trial.shots_missing
    if not missing:
        return ""
    effect = f"{trial.minimum_effect:g}"
    return f"; about {_rounded(missing)} more shots with each from like places would settle {effect} a shot"


def _rounded(shots: int) -> str:
    """Two figures are all that such a number carries."""
    step = 10 ** max(0, len(str(shots)) - 2)
    return f"{-(-shots // step) * step:,}"


def _hardly(trial: Trial) -> bool:
    return trial.matched.used_a < HARDLY * trial.shots_a or trial.matched.used_b < HARDLY * trial.shots_b


def _counterparts(trial: Trial) -> str:
    used = trial.matched.used_a, trial.matched.used_b
    return f"only {used[0]} of {trial.shots_a} and {used[1]} of {trial.shots_b} shots have a counterpart"


def _noise(trial: Trial, low: float, high: float, front: str) -> str:
    spread = f"the difference may be anything from {signed(low, 2)} to {signed(high, 2)} strokes a shot for {front}"
    if _hardly(trial):
        return f"the two were hardly used from like places ({_counterparts(trial)}), and {spread}"
    return f"{spread} ({100 * trial.level:g} % interval)"


def _lacking(trial: Trial, a: str, b: str) -> str:
    found = trial.matched
    unused = [name for name, shots in ((a, trial.shots_a), (b, trial.shots_b)) if not shots]
    if not trial.rounds + trial.short_rounds and unused:
        return "there are no shots in these days"
    if unused:
        return f"no shots with {' or '.join(unused)} in these days"
    counts = f"{found.used_a} with {a}, {found.used_b} with {b}"
    reasons = {
        NO_OVERLAP: "the two were never used from like places (the same lie and a like distance)",
        TOO_FEW_SHOTS: f"too few shots from like places ({counts}; at least {LEAST_SHOTS} with each are needed)",
        TOO_FEW_ROUNDS: f"the shots from like places come from too few rounds ({found.rounds_a} with {a}, "
        f"{found.rounds_b} with {b}; at least {LEAST_ROUNDS} with each are needed)",
        ALL_ALIKE: "every shot gained the same, so there is no spread to judge by",
        ONE_ROUND_CARRIES_ALL: "one round alone holds what the two have in common",
    }
    return reasons[str(found.lacking)]


def length_words(found: LengthSpread, a: str, b: str, level: float) -> str:
    """One sentence about the spread of length."""
    if found.test is None:
        return (
            f"Length: too few to say; full swings with a known finish from like clean lies: {found.shots_a} with {a}, "
            f"{found.shots_b} with {b}, at least {LEAST_SHOTS} with each are needed."
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
            f"Playable: too few to say; {found.shots_a} with {a} and {found.shots_b} with {b} from like places, "
            f"at least {LEAST_SHOTS} with each are needed."
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
    return f"{words}; settling {points} takes about {_rounded(round(found.shots_needed))} shots with each."


def _percent(share: float) -> str:
    return f"{100 * share:.0f}"
