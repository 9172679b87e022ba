"""Where a record says on the earth its player was, and the record without it: positions are personal."""

from __future__ import annotations

from typing import Any, Final

PERSONAL: Final = frozenset({"position", "flag"})
"""Fields that hold a position: of a shot, and of a hole of a round."""


def without_positions(value: Any) -> Any:
    """A JSON value without the fields that hold a position, however deep they lie; the value itself stays as it is."""
    if isinstance(value, dict):
        return {name: without_positions(inner) for name, inner in value.items() if name not in PERSONAL}
    if isinstance(value, list):
        return [without_positions(inner) for inner in value]
    return value


def is_of_position(field: str) -> bool:
    """Whether the dotted path of a fault leads to a position."""
    return not PERSONAL.isdisjoint(field.split("."))
