"""A season table in a format, in pieces: what files, addresses and packages are made of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Final

import pyarrow as pa

from server import VERSION
from server.files.season_tables.chunks import ROWS_AT_ONCE, FrameRows, even_chunks, evenly
from server.files.season_tables.csv_writer import csv_pieces
from server.files.season_tables.dictionary import TableWords, tables
from server.files.season_tables.frames import frames, frames_together
from server.files.season_tables.parquet_writer import FileFacts, ParquetFile, parquet_pieces
from server.files.season_tables.seasons import Season
from server.files.season_tables.tallied_tables import OF_EVERYBODY, Tallied, frames_of_everybody
from server.files.season_tables.xlsx_writer import xlsx_pieces
from server.store.private_files import open_private

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
SHOTS: Final = "shots"


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


def rows_together(season: Season, names: Sequence[str]) -> Iterator[tuple[str, FrameRows]]:
    """The rows of several tables in one pass over the shots, each piece with its table's name: they are read and valued
    once, whatever is made of them. What all players' seasons add up to is added on the way."""
    known = tables()
    of_everybody = [name for name in names if name in OF_EVERYBODY]
    together = [name for name in names if name not in OF_EVERYBODY]
    tallied = Tallied(season.players) if of_everybody else None
    for name, frame in frames_together(season, together, tallied):
        rows = FrameRows(frame, known[name])
        del frame
        yield name, rows
        del rows
    members = tallied.members() if tallied else []
    for name in of_everybody:
        for frame in frames_of_everybody(name, members, season.baseline):
            yield name, FrameRows(frame, known[name])


def parquet_together(season: Season, places: Mapping[str, Path]) -> dict[str, tuple[FileFacts, int]]:
    """Write several tables as Parquet in one pass, each as it is made; returns size and hash of each, and its rows. The
    same bytes as `table_pieces`. Raises OSError."""
    known = tables()
    with ExitStack() as stack:
        files = {
            name: stack.enter_context(ParquetFile(place, known[name], about_table(season, known[name])))
            for name, place in places.items()
        }
        for name, rows in rows_together(season, list(places)):
            files[name].add(rows)
            del rows
    return {name: (file.facts, file.rows) for name, file in files.items()}


def gathered(season: Season, names: Sequence[str], folder: Path) -> dict[str, Path]:
    """The rows of several tables in files of the folder, as Arrow streams, for writers of several formats. Raises
    OSError."""
    places, known = {name: folder / f"{name}.arrows" for name in names}, tables()
    with ExitStack() as stack:
        files = {name: stack.enter_context(open_private(place, "wb")) for name, place in places.items()}
        streams = {name: stack.enter_context(pa.ipc.new_stream(files[name], known[name].schema())) for name in places}
        for name, rows in rows_together(season, names):
            for first in range(0, rows.num_rows, ROWS_AT_ONCE):
                streams[name].write_table(rows.slice(first, ROWS_AT_ONCE))
            del rows
    return places


def gathered_rows(place: Path) -> int:
    """How many rows `gathered` put into a file."""
    with pa.memory_map(str(place)) as file, pa.ipc.open_stream(file) as stream:
        return sum(batch.num_rows for batch in stream)


def gathered_pieces(season: Season, name: str, format_: str, place: Path) -> Iterator[bytes]:
    """The file of a table whose rows `gathered` put into `place`: the same bytes as `table_pieces`."""
    table = tables()[name]
    with place.open("rb") as file, pa.ipc.open_stream(file) as stream:
        chunks = evenly(pa.Table.from_batches([batch]) for batch in stream)
        yield from _written(table, chunks, format_, about_table(season, table))


def _written(table: TableWords, chunks: Iterable[pa.Table], format_: str, about: dict[str, str]) -> Iterator[bytes]:
    if format_ == CSV:
        return csv_pieces(table, chunks)
    writer = {PARQUET: parquet_pieces, XLSX: xlsx_pieces}[format_]
    return writer(table, chunks, about)
