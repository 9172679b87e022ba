"""A season table in a format, in pieces: what files, addresses and packages are made of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import pyarrow as pa

from server import VERSION
from server.files.season_tables.chunks import even_chunks
from server.files.season_tables.csv_writer import csv_pieces
from server.files.season_tables.dictionary import TableWords, tables
from server.files.season_tables.frames import frames
from server.files.season_tables.parquet_writer import parquet_pieces
from server.files.season_tables.seasons import Season
from server.files.season_tables.xlsx_writer import xlsx_pieces

CSV: Final = "csv"
PARQUET: Final = "parquet"
XLSX: Final = "xlsx"
MEDIA_TYPES: Final[dict[str, str]] = {
    CSV: "text/csv; charset=utf-8; header=present",
    PARQUET: "application/vnd.apache.parquet",
    XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
"""Every format, and its name among media types."""

TOOL: Final = "Pencilbag"


def about_table(season: Season, table: TableWords) -> dict[str, str]:
    """What a file says of itself. No moment of making: the same season is the same file."""
    return {
        "title": table.title,
        "table": table.name,
        "season": str(season.year),
        "baseline_id": season.baseline.id,
        "baseline_version": season.baseline.version,
        "baseline_title": season.baseline.about.title,
        "tool": TOOL,
        "tool_version": VERSION,
    }


def table_pieces(season: Season, name: str, format_: str) -> Iterator[bytes]:
    """The file of a table. KeyError for another table or format; TooManyRowsError for an XLSX too long for a sheet."""
    table = tables()[name]
    return _written(table, even_chunks(frames(season, name), table), format_, about_table(season, table))


def _written(table: TableWords, chunks: Iterable[pa.Table], format_: str, about: dict[str, str]) -> Iterator[bytes]:
    if format_ == CSV:
        return csv_pieces(table, chunks)
    writer = {PARQUET: parquet_pieces, XLSX: xlsx_pieces}[format_]
    return writer(table, chunks, about)
