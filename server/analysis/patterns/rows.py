"""Patterns, shapes, distances and part swings, key by key."""

from __future__ import annotations

from typing import Annotated, NotRequired, TypedDict


class FigureRow(TypedDict):
    """A value with its interval, which is missing where nothing can be stated."""

    value: Annotated[float | None, "null without a shot"]
    low: Annotated[float | None, "lower end of the interval"]
    high: Annotated[float | None, "upper end of the interval"]
    n: Annotated[int, "shots that it is made of"]


class Direction(TypedDict):
    """Finishes along one direction."""

    centre: Annotated[FigureRow, "mean"]
    spread: Annotated[FigureRow, "standard deviation"]
    quantiles: Annotated[dict[str, float], "by share: 0.1, 0.25, 0.5, 0.75, 0.9; or empty"]
    skew: Annotated[float | None, "below zero for a tail to the left or the short side"]


class EllipseRow(TypedDict):
    """The ellipse that holds the next shot with a stated probability."""

    holds_next_shot: Annotated[float, "probability"]
    shots: int
    right_yd: Annotated[float, "centre, right of the target positive"]
    long_yd: Annotated[float, "centre, long of the target positive"]
    half_long_yd: Annotated[float, "longer half axis"]
    half_short_yd: Annotated[float, "shorter half axis"]
    turned_deg: Annotated[float, "direction of the longer axis from straight ahead, right positive"]


class SideGroup(TypedDict):
    """One of two groups in which finishes come, with few between them."""

    share: Annotated[float, "of the tapped finishes"]
    shots: int
    right_yd: Annotated[float, "middle, right of the target positive"]
    spread_yd: Annotated[float, "standard deviation to the side"]
    ellipse: Annotated[EllipseRow | None, "null below 5 shots"]


class Circle(TypedDict):
    """Radii around the pattern's own centre."""

    half_yd: Annotated[float, "contains half of the shots"]
    nine_tenths_yd: Annotated[float, "contains nine tenths"]


class SideShares(TypedDict):
    """Shares of shots on each side of the target, and of those that stay playable."""

    short: FigureRow
    long: FigureRow
    left: FigureRow
    right: FigureRow
    playable: Annotated[FigureRow, "no penalty and no recovery lie"]


class RobustRow(TypedDict):
    """Centre and spread without the shots far out of the pattern."""

    right_yd: float
    long_yd: float
    right_spread_yd: float
    long_spread_yd: float
    set_aside: Annotated[int, "outliers"]
    set_aside_short: int
    set_aside_left: int


class Finish(TypedDict):
    """One tapped finish against its target."""

    right_yd: Annotated[float, "right of the target positive"]
    long_yd: Annotated[float, "long of the target positive"]
    set_aside: Annotated[bool, "an outlier, left out of the robust figures"]


class Finishes(TypedDict):
    """The tapped finishes one by one, earliest first."""

    shots: Annotated[list[Finish], "the latest 500 at the most"]
    left_out: Annotated[int, "earlier ones that are not listed"]


class GroupPattern(TypedDict):
    """Where some shots finish against their target."""

    shots: int
    rounds: int
    tapped: Annotated[int, "shots whose finish was tapped"]
    from_distances: Annotated[int, "shots whose length comes from the distances before and after"]
    target_yd: Annotated[float | None, "median target"]
    right: Annotated[Direction, "yards, right positive; tapped finishes"]
    long: Annotated[Direction, "yards, long positive; all shots"]
    offline_deg: Annotated[Direction, "degrees, right positive; tapped finishes"]
    ellipse: Annotated[EllipseRow | None, "null where the finishes come in two groups: each has its own"]
    circle: Annotated[Circle | None, "null too where they come in two groups"]
    groups: Annotated[list[SideGroup], "the left and the right one where the finishes come in two, else none"]
    median_from_target_yd: Annotated[float | None, "half of the tapped finishes lie nearer to the target"]
    shares: SideShares
    robust: Annotated[RobustRow | None, "null too where they come in two groups"]
    warnings: Annotated[list[str], "sentences"]
    finishes: NotRequired[Annotated[Finishes, "only when the question names a club"]]


class Pattern(GroupPattern):
    """Where one club finishes against its target; full and part swings apart."""

    club: str
    swing: Annotated[str, "full or part"]
    split: str
    group: Annotated[str, "lie, setup or planned shape; empty when not split"]


class Misses(TypedDict):
    """Misses to the sides of the target, farther than a stated width."""

    beyond_yd: Annotated[float | None, "how far aside counts as a miss"]
    word: str
    sure: Annotated[bool, "two groups, or the intervals of both sides lie on their side of the limit"]
    left: FigureRow
    right: FigureRow


class PlannedShape(TypedDict):
    """What came of one planned shape of a club; full swings."""

    club: str
    planned: str
    shots: int
    rounds: int
    actual: Annotated[dict[str, int], "shots by actual shape, and not recorded"]
    came: Annotated[FigureRow, "share that came as planned"]
    other_way: Annotated[FigureRow | None, "share that curved the other way"]
    misses: Misses
    strokes_gained: Annotated[FigureRow, "mean of a shot"]


class Rung(TypedDict):
    """How far a club's full swing goes, all shots counted; yards."""

    club: str
    shots: int
    rounds: int
    from_distances: Annotated[int, "shots whose length comes from the distances before and after"]
    practice_balls: Annotated[int, "of a club known from practice only: the balls that its median is made of"]
    median: FigureRow
    middle_half: Annotated[list[float] | None, "the first and the third quartile; null below 5 shots"]
    tenth_to_ninetieth: Annotated[list[float] | None, "null below 5 shots"]


class Step(TypedDict):
    """From one club to the next shorter one."""

    longer: Annotated[str, "a club"]
    shorter: Annotated[str, "a club"]
    gap_yd: Annotated[FigureRow, "difference of the medians"]
    overlap: Annotated[FigureRow, "chance that of two shots on the same day the shorter club's goes further"]
    flag: Annotated[str, "gap, overlap, fits, both on trial, or not clear yet"]
    sure: Annotated[bool, "the interval lies on the flag's side of the limit"]


class LadderSettings(TypedDict):
    """From where on a step is flagged."""

    gap_yd: float
    overlap: Annotated[float, "a chance"]


class AirRow(TypedDict):
    """The air of a day and of the days that the distances were measured on."""

    temperature_c: Annotated[float | None, "null: the standard atmosphere's at that altitude"]
    altitude_m: float
    head_wind_mph: Annotated[float, "against is positive"]
    measured_at_c: float | None
    measured_at_m: float
    per_density: Annotated[float, "share of a change of density that comes off the distance"]
    factor: Annotated[float, "what a distance was multiplied by"]
    caution: str


class Ladder(TypedDict):
    """The distance ladder, longest club first, with the steps between neighbours."""

    clubs: list[Rung]
    steps: list[Step]
    settings: LadderSettings
    air: Annotated[AirRow | None, "null where no correction was asked for"]
    caution: str


class PartSwingRow(TypedDict):
    """Some part swings: how far they end from the length that was intended; long is positive."""

    shots: int
    rounds: int
    target_yd: Annotated[float | None, "median"]
    bias_yd: Annotated[float | None, "mean"]
    low: Annotated[float | None, "lower end of the mean's interval, yards"]
    high: Annotated[float | None, "upper end of the mean's interval, yards"]
    bias_pct: float | None
    spread_yd: Annotated[float | None, "standard deviation"]
    half_within_yd: Annotated[float | None, "median absolute error"]
    half_within_pct: float | None
    lacking: Annotated[str | None, "why there is no figure"]
    words: str


class PartSwingBand(PartSwingRow):
    """Part swings by the share of the full distance that was taken off."""

    taken_off: str


class PartSwingClub(PartSwingRow):
    """Part swings of one club."""

    club: str
    full_yd: Annotated[float | None, "how far its full swing goes"]


class PartSwings(TypedDict):
    """Part swings of a player or of one club."""

    shots: Annotated[int, "part swings with a target"]
    measured: int
    not_measured: int
    total: PartSwingRow
    bands: list[PartSwingBand]
    clubs: list[PartSwingClub]


class Cost(TypedDict):
    """Some shots less others from like places; null where nothing can be stated."""

    difference: Annotated[float | None, "below zero: it costs"]
    low: float | None
    high: float | None
    shots: Annotated[int, "of these shots, those from places that the others have too; 0 where too few are known"]
    others: Annotated[int, "shots that they are compared with"]
    lacking: Annotated[str | None, "why nothing is stated"]


class RecordedValue(TypedDict):
    """One strike, planned height or planned shape of a club."""

    value: Annotated[str, "as the record has it; `not centre`: every strike but the clean one"]
    shots: int
    share: Annotated[FigureRow, "of the shots where the field was recorded"]
    yards: Annotated[Cost | None, "length of full swings; null for the clean strike, with which others are compared"]
    strokes: Annotated[Cost, "strokes gained a shot, compared with the club's shots where another value was recorded"]


class RecordedField(TypedDict):
    """What the shots of a club record of one field."""

    field: Annotated[str, "strike, planned_height or planned_shape"]
    told: Annotated[int, "shots that record it: these alone count"]
    not_told: int
    rounds: Annotated[int, "with a shot where it was recorded"]
    yards_against: Annotated[str | None, "the value with which yards are compared; null: every other value"]
    values: list[RecordedValue]


class RecordedClub(TypedDict):
    """What the player recorded of the shots with a club; fields never recorded are left out."""

    club: str
    fields: list[RecordedField]


class RecordedOfAll(TypedDict):
    """For how many shots of all clubs a field was recorded."""

    field: str
    told: int
    not_told: int
