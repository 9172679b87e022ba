"""What is reported of how lengths were taken, key by key. Shares 0 to 1."""

from __future__ import annotations

from typing import Annotated, TypedDict


class RoundNumbers(TypedDict):
    """How many lengths are multiples of a number."""

    lengths: Annotated[int, "lengths in the windows that are looked at"]
    share: Annotated[float | None, "of them multiples; null without one"]
    low: Annotated[float | None, "Wilson's interval"]
    high: float | None
    expected: Annotated[float, "what lengths that favour no number give"]


class Heaping(TypedDict):
    """How strongly entered lengths heap at round numbers."""

    unit: Annotated[str, "ft on the green; yd or m off it"]
    fives: RoundNumbers
    tens: RoundNumbers
    whipple: Annotated[float | None, "Whipple's index of the fives: 100 is none, 500 is all"]
    strong: Annotated[bool, "lengths are surely heaped: the interval of the fives lies above 0.35, an index of 175"]
    words: Annotated[str | None, "a sentence where lengths heap"]


class RoundsTaken(TypedDict):
    """How many rounds recorded one way of taking lengths."""

    lengths_taken: Annotated[str | None, "paced, laser, guessed, position or map; null: not recorded"]
    rounds: int


class CurveMoved(TypedDict):
    """The make-rate from one length if lengths were off."""

    feet: int
    too_long: Annotated[float, "the make-rate if every length had been entered 10 % too long"]
    too_short: Annotated[float, "if every one had been entered 10 % too short"]
    at_random: Annotated[float, "if entered lengths scattered by a further 10 % about the true ones (classical error)"]


class HalfMoved(TypedDict):
    """The length from which half of the putts fall if lengths were off; null outside the curve."""

    too_long: float | None
    too_short: float | None
    at_random: float | None


class CurveSensitivity(TypedDict):
    """What an error of length of 10 % would move in the curve."""

    error: Annotated[float, "the error as a share of the length: 0.1"]
    curve: list[CurveMoved]
    half_ft: HalfMoved
    words: Annotated[str, "a sentence"]


class PuttLengths(TypedDict):
    """How the lengths of putts were taken, and what the curve allows for."""

    taken: list[RoundsTaken]
    heaping: Heaping
    allowed_for: Annotated[
        float | None,
        "largest error of length that the curve allows for, a share of the length; null: lengths are taken as entered",
    ]
    sensitivity: Annotated[CurveSensitivity | None, "null where there is no curve"]
    words: Annotated[list[str], "sentences"]


class CategoryMoved(TypedDict):
    """Strokes gained a round of one category, and its change if lengths were off."""

    category: str
    per_round: float | None
    too_long: Annotated[float | None, "change if every length had been entered 10 % too long"]
    too_short: Annotated[float | None, "change if every one had been entered 10 % too short"]
    at_random: Annotated[
        float | None, "change if true lengths scattered by 10 % about the entered ones (Berkson error)"
    ]


class ShotLengths(TypedDict):
    """How lengths were taken, and what an error of 10 % would move in strokes gained by category."""

    taken: list[RoundsTaken]
    heaping: Annotated[list[Heaping], "on the green, then off it"]
    error: Annotated[float, "the error as a share of the length: 0.1"]
    categories: list[CategoryMoved]
    words: Annotated[list[str], "sentences"]
