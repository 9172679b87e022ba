"""A trial of two sides, key by key. Strokes gained, A less B; shares 0 to 1."""

from __future__ import annotations

from typing import Annotated, TypedDict

from server.analysis.practice.rows import PracticeDuels
from server.analysis.putting.rows import PutterComparison
from server.reports.heading import Heading
from server.reports.practice_source import MadeOf


class TrialSide(TypedDict):
    """A club, one setup of it, or a ball."""

    name: str
    club: Annotated[str | None, "null for a ball, which is of all clubs"]
    setup: Annotated[str | None, "as the summary by setup names it; null for the whole club"]
    ball: Annotated[str | None, "its label; null for a club"]
    shots: int
    matched_shots: Annotated[int, "from places that both sides have"]
    matched_rounds: int
    uses_a_round: Annotated[float, "with ball 1, in a round of 18 holes"]


class TrialDifference(TypedDict):
    """The difference from the same lie and distance. A round: null where neither side is used in rounds that count."""

    per_shot: float
    low: float
    high: float
    standard_error: float
    shots_a_round: Annotated[float, "of both sides together, in a round of 18 holes"]
    per_round: float | None
    per_round_low: float | None
    per_round_high: float | None
    always_low: Annotated[float | None, "of the interval that holds at every check, strokes a shot; null: no end yet"]
    always_high: float | None
    per_round_always_low: float | None
    per_round_always_high: float | None


class TrialVerdict(TypedDict):
    """What is stated of it."""

    code: Annotated[str, "better, alike, leaning or cannot_tell"]
    side: Annotated[str | None, "a or b: the side it is about"]
    words: str
    settled: Annotated[bool, "better and alike: stays valid however often you look"]


class TrialDesign(TypedDict):
    """How the two were compared."""

    code: Annotated[str, "paired, alternated, by_rounds, chosen or before_and_after"]
    words: str
    pairs: Annotated[int, "shots of A from a spot from which B was hit too"]
    in_order: Annotated[int, "shots with the club that was drawn for the hole while both were on trial"]
    shared_rounds: Annotated[int, "rounds with both"]
    refused_shots: Annotated[int, "left out, because the two start too far apart there"]
    control_shots: Annotated[int, "shots with the other clubs that the difference is corrected by"]
    control_change: Annotated[float | None, "strokes a shot that those changed from the rounds of B to those of A"]


class LengthRow(TypedDict):
    """Whose shots spread less in length."""

    shots_a: int
    shots_b: int
    typical_a_yd: Annotated[float | None, "mean distance of a shot from its side's median"]
    typical_b_yd: float | None
    statistic: Annotated[float | None, "of the test that both spread alike"]
    p: float | None
    words: str


class PlayableRow(TypedDict):
    """Share of shots that stay playable."""

    shots_a: int
    shots_b: int
    share_a: float | None
    share_b: float | None
    difference: Annotated[float | None, "A less B"]
    low: float | None
    high: float | None
    shots_needed: Annotated[float | None, "with each, to settle the smallest difference that matters"]
    words: str


class Place(TypedDict):
    """A lie and a band of distance."""

    lie: str
    distance: str
    paired: Annotated[bool, "both hit from one spot"]
    shots_a: int
    shots_b: int
    mean_a: Annotated[float, "strokes gained a shot"]
    mean_b: float
    weight: Annotated[float, "share of this place in the difference"]


class TrialDocument(Heading, MadeOf):
    """A trial of two sides; null where nothing can be stated, with the reason in the verdict. The verdict and every
    figure of strokes gained are of rounds alone, whatever `source` is."""

    minimum_effect: Annotated[float, "the smallest difference that matters, strokes a round"]
    pairs_on_trial: Annotated[int, "pairs of clubs on trial together: what is settled holds for all of them"]
    rounds: int
    short_rounds: Annotated[int, "rounds too short to count"]
    a: TrialSide
    b: TrialSide
    difference: TrialDifference | None
    chance_a_better: float | None
    chance_b_better: float | None
    shots_needed: Annotated[float | None, "with each side, to settle the minimum effect"]
    shots_missing: Annotated[int | None, "of these, how many are not hit yet"]
    shots_missing_low: Annotated[int | None, "as well as the spread of shots is known, at the level"]
    shots_missing_high: int | None
    design_effect: float
    verdict: TrialVerdict
    design: TrialDesign
    length: Annotated[LengthRow | None, "null between putters"]
    playable: Annotated[PlayableRow | None, "null between putters"]
    make_rate: Annotated[PutterComparison | None, "between putters alone"]
    places: list[Place]
    practice: Annotated[PracticeDuels | None, "duels of practice sessions; null where practice does not count"]
