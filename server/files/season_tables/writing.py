"""A season table in a format, in pieces: what files, addresses and packages are made of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Final

import pandas as pd
import pyarrow as pa

from server import VERSION
from server.files.season_tables.chunks import even_chunks, evenly, to_arrow
from server.files.season_tables.csv_writer import csv_pieces
from server.files.season_tables.dictionary import TableWords, tables
from server.files.season_tables.frames import frames, frames_together
from server.files.season_tables.parquet_writer import parquet_pieces
from server.files.season_tables.seasons import Season
from server.files.season_tables.tallied_tables import OF_EVERYBODY, frames_of_everybody, members_of
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


def gathered(season: Season, names: Sequence[str], folder: Path) -> dict[str, Path]:
    """The rows of several tables in files of the folder, as Arrow streams, gathered in one pass over the shots: they
    are read and valued once, whatever tables and formats are made of them. Raises OSError."""
    places = {name: folder / f"{name}.arrows" for name in names}
    of_everybody = [name for name in names if name in OF_EVERYBODY]
    together = [name for name in names if name not in OF_EVERYBODY]
    if of_everybody and SHOTS not in together:
        together.append(SHOTS)
    _gather({name: folder / f"{name}.arrows" for name in together}, frames_together(season, together))
    if of_everybody:
        with pa.OSFile(str(folder / f"{SHOTS}.arrows")) as file, pa.ipc.open_stream(file) as stream:
            members = members_of((pa.Table.from_batches([batch]) for batch in stream), season.players)
        for name in of_everybody:
            made = ((name, frame) for frame in frames_of_everybody(name, members, season.baseline))
            _gather({name: places[name]}, made)
    return places


def _gather(places: Mapping[str, Path], frames: Iterable[tuple[str, pd.DataFrame]]) -> None:
    known = tables()
    with ExitStack() as stack:
        files = {name: stack.enter_context(open_private(place, "wb")) for name, place in places.items()}
        streams = {name: stack.enter_context(pa.ipc.new_stream(files[name], known[name].schema())) for name in places}
        for name, frame in frames:
            streams[name].write_table(to_arrow(frame, known[name]))
            del frame


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
