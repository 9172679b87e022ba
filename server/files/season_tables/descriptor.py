"""The descriptor of a season's tables: a Data Package (datapackage.json) with fields, units, meanings and sources.

Source: Data Package and Table Schema, https://datapackage.org (standard 1.0; `unit`, `above`, `baseline`, `season` and
`tool` are properties of our own, which the standard allows).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Final, NotRequired, TypedDict

from server import VERSION
from server.files.season_tables.csv_writer import NO, YES
from server.files.season_tables.dictionary import BOOLEAN, DATE, Column, TableWords, tables
from server.files.season_tables.parquet_writer import FileFacts
from server.files.season_tables.seasons import Season
from server.files.season_tables.writing import CSV, MEDIA_TYPES, PARQUET, TOOL, XLSX
from server.files.season_tables.xlsx_writer import HEADER_ROWS
from server.records.json_types import JsonObject

DESCRIPTOR: Final = "datapackage.json"


class Constraints(TypedDict):
    """What a field's values keep to."""

    required: NotRequired[bool]
    minimum: NotRequired[float]
    maximum: NotRequired[float]
    enum: NotRequired[list[str]]


class FieldDescription(TypedDict):
    """A field of a table."""

    name: str
    type: str
    description: str
    unit: NotRequired[str]
    format: NotRequired[str]
    trueValues: NotRequired[list[str]]
    falseValues: NotRequired[list[str]]
    constraints: NotRequired[Constraints]
    above: NotRequired[Annotated[float, "the values are above this one"]]


class Reference(TypedDict):
    """The table and the fields that a foreign key names."""

    resource: str
    fields: list[str]


class ForeignKey(TypedDict):
    """Fields that name a row of another table."""

    fields: list[str]
    reference: Reference


class TableDescription(TypedDict):
    """The fields of a table (Table Schema)."""

    fields: list[FieldDescription]
    primaryKey: list[str]
    missingValues: list[str]
    foreignKeys: NotRequired[list[ForeignKey]]


class Resource(TypedDict):
    """A table as a file."""

    name: str
    title: str
    path: str
    format: str
    mediatype: str
    profile: str
    type: str
    bytes: NotRequired[int]
    hash: NotRequired[str]
    encoding: NotRequired[str]
    dialect: NotRequired[JsonObject]
    schema: NotRequired[TableDescription]


class PackageBaseline(TypedDict):
    """What strokes gained are reported against."""

    id: str
    version: str
    title: str
    source: str


class Tool(TypedDict):
    """What wrote the package."""

    name: str
    version: str


class Licence(TypedDict):
    """On what terms."""

    name: str
    title: str


class Source(TypedDict):
    """Where figures come from."""

    title: str


class DataPackage(TypedDict):
    """The tables of a season (Data Package): fields, units, meanings, sources, baseline."""

    profile: str
    name: str
    title: str
    description: str
    season: int
    baseline: PackageBaseline
    tool: Tool
    licenses: list[Licence]
    sources: list[Source]
    resources: list[Resource]


LICENCE: Final[Licence] = {
    "name": "notspecified",
    "title": "The shots belong to the players who logged them; ask them before passing any of it on",
}
"""The tool's own licence says nothing about the data that people put into it."""


def descriptor(season: Season, files: Iterable[tuple[str, str, str, FileFacts]]) -> DataPackage:
    """The package of `files`: (table, format, path, what more is known of the file: bytes, hash)."""
    baseline = season.baseline
    reported = [(tables()[name], format_, path, more) for name, format_, path, more in files]
    has_rounds = any((table.name, format_) == ("rounds", CSV) for table, format_, *_ in reported)
    return {
        "profile": "data-package",
        "name": f"season-{season.year}",
        "title": f"Season {season.year}: shots, holes, rounds, clubs, setups, strokes gained and practice",
        "description": (
            f"Strokes gained against the baseline {baseline.id} {baseline.version}. Missing values are empty. Words in "
            "a CSV that a spreadsheet would run have an apostrophe before them; importing the table takes it away."
        ),
        "season": season.year,
        "baseline": {
            "id": baseline.id,
            "version": baseline.version,
            "title": baseline.about.title,
            "source": baseline.about.source,
        },
        "tool": {"name": TOOL, "version": VERSION},
        "licenses": [LICENCE],
        "sources": [
            {"title": f"Shots logged by the players with {TOOL} {VERSION}"},
            {"title": f"Baseline {baseline.id} {baseline.version}: {baseline.about.source}"},
        ],
        "resources": [_resource(*one, has_rounds) for one in reported],
    }


def _resource(table: TableWords, format_: str, path: str, more: FileFacts, has_rounds: bool) -> Resource:
    found: Resource = {
        "name": table.name if format_ == CSV else f"{table.name}_{format_}",
        "title": table.title,
        "path": path,
        "format": format_,
        "mediatype": MEDIA_TYPES[format_].split(";", maxsplit=1)[0],
        "profile": "data-resource" if format_ == PARQUET else "tabular-data-resource",
        "type": "file" if format_ == PARQUET else "table",
    }
    if "bytes" in more:
        found["bytes"] = more["bytes"]
    if "hash" in more:
        found["hash"] = more["hash"]
    if format_ == PARQUET:
        # its schema, with units and meanings, lies in the file
        return found
    schema: TableDescription = {
        "fields": [_field(column, format_) for column in table.columns],
        "primaryKey": list(table.key),
        "missingValues": [""],
    }
    found["schema"] = schema
    if format_ == CSV and has_rounds and "round_id" in table.names and table.name != "rounds":
        schema["foreignKeys"] = [{"fields": ["round_id"], "reference": {"resource": "rounds", "fields": ["round_id"]}}]
    if format_ == CSV:
        found["encoding"] = "utf-8"
        found["dialect"] = {"csv": {"delimiter": ",", "lineTerminator": "\r\n"}}
    if format_ == XLSX:
        found["dialect"] = {"commentRows": list(range(2, HEADER_ROWS + 1)), "excel": {"sheet": table.name}}
    return found


def _field(column: Column, format_: str) -> FieldDescription:
    found: FieldDescription = {"name": column.name, "type": column.type, "description": column.meaning}
    if column.unit:
        found["unit"] = column.unit
    if column.format:
        found["format"] = column.format
    if column.type == BOOLEAN and format_ == CSV:
        found["trueValues"], found["falseValues"] = [YES], [NO]
    if column.type == DATE:
        found["format"] = "default"
    if constraints := _constraints(column, format_):
        found["constraints"] = constraints
    if column.above is not None:
        found["above"] = column.above
    return found


def _constraints(column: Column, format_: str) -> Constraints:
    found: Constraints = {}
    if column.required and not (column.blank_for_no and format_ == CSV):
        found["required"] = True
    if column.minimum is not None:
        found["minimum"] = _without_fraction(column.minimum)
    if column.maximum is not None:
        found["maximum"] = _without_fraction(column.maximum)
    if column.one_of:
        found["enum"] = list(column.one_of)
    return found


def _without_fraction(bound: float) -> float:
    """A bound without a fraction as a whole number, so that it is written as one."""
    return int(bound) if bound == int(bound) else bound
