"""Many shots at once, a column after the other: typed and put into words as each would be alone, sooner.

What a look at entire columns does not settle, a fault or a value of another type, is left to the schema, shot by shot.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cache
from json.encoder import encode_basestring_ascii
from typing import Any, Final, NamedTuple

from marshmallow import ValidationError
from marshmallow.fields import Field

from server.game.lies import GREEN
from server.game.ranges import FARTHEST_ON_GREEN_YD
from server.records.fields import Choice, Flag, Number, Position, Taken, WholeNumber
from server.records.json_types import RecordBody
from server.records.quick import agreeing
from server.records.schemas import SCHEMAS
from server.records.shot_fields import SHOT_FIELDS

NAMES: Final = tuple(field.name for field in SHOT_FIELDS)
_DEFAULTS: Final = {field.name: field.default for field in SHOT_FIELDS if not field.required}
_TIED: Final = (
    "penalty_strokes",
    "penalty_reason",
    "end_lie",
    "end_distance_yd",
    "picked_up",
    "carry_yd",
    "provisional",
)
"""Fields that must agree with others of the shot where they are given, as the distance on the green must."""

Column = Sequence[Any]


def at(places: Iterable[int], column: Column) -> Column:
    """What a column has at some places."""
    return [column[place] for place in places]


@dataclass(frozen=True)
class ShotColumns:
    """What is recorded of shots, a column after the other. `values`: by the names of `NAMES`, None where nothing is."""

    record_ids: Sequence[str]
    values: Mapping[str, Column]

    def __len__(self) -> int:
        return len(self.record_ids)

    def body(self, place: int) -> RecordBody:
        """The body of one record."""
        values = ((name, self.values[name][place]) for name in NAMES)
        return {name: value for name, value in values if value is not None}

    def chosen(self, places: Sequence[int]) -> ShotColumns:
        """Those at some places."""
        values = {name: at(places, column) for name, column in self.values.items()}
        return ShotColumns(at(places, self.record_ids), values)


class Ready(NamedTuple):
    """Shots that were looked at: their bodies as the log keeps them, and their typed fields by name. `doubtful`: places
    where the schema has to look itself; with a column that is not in order those are all, and there is nothing else."""

    words: Sequence[str]
    typed: Mapping[str, Column]
    doubtful: Set[int]


def many_shots(values: Mapping[str, Column]) -> Ready:
    """What each of these shots is: `values` as those of `ShotColumns`."""
    count = len(values[NAMES[0]])
    if not count:
        return Ready([], {name: [] for name in NAMES}, frozenset())
    gaps = {name: values[name].count(None) for name in NAMES}
    try:
        typed = {name: _typed(name, values[name], gaps[name]) for name in NAMES}
    except (ValidationError, TypeError):
        return Ready([], {}, set(range(count)))
    recorded = {name: values[name] for name in NAMES if gaps[name] < count}
    doubtful = {
        place
        for place in _to_look_at(typed)
        if not agreeing(SCHEMAS["shot"], {name: column[place] for name, column in typed.items()})
    }
    return Ready(list(_words(recorded)), typed, doubtful)


def _to_look_at(typed: Mapping[str, Column]) -> set[int]:
    """The shots whose fields might not agree."""
    tied = [column for name in _TIED if any(column := typed[name])]
    found = {place for column in tied for place, value in enumerate(column) if value}
    far = typed["distance_yd"]
    if max(far) > FARTHEST_ON_GREEN_YD:
        found.update(
            place for place, lie in enumerate(typed["lie"]) if lie == GREEN and far[place] > FARTHEST_ON_GREEN_YD
        )
    return found


@cache
def _field(name: str) -> Field[Any]:
    return SCHEMAS["shot"].load_fields[name]


def _typed(name: str, column: Column, gaps: int) -> Column:
    """The typed column. ValidationError where the schema has to look at it. `gaps`: how many lack it."""
    if gaps and name not in _DEFAULTS:
        raise ValidationError("is missing")
    if gaps == len(column):
        return [_DEFAULTS[name]] * gaps
    field = _field(name)
    values = [value for value in column if value is not None] if gaps else column
    kinds = set(map(type, values))
    if isinstance(field, WholeNumber):
        sound = kinds == {int} and field.low <= min(values) and max(values) <= field.high
    elif isinstance(field, Number):
        sound = kinds == {float} and field.low <= min(values) and max(values) <= field.high
        # a sum with what is not a number among its parts is none
        sound = sound and math.isfinite(sum(values)) and not (field.above and min(values) == field.low)
    elif isinstance(field, Choice):
        sound = field.names.issuperset(values)
    elif isinstance(field, Flag):
        sound = kinds == {bool}
    elif isinstance(field, Taken) and kinds == {str}:
        found = {value: field.parse(value) for value in set(values)} | {None: None}
        return [found[value] for value in column]
    elif isinstance(field, Position):
        return [None if value is None else field.parse(value) for value in column]
    else:
        sound = False
    if not sound:
        raise ValidationError("is for the schema to look at")
    default = _DEFAULTS.get(name)
    return column if not gaps or default is None else [default if one is None else one for one in column]


_MOST_KEPT: Final = 1_000
"""Pieces of words of one field that are remembered."""


class _Pieces(dict[Any, str]):
    """What a field adds to the words of a body, by its value; nothing where it is not recorded."""

    def __init__(self, name: str) -> None:
        super().__init__({None: ""})
        self._begin = f',"{name}":'

    def __missing__(self, value: Any) -> str:
        piece = self._begin + _written(value)
        # 0.0 and -0.0 are equal, and written otherwise
        if len(self) < _MOST_KEPT and (value or not isinstance(value, float)):
            self[value] = piece
        return piece


@cache
def _pieces_kept(name: str) -> _Pieces:
    """Those of a field whose values come again and again: a number, a choice, a flag."""
    return _Pieces(name)


def _written(value: Any) -> str:
    if isinstance(value, str):
        return encode_basestring_ascii(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return float.__repr__(value) if isinstance(value, float) else int.__repr__(value)


def _pieces(name: str, column: Column) -> Iterable[str]:
    if name != "position":
        comes_again = isinstance(_field(name), WholeNumber | Number | Choice | Flag)
        return map((_pieces_kept(name) if comes_again else _Pieces(name)).__getitem__, column)
    return ("" if place is None else f',"{name}":[{",".join(map(_written, place))}]' for place in column)


def _words(recorded: Mapping[str, Column]) -> Iterable[str]:
    """The canonical JSON of each, as `server.records.changes.canonical` gives it. The columns were found sound: of one
    type each, and finite."""
    pieces = (_pieces(name, recorded[name]) for name in sorted(recorded))
    return (f"{{{words[1:]}}}" for words in map("".join, zip(*pieces, strict=True)))
