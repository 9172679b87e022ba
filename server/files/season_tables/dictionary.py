"""The data dictionary of the season tables, read from dictionary.toml: columns in order, types, units, meanings.

Everything that is written about a column comes from here: Parquet fields, datapackage.json, rows of units, the
printed form.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any, Final

import pyarrow as pa

from server.analysis.evidence.tallies import TOTAL
from server.analysis.strokes_gained.attribution import BASES
from server.game.categories import SCHEMES
from server.game.hole_conditions import PIN_DEPTHS, PIN_SIDES, WINDS
from server.game.lengths_taken import LENGTHS_TAKEN
from server.game.lies import LIES
from server.game.order_of_play import KINDS
from server.game.penalties import REASONS
from server.game.practice import PLACES
from server.game.units import UNITS
from server.records import practice_fields, shot_fields
from server.records.schemas import FIRMNESS, SORTS
from server.records.shot_fields import BY_NAME, ShotField

SOURCE: Final = Path(__file__).with_name("dictionary.toml")

STRING: Final = "string"
INTEGER: Final = "integer"
NUMBER: Final = "number"
BOOLEAN: Final = "boolean"
DATE: Final = "date"
ARROW_TYPES: Final[dict[str, pa.DataType]] = {
    STRING: pa.string(),
    INTEGER: pa.int64(),
    NUMBER: pa.float64(),
    BOOLEAN: pa.bool_(),
    DATE: pa.date32(),
}
"""Every type of a column, and what it is in Parquet."""

LISTS: Final[dict[str, Sequence[str]]] = {
    "lies": LIES,
    "kinds": KINDS,
    "reasons": REASONS,
    "units": UNITS,
    "sorts": SORTS,
    "firmness": FIRMNESS,
    "lengths_taken": LENGTHS_TAKEN,
    "winds": WINDS,
    "pin_depths": PIN_DEPTHS,
    "pin_sides": PIN_SIDES,
    "places": PLACES,
    "bases": tuple(BASES),
    "schemes": tuple(SCHEMES),
    "categories": tuple(dict.fromkeys(name for scheme in SCHEMES.values() for name in scheme)),
    "parts": (TOTAL, *dict.fromkeys(name for scheme in SCHEMES.values() for name in scheme)),
}
"""Lists of the game that `one_of` may name."""

_GAINED: Final = {"strokes_gained", "course_effect"}
"""Columns that tell strokes gained."""


@dataclass(frozen=True)
class Column:
    """What a column is. `unit`: empty where there is none. `above`: values are greater than it."""

    name: str
    type: str
    meaning: str
    unit: str = ""
    format: str = ""
    required: bool = False
    minimum: float | None = None
    maximum: float | None = None
    above: float | None = None
    one_of: tuple[str, ...] = ()
    blank_for_no: bool = False

    def __post_init__(self) -> None:
        if self.type not in ARROW_TYPES:
            raise ValueError(f"{self.name}: type {self.type!r} is not one of {', '.join(ARROW_TYPES)}")
        if not self.meaning:
            raise ValueError(f"{self.name}: has no meaning")

    @property
    def is_free_text(self) -> bool:
        """True for words that a person typed, which could be anything."""
        return self.type == STRING and not self.one_of and self.format != "uuid"

    @property
    def range(self) -> str:
        """What values are taken, in words."""
        if self.one_of:
            return ", ".join(self.one_of)
        low = f"above {self.above:g}" if self.above is not None else ""
        low = f"from {self.minimum:g}" if self.minimum is not None else low
        return f"{low} to {self.maximum:g}".strip() if self.maximum is not None else low

    def arrow_field(self) -> pa.Field:
        """The field of a Parquet schema, unit and meaning in its metadata."""
        stated = {"unit": self.unit, "meaning": self.meaning, "range": self.range}
        metadata = {name: words for name, words in stated.items() if words}
        return pa.field(self.name, ARROW_TYPES[self.type], not self.required, metadata)


@dataclass(frozen=True)
class TableWords:
    """What a table is: its columns in order, and the columns that tell its rows apart."""

    name: str
    title: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The columns' names in order."""
        return tuple(column.name for column in self.columns)

    @property
    def holds_strokes_gained(self) -> bool:
        """True when the table tells strokes gained, which stay hidden while a competition round is open."""
        return not _GAINED.isdisjoint(self.names)

    def schema(self, about: Mapping[str, str] | None = None) -> pa.Schema:
        """The Arrow schema; `about`: what the file says of itself."""
        return self._plain_schema.with_metadata(dict(about or {}))

    @cached_property
    def _plain_schema(self) -> pa.Schema:
        return pa.schema([column.arrow_field() for column in self.columns])


@dataclass(frozen=True)
class _Source:
    columns: dict[str, dict[str, Any]] = field(default_factory=dict)
    tables: dict[str, dict[str, Any]] = field(default_factory=dict)


@lru_cache(maxsize=1)
def tables() -> dict[str, TableWords]:
    """Every season table by name, in the order in which they are reported."""
    return read_dictionary(SOURCE.read_text(encoding="utf-8"))


def read_dictionary(words: str) -> dict[str, TableWords]:
    """The tables of a dictionary's text. ValueError for a column that is not described, or not as it must be."""
    source = _Source(**tomllib.loads(words))
    return {name: _table(name, about, source.columns) for name, about in source.tables.items()}


def _table(name: str, about: dict[str, Any], shared: dict[str, dict[str, Any]]) -> TableWords:
    own = about.get("own", {})
    missing = [column for column in about["columns"] if column not in own and column not in shared]
    if missing:
        raise ValueError(f"table {name}: column {', '.join(missing)} is not described")
    stray = [column for column in (*own, *about["key"]) if column not in about["columns"]]
    if stray:
        raise ValueError(f"table {name}: {', '.join(stray)} is no column of it")
    columns = tuple(_column(column, own.get(column) or shared[column]) for column in about["columns"])
    return TableWords(name, about["title"], columns, tuple(about["key"]))


TYPE_OF_FIELD: Final = {
    shot_fields.ID: STRING,
    shot_fields.INTEGER: INTEGER,
    shot_fields.NUMBER: NUMBER,
    shot_fields.CHOICE: STRING,
    shot_fields.FLAG: BOOLEAN,
    shot_fields.TEXT: STRING,
}


def _of_shot(field: ShotField) -> dict[str, Any]:
    """What the table of a shot's fields says of one."""
    found: dict[str, Any] = {
        "type": TYPE_OF_FIELD[field.type],
        "meaning": field.meaning,
        "required": not field.nullable,
    }
    if field.type in (shot_fields.INTEGER, shot_fields.NUMBER):
        found |= {"above" if field.above else "minimum": field.low, "maximum": field.high, "unit": field.unit}
    return found | ({"one_of": field.one_of} if field.one_of else {})


FIELDS_OF: Final[dict[str, Mapping[str, ShotField]]] = {
    "shot": BY_NAME,
    "practice ball": {field.name: field for field in practice_fields.BALL_FIELDS},
}
"""The fields that a column may be, by the record that `of` names; of a shot where it names none."""


def _column(name: str, given: dict[str, Any]) -> Column:
    own = {word: value for word, value in given.items() if word not in ("field", "of")}
    record = given.get("of", "shot")
    fields = FIELDS_OF.get(record, {})
    if "field" in given and given["field"] not in fields:
        raise ValueError(f"{name}: {given['field']!r} is no field of a {record}")
    stated = (_of_shot(fields[given["field"]]) | own) if "field" in given else own
    choices = stated.get("one_of", ())
    found = LISTS.get(choices) if isinstance(choices, str) else choices
    if found is None:
        raise ValueError(f"{name}: one_of {choices!r} is not one of {', '.join(LISTS)}")
    return Column(name, **(stated | {"one_of": tuple(found)}))


def printed() -> str:
    """The dictionary in markdown, one table of columns for each table."""
    parts = []
    for table in tables().values():
        rows = [
            f"| `{column.name}` | {column.type}{' *' if column.required else ''} | {column.unit} | {column.range} "
            f"| {column.meaning} |"
            for column in table.columns
        ]
        key = ", ".join(f"`{name}`" for name in table.key)
        head = ["| column | type | unit | range | meaning |", "|---|---|---|---|---|"]
        parts.append("\n".join([f"### {table.name}", "", f"{table.title}. Key: {key}.", "", *head, *rows]))
    return "\n\n".join(parts) + "\n\n\\* never missing.\n"
