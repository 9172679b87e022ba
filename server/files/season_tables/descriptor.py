"""The descriptor of a season's tables: a Data Package (datapackage.json) with fields, units, meanings and sources.

Source: Data Package and Table Schema, https://datapackage.org (standard 1.0; `unit`, `above`, `baseline`, `season` and
`tool` are properties of our own, which the standard allows).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from server import VERSION
from server.files.season_tables.csv_writer import NO, YES
from server.files.season_tables.dictionary import BOOLEAN, DATE, Column, TableWords, tables
from server.files.season_tables.seasons import Season
from server.files.season_tables.writing import CSV, MEDIA_TYPES, PARQUET, TOOL, XLSX
from server.files.season_tables.xlsx_writer import HEADER_ROWS

DESCRIPTOR: Final = "datapackage.json"

LICENCE: Final = {
    "name": "notspecified",
    "title": "The shots belong to the players who logged them; ask them before passing any of it on",
}
"""The tool's own licence says nothing about the data that people put into it."""


def descriptor(season: Season, files: Iterable[tuple[str, str, str, Mapping[str, Any]]]) -> dict[str, Any]:
    """The package of `files`: (table, format, path, what more is known of the file: bytes, hash)."""
    baseline = season.baseline
    told = [(tables()[name], format_, path, more) for name, format_, path, more in files]
    has_rounds = any((table.name, format_) == ("rounds", CSV) for table, format_, *_ in told)
    return {
        "profile": "data-package",
        "name": f"season-{season.year}",
        "title": f"Season {season.year}: shots, holes, rounds, clubs, setups and strokes gained",
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
        "resources": [_resource(*one, has_rounds) for one in told],
    }


def _resource(table: TableWords, format_: str, path: str, more: Mapping[str, Any], has_rounds: bool) -> dict[str, Any]:
    found: dict[str, Any] = {
        "name": table.name if format_ == CSV else f"{table.name}_{format_}",
        "title": table.title,
        "path": path,
        "format": format_,
        "mediatype": MEDIA_TYPES[format_].split(";", maxsplit=1)[0],
        **more,
    }
    if format_ == PARQUET:
        # its schema, with units and meanings, lies in the file
        return found | {"profile": "data-resource", "type": "file"}
    found |= {
        "profile": "tabular-data-resource",
        "type": "table",
        "schema": {
            "fields": [_field(column, format_) for column in table.columns],
            "primaryKey": list(table.key),
            "missingValues": [""],
        },
    }
    if format_ == CSV and has_rounds and "round_id" in table.names and table.name != "rounds":
        found["schema"]["foreignKeys"] = [
            {"fields": ["round_id"], "reference": {"resource": "rounds", "fields": ["round_id"]}}
        ]
    if format_ == CSV:
        found |= {"encoding": "utf-8", "dialect": {"csv": {"delimiter": ",", "lineTerminator": "\r\n"}}}
    if format_ == XLSX:
        found["dialect"] = {"commentRows": list(range(2, HEADER_ROWS + 1)), "excel": {"sheet": table.name}}
    return found


def _field(column: Column, format_: str) -> dict[str, Any]:
    found: dict[str, Any] = {"name": column.name, "type": column.type, "description": column.meaning}
    if column.unit:
        found["unit"] = column.unit
    if column.format:
        found["format"] = column.format
    if column.type == BOOLEAN and format_ == CSV:
        found |= {"trueValues": [YES], "falseValues": [NO]}
    if column.type == DATE:
        found["format"] = "default"
    constraints: dict[str, Any] = {}
    if column.required and not (column.blank_for_no and format_ == CSV):
        constraints["required"] = True
    for name, bound in (("minimum", column.minimum), ("maximum", column.maximum)):
        if bound is not None:
            constraints[name] = int(bound) if bound == int(bound) else bound
    if column.one_of:
        constraints["enum"] = list(column.one_of)
    if constraints:
        found["constraints"] = constraints
    if column.above is not None:
        found["above"] = column.above
    return found
