"""Putting and the comparison of two putters, key by key. Lengths are feet, shares 0 to 1."""

from __future__ import annotations

from typing import Annotated, NotRequired, TypedDict

from server.analysis.lengths.rows import PuttLengths
from server.analysis.strokes_gained.rows import SummaryRow, SummaryTotal


class CurveRow(TypedDict):
    """The make-rate from one length."""

    feet: int
    rate: float
    low: float
    high: float
    tour: Annotated[float, "the tour's make-rate"]
    putts_near: int
    leans_on_tour: Annotated[bool, "few putts were near: the curve is mostly the tour's"]


class MakeRateCurve(TypedDict):
    """The make-rate by length."""

    curve: Annotated[list[CurveRow], "empty below 20 putts"]
    half_ft: Annotated[float | None, "the length from which half of the putts are holed"]
    half_low_ft: Annotated[float | None, "its interval: where the ends of the curve's band cross one half"]
    half_high_ft: float | None
    tour_half_ft: float | None
    lacking: Annotated[str | None, "why there is no curve"]
    lengths: Annotated[PuttLengths, "how the lengths were taken, and what the curve allows for"]


class PuttBand(TypedDict):
    """What fell, of putts in a band of length."""

    band: str
    feet: Annotated[float, "mean length"]
    putts: int
    holed: int
    share: float
    low: Annotated[float, "Wilson's interval"]
    high: float
    tour: Annotated[float, "share that the tour would hole"]


class PuttsGained(TypedDict):
    """Strokes gained with the ball of record's putts, by length, nearest first."""

    rows: list[SummaryRow]
    total: SummaryTotal


class FirstPuttBand(TypedDict):
    """First putts in a band of length."""

    band: str
    putts: int
    share: float


class FirstPutts(TypedDict):
    """The mix of first putts of the ball of record."""

    holes: int
    median_ft: float | None
    bands: list[FirstPuttBand]


class ThreePutts(TypedDict):
    """Holes with three putts or more, of the finished holes on whose green the ball of record was putted."""

    holes: int
    three_putts: int
    share: Annotated[float | None, "null below 18 holes"]
    low: Annotated[float | None, "Wilson's interval"]
    high: float | None
    lacking: Annotated[str | None, "why there is no share"]


class Left(TypedDict):
    """What some missed putts leave."""

    misses: int
    median_ft: Annotated[float | None, "null below 5 misses"]
    close: Annotated[float | None, "share that stopped within 3 ft"]


class LeftBand(Left):
    """The same of a band of length."""

    band: str


class Speed(TypedDict):
    """What missed putts leave."""

    misses: int
    bands: list[LeftBand]
    far: Annotated[Left, "from 20 ft and more"]
    told: Annotated[int, "misses whose finish was tapped"]
    short: Annotated[int, "of these, how many stopped short"]


class PuttingReport(MakeRateCurve):
    """A player's putting, or that with one putter."""

    putts: int
    rounds: int
    holed: int
    bands: list[PuttBand]
    gained: PuttsGained
    first_putts: FirstPutts
    three_putts: ThreePutts
    speed: Speed


class PutterSide(TypedDict):
    """One of two putters."""

    name: str
    putts: int
    rate: NotRequired[Annotated[float, "over the player's own mix of lengths; missing where too few putts"]]


class PutterRates(TypedDict):
    """Make-rates of both from one length."""

    feet: int
    a: float
    b: float


class PutterComparison(TypedDict):
    """Two putters compared over the player's own mix of lengths; null where there are too few putts."""

    a: PutterSide
    b: PutterSide
    minimum_effect: Annotated[float, "the smallest difference that matters"]
    difference: Annotated[float | None, "A less B"]
    low: float | None
    high: float | None
    chance_a_better: float | None
    putts_needed: Annotated[int | None, "with each, to settle the minimum effect"]
    feet: list[PutterRates]
    words: Annotated[str, "the difference in a sentence; which putter is better is the trial's to say"]
