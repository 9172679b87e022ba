"""Field types of the records: strict numbers, choices, text, ids, days, and the range each states in its error.

Every type has `parse`, which turns one value into its typed form or raises ValidationError. marshmallow calls it
through `_deserialize`; `server.records.quick` calls it alone.
"""

from __future__ import annotations

import math
import re
import uuid
from collections.abc import Sequence
from datetime import date
from typing import Any, Final, TypeVar

from marshmallow import ValidationError, fields, validate

from server.game import positions
from server.records.times import RANGE, utc

Typed = TypeVar("Typed")

_UNSTORABLE: Final = re.compile("[\0\ud800-\udfff]")
_PLAIN_DAY: Final = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")
_CANONICAL_UUID: Final = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


class Taken(fields.Field[Typed]):
    """A field that is one call of `parse`. `about`: what its metadata says, its range first of all."""

    def __init__(self, about: dict[str, Any], **more: Any) -> None:
        super().__init__(metadata=about | more.pop("metadata", {}), **more)

    def parse(self, value: Any) -> Typed:
        """The typed value. Raises ValidationError."""
        raise NotImplementedError

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Typed:
        return self.parse(value)


class Number(Taken[float]):
    """A finite JSON number between bounds; text, true/false and NaN are refused."""

    def __init__(self, low: float, high: float, unit: str = "", *, above: bool = False, **more: Any) -> None:
        self.low, self.high, self.above = low, high, above
        start = f"above {low:g}" if above else f"{low:g}"
        bounds = {"exclusiveMinimum" if above else "minimum": low, "maximum": high}
        super().__init__({"range": f"{start} to {high:g} {unit}".strip(), **bounds}, **more)

    def parse(self, value: Any) -> float:
        """The number as a float."""
        if type(value) in (float, int) and self.low < value <= self.high:
            return float(value)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValidationError("is not a number")
        if isinstance(value, float) and not math.isfinite(value):
            raise ValidationError("is not a finite number")
        if not self.low <= value <= self.high or (self.above and value == self.low):
            raise ValidationError("is outside its range")
        return float(value)


class WholeNumber(Taken[int]):
    """A JSON integer between bounds, both included."""

    def __init__(self, low: int, high: int, **more: Any) -> None:
        self.low, self.high = low, high
        super().__init__({"range": f"{low} to {high}, whole numbers", "minimum": low, "maximum": high}, **more)

    def parse(self, value: Any) -> int:
        """The number as an int."""
        if type(value) is int and self.low <= value <= self.high:
            return value
        if isinstance(value, bool) or not isinstance(value, int | float) or value != value // 1:
            raise ValidationError("is not a whole number")
        if not self.low <= value <= self.high:
            raise ValidationError("is outside its range")
        return int(value)


class Flag(Taken[bool]):
    """true or false, nothing that only looks like it."""

    def __init__(self, **more: Any) -> None:
        super().__init__({"range": "true or false"}, **more)

    def parse(self, value: Any) -> bool:
        """The flag."""
        if not isinstance(value, bool):
            raise ValidationError("is neither true nor false")
        return value


class Choice(Taken[str]):
    """One of some names."""

    def __init__(self, names: Sequence[str], **more: Any) -> None:
        self.names = frozenset(names)
        super().__init__({"range": ", ".join(names), "enum": list(names)}, **more)

    def parse(self, value: Any) -> str:
        """The name."""
        if not isinstance(value, str) or value not in self.names:
            raise ValidationError("is not one of its values")
        return value


class Text(Taken[str]):
    """Text of a stated length, without the characters that no database keeps (NUL, halves of surrogate pairs)."""

    def __init__(self, longest: int, shortest: int = 0, **more: Any) -> None:
        self.longest, self.shortest = longest, shortest
        bounds = {"minLength": shortest, "maxLength": longest}
        super().__init__({"range": f"{shortest} to {longest} characters", **bounds}, **more)

    def parse(self, value: Any) -> str:
        """The text."""
        if not isinstance(value, str):
            raise ValidationError("is not text")
        if not self.shortest <= len(value) <= self.longest:
            raise ValidationError("has the wrong length")
        if not value.isprintable() and _UNSTORABLE.search(value):
            raise ValidationError("holds a character that cannot be stored")
        return value


class Identity(Taken[str]):
    """The id of a record or a change: a UUID, kept as lower-case text."""

    def __init__(self, **more: Any) -> None:
        super().__init__({"range": "a UUID", "format": "uuid"}, **more)

    def parse(self, value: Any) -> str:
        """The id in its canonical form."""
        if not isinstance(value, str):
            raise ValidationError("is not a UUID")
        if _CANONICAL_UUID.fullmatch(value):
            return value
        try:
            return str(uuid.UUID(value))
        except ValueError as error:
            raise ValidationError("is not a UUID") from error


class Day(Taken[date]):
    """A day, as YYYY-MM-DD."""

    def __init__(self, **more: Any) -> None:
        super().__init__({"range": "a day, YYYY-MM-DD", "format": "date"}, **more)

    def parse(self, value: Any) -> date:
        """The day."""
        try:
            if isinstance(value, str) and _PLAIN_DAY.fullmatch(value):
                return date.fromisoformat(value)
        except ValueError:
            pass
        raise ValidationError("is not a day")


class Time(Taken[str]):
    """A time, kept as it was written: the clock of a device may be wrong, and is never a reason to refuse."""

    def __init__(self, **more: Any) -> None:
        self.text = Text(40, 1)
        super().__init__({"range": RANGE, "format": "date-time"}, **more)

    def parse(self, value: Any) -> str:
        """The time as it was written."""
        try:
            words = self.text.parse(value)
            utc(words)
        except (ValidationError, ValueError, OverflowError, TypeError) as error:
            raise ValidationError("is not a time") from error
        return words


class Bounded(fields.List[Any]):
    """A list of a stated length. The length is looked at before the entries: of a list that is too long none is read,
    and none is complained of."""

    def __init__(self, inner: fields.Field[Any], length: validate.Length, range_: str, **more: Any) -> None:
        self.length = length
        super().__init__(inner, validate=length, metadata={"range": range_} | more.pop("metadata", {}), **more)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> list[Any]:
        if isinstance(value, list):
            self.length(value)
        return super()._deserialize(value, attr, data, **kwargs)


class ListOf(Bounded):
    """A list of one of the types above, of a stated length."""

    def __init__(self, inner: Taken[Any] | ListOf, most: int, things: str, **more: Any) -> None:
        self.one = inner
        length = validate.Length(0, most, error="has too many entries")
        super().__init__(inner, length, f"up to {most} {things}", **more)

    def parse(self, value: Any) -> list[Any]:
        """The typed list."""
        if not isinstance(value, list):
            raise ValidationError("is not a list")
        self.length(value)
        return [self.one.parse(entry) for entry in value]


class Position(ListOf):
    """A position on the earth: longitude, latitude and, where it is known, accuracy (`server.game.positions`)."""

    def __init__(self, **more: Any) -> None:
        about = {"range": positions.RANGE} | more.pop("metadata", {})
        super().__init__(Number(-180, 1e6), 3, "numbers: lon, lat, accuracy_m", metadata=about, **more)

    def parse(self, value: Any) -> list[float]:
        """The two or three numbers."""
        found = super().parse(value)
        if fault := positions.position_fault(found):
            raise ValidationError(fault)
        return found

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> list[Any]:
        found = super()._deserialize(value, attr, data, **kwargs)
        if fault := positions.position_fault(found):
            raise ValidationError(fault)
        return found


class Entries(fields.List[Any]):
    """A list whose entries a check of the full record looks at, not one field after another."""

    def parse(self, value: Any) -> list[Any]:
        """The list as it is."""
        if not isinstance(value, list):
            raise self.make_error("invalid")
        return value

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> list[Any]:
        return self.parse(value)


DESCRIBED: Final[tuple[tuple[type[Taken[Any]], str, str | None], ...]] = (
    (Number, "number", None),
    (WholeNumber, "integer", None),
    (Flag, "boolean", None),
    (Choice, "string", None),
    (Text, "string", None),
    (Identity, "string", "uuid"),
    (Day, "string", "date"),
    (Time, "string", "date-time"),
)
"""The type and the format of each field in JSON, as the description of the API states them."""
