"""Many shots at once, a column after the other: typed and put into words as each would be alone, sooner.

Shots that have the same fields are looked at together. What a look at whole columns does not settle, a fault or a value
of another type, is left to the schema, shot by shot.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from json.encoder import encode_basestring_ascii
from typing import Any, Final, NamedTuple

from marshmallow import Schema, ValidationError
from marshmallow.fields import Field

from server.game.lies import GREEN
from server.game.ranges import FARTHEST_ON_GREEN_YD
from server.records.fields import Choice, Flag, Number, Taken, Whole
from server.records.json_types import RecordBody
from server.records.quick import agreeing
from server.records.schemas import SCHEMAS
from server.records.shot_fields import SHOT_FIELDS

_REQUIRED: Final = frozenset(field.name for field in SHOT_FIELDS if field.required)
_DEFAULTS: Final = {field.name: field.default for field in SHOT_FIELDS if not field.required}
_TIED: Final = frozenset({"penalty_reason", "end_lie", "end_distance_yd", "picked_up", "carry_yd", "provisional"})
"""Fields that must agree with others of the shot, as penalty strokes must and the distance on the green."""

Columns = dict[str, Sequence[Any]]


class Ready(NamedTuple):
    """A shot: its body as the log keeps it, and its typed fields."""

    words: str
    fields: RecordBody


def many_shots(bodies: Sequence[RecordBody]) -> list[Ready | None]:
    """What each of these bodies is; None where the schema has to look at it."""
    found: list[Ready | None] = [None] * len(bodies)
    alike: dict[tuple[str, ...], list[int]] = {}
    for place, body in enumerate(bodies):
        alike.setdefault(tuple(body), []).append(place)
    for names, places in alike.items():
        values = zip(*(bodies[place].values() for place in places), strict=True)
        for place, one in zip(places, _alike(dict(zip(names, values, strict=True))), strict=False):
            found[place] = one
    return found


def _alike(columns: Columns) -> Iterable[Ready | None]:
    """Shots of the same fields; nothing where a column is not in order."""
    fields = _fields()
    if not _REQUIRED <= columns.keys() or not columns.keys() <= fields.keys():
        return ()
    try:
        typed = {name: _typed(fields[name], column) for name, column in columns.items()}
    except (ValidationError, TypeError):
        return ()
    names = tuple(typed)
    rows = [{**_DEFAULTS, **dict(zip(names, one, strict=True))} for one in zip(*typed.values(), strict=True)]
    return map(_agreed, _words(columns), rows) if _to_look_at(typed) else map(Ready, _words(columns), rows)


def _agreed(words: str, fields: RecordBody) -> Ready | None:
    return Ready(words, fields) if agreeing(_schema(), fields) else None


def _to_look_at(typed: Columns) -> bool:
    """Whether the fields of a shot among these might not agree."""
    if not _TIED.isdisjoint(typed) or any(typed.get("penalty_strokes", ())):
        return True
    together = zip(typed["lie"], typed["distance_yd"], strict=True)
    return max(typed["distance_yd"]) > FARTHEST_ON_GREEN_YD and any(
        lie == GREEN and far > FARTHEST_ON_GREEN_YD for lie, far in together
    )


@cache
def _fields() -> dict[str, Field[Any]]:
    return {field.name: _schema().load_fields[field.name] for field in SHOT_FIELDS}


def _schema() -> Schema:
    return SCHEMAS["shot"]


def _typed(field: Field[Any], column: Sequence[Any]) -> Sequence[Any]:
    """The typed column. ValidationError where the schema has to look at it."""
    kinds = set(map(type, column))
    if isinstance(field, Number) and kinds == {float}:
        # a sum with what is not a number among its parts is none
        sound = field.low <= min(column) and max(column) <= field.high and math.isfinite(sum(column))
        sound = sound and not (field.above and min(column) == field.low)
    elif isinstance(field, Whole) and kinds == {int}:
        sound = field.low <= min(column) and max(column) <= field.high
    elif isinstance(field, Choice) and kinds == {str}:
        sound = field.names.issuperset(column)
    elif isinstance(field, Flag):
        sound = kinds == {bool}
    elif isinstance(field, Taken) and kinds == {str}:
        found = {value: field.parse(value) for value in set(column)}
        return [found[value] for value in column]
    else:
        sound = False
    if not sound:
        raise ValidationError("is for the schema to look at")
    return column


_WRITERS: Final[dict[type, Callable[[Any], str]]] = {
    bool: {True: "true", False: "false"}.__getitem__,
    int: int.__repr__,
    float: float.__repr__,
}


def _words(columns: Columns) -> Iterable[str]:
    """The canonical JSON of each, as `server.records.changes.canonical` gives it. The columns were found sound: of one
    type each, and finite."""
    names = sorted(columns)
    form = "{" + ",".join(f'"{name}":%s' for name in names) + "}"
    cells = (_cells(columns[name]) for name in names)
    return map(form.__mod__, zip(*cells, strict=True))


def _cells(column: Sequence[Any]) -> Iterable[str]:
    write = _WRITERS.get(type(column[0]))
    if write is not None:
        return map(write, column)
    found = {value: encode_basestring_ascii(value) for value in set(column)}
    return map(found.__getitem__, column)
