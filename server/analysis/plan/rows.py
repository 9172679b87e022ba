"""The plan of a shot, key by key."""

from __future__ import annotations

from typing import Annotated, TypedDict


class AboutOption(TypedDict):
    """Whose shots an option is based on."""

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


class CarryRow(TypedDict):
    """What lies across the line of aim."""

    kind: Annotated[str, "water, sand or out_of_bounds"]
    from_yd: Annotated[float, "its near edge along the line"]
    to_yd: Annotated[float, "its far edge: the carry that is needed"]
    over: Annotated[float, "share of balls that land beyond it"]
    short: Annotated[float, "share of balls that come to rest before it"]


class FlightRow(TypedDict):
    """How a club flies."""

    carry_share: Annotated[float, "carry as a share of the length to rest on medium ground"]
    carry_yd: Annotated[float, "carry of a ball that goes the club's full distance"]
    apex_yd: Annotated[float, "its highest point"]
    descent_deg: Annotated[float, "angle to the ground at which it lands"]
    own_shots: Annotated[int, "own shots that the carry is based on; 0 for the stated default"]


class NextShot(TypedDict):
    """What the first shot leaves."""

    lie: str
    share: Annotated[float, "how often, of all balls"]
    distance_yd: Annotated[float, "median distance to the hole from there"]
    nearest_yd: Annotated[float, "10th percentile"]
    farthest_yd: Annotated[float, "90th percentile"]
    club: Annotated[str | None, "the club that is best from there most often; null on the green and near the hole"]
    club_share: Annotated[float | None, "how often it is"]


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
    chance_best: Annotated[float, "share of draws of the patterns in which it is the best, at its own best aim, 0 to 1"]
    shares: Annotated[dict[str, float], "by where the ball ends, and trouble, their sum in sand, trees, water and out"]
    aims_as_good_yd: Annotated[list[float], "the first and the last aim that is as good"]
    curve: list[AimPoint]
    landings: LandingSample
    flight: FlightRow
    carries: Annotated[list[CarryRow], "what lies across the line of the best aim, nearest first"]


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
    chance_best_is_better: Annotated[float, "share of draws, both at their own best aims"]


class ShapeRow(TypedDict):
    """Which planned shape of a club suits the shot: the best one against the next best."""

    club: str
    shape: Annotated[str, "the best shape"]
    against: Annotated[str, "the next best shape"]
    aim_yd: Annotated[float, "aim of the best shape that leaves room for its misses to both sides"]
    line: Annotated[str, "what the line of reference points at"]
    miss_left_yd: Annotated[
        float, "one ball in ten finishes farther left of that aim than so many yards; below 0 right of it"
    ]
    miss_right_yd: Annotated[float, "one ball in ten finishes farther right of it; below 0 left of it"]
    costs: Annotated[float, "strokes that the next best costs"]
    low: float
    high: float
    chance: Annotated[float, "share of draws in which the best shape is better, both at their own best aims"]
    verdict: str


class Choice(TypedDict):
    """Best and second-best option, and a word on the difference."""

    best: BestOption | None
    second: SecondOption | None
    verdict: str


class Plan(Choice):
    """Every option, best first."""

    options: list[OptionRow]
    shapes: Annotated[list[ShapeRow], "one entry a club with several planned shapes, in the order of the options"]
    left_out: list[LeftOut]
