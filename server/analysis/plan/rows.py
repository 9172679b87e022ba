"""What the plan of a shot says, key by key."""

from __future__ import annotations

from typing import Annotated, TypedDict


class AboutOption(TypedDict):
    """Whose shots an option stands on."""

    club: str
    swing: Annotated[str, "full or part"]
    planned_shape: str | None
    shots: Annotated[int, "own shots"]
    prior_weight: Annotated[float, "weight of what is not own shots, 0 to 1"]
    notes: Annotated[list[str], "where the pattern comes from"]


class AimPoint(TypedDict):
    """Expected strokes at one aim; null where nearly every ball ends out of bounds."""

    aim_yd: float
    expected: float | None


class LandingSample(TypedDict):
    """A bounded sample of landings at the best aim: yards right of and along the line of aim, and what lies there."""

    right_yd: list[float]
    along_yd: list[float]
    ends: list[str]


class OptionRow(AboutOption):
    """One club (and planned shape) at its best aim. Aims are yards right of the line of reference at the reach."""

    name: str
    reach_yd: float
    line: Annotated[str, "what the line of reference points at"]
    line_deg: Annotated[float, "its direction, clockwise from the map's y"]
    aim_yd: float
    aim_deg: Annotated[float, "direction of the best aim, clockwise from the map's y"]
    expected: Annotated[float, "strokes"]
    low: float | None
    high: float | None
    shares: Annotated[dict[str, float], "by where the ball ends, and trouble, their sum in sand, trees, water and out"]
    aims_as_good_yd: Annotated[list[float], "the first and the last aim that is as good"]
    curve: list[AimPoint]
    landings: LandingSample


class LeftOut(TypedDict):
    """A club that is not planned with, and why."""

    name: str
    reason: str


class BestOption(TypedDict):
    """An option and its aim."""

    name: str
    aim_yd: float


class SecondOption(BestOption):
    """The second-best option, and what it costs."""

    costs: Annotated[float, "strokes"]
    low: float
    high: float
    chance_best_is_better: float


class Choice(TypedDict):
    """Best and second-best option, and a word on the difference."""

    best: BestOption | None
    second: SecondOption | None
    verdict: str


class Plan(Choice):
    """Every option, best first."""

    options: list[OptionRow]
    left_out: list[LeftOut]
