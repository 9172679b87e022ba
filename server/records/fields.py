"""Field types of the records: strict numbers, choices, text, and the range each states in its error."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from marshmallow import ValidationError, fields, validate


class Number(fields.Field[float]):
    """A finite JSON number between bounds; text, true/false and NaN are refused."""

    def __init__(self, low: float, high: float, unit: str = "", *, above: bool = False, **more: Any) -> None:
        self.low, self.high, self.unit, self.above = low, high, unit, above
        start = f"above {low:g}" if above else f"{low:g}"
        words = f"{start} to {high:g} {unit}".strip()
        more.setdefault("metadata", {})["range"] = words
        more["metadata"] |= {"minimum": low, "maximum": high}
        super().__init__(**more)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValidationError("is not a number")
        if isinstance(value, float) and not math.isfinite(value):
            raise ValidationError("is not a finite number")
        too_low = value <= self.low if self.above else value < self.low
        if too_low or value > self.high:
            raise ValidationError("is outside its range")
        return float(value)


class Whole(fields.Field[int]):
    """A whole JSON number between bounds, both included."""

    def __init__(self, low: int, high: int, **more: Any) -> None:
        self.low, self.high = low, high
        more.setdefault("metadata", {})["range"] = f"{low} to {high}, whole numbers"
        more["metadata"] |= {"minimum": low, "maximum": high}
        super().__init__(**more)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int | float) or value != value // 1:
            raise ValidationError("is not a whole number")
        if not self.low <= value <= self.high:
            raise ValidationError("is outside its range")
        return int(value)


class Flag(fields.Field[bool]):
    """true or false, nothing that only looks like it."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("metadata", {})["range"] = "true or false"
        super().__init__(**more)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> bool:
        if not isinstance(value, bool):
            raise ValidationError("is neither true nor false")
        return value


def choice(names: Sequence[str], **more: Any) -> fields.String:
    """One of the names."""
    words = ", ".join(names)
    return fields.String(
        validate=validate.OneOf(list(names), error="is not one of its values"),
        metadata={"range": words},
        **more,
    )


def _storable(words: str) -> None:
    """Refuse what no database keeps: the NUL character and halves of surrogate pairs."""
    if any(character == "\0" or "\ud800" <= character <= "\udfff" for character in words):
        raise ValidationError("holds a character that cannot be kept")


def text(longest: int, shortest: int = 0, **more: Any) -> fields.String:
    """Text of a stated length."""
    return fields.String(
        validate=[validate.Length(shortest, longest, error="has the wrong length"), _storable],
        metadata={"range": f"{shortest} to {longest} characters"},
        **more,
    )


def identity(**more: Any) -> fields.UUID:
    """The id of a record."""
    return fields.UUID(metadata={"range": "a UUID"}, error_messages={"invalid_uuid": "is not a UUID"}, **more)


def day(**more: Any) -> fields.Date:
    """A day, as YYYY-MM-DD."""
    return fields.Date(
        format="iso",
        metadata={"range": "a day, YYYY-MM-DD"},
        error_messages={"invalid": "is not a day"},
        **more,
    )
