"""A package or a dataset made again and compared: by the baseline that its lock keeps, from the logs as they are now.

A file is first held against its lock, then against what is made now. Where bytes differ the rows are compared, each by
its key, so that another version of a library, which writes other bytes, is distinguished from other values.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final, TypeAlias

import pyarrow as pa
import pyarrow.parquet as pq
from sqlalchemy import Connection

from server.files.season_tables.dictionary import TableWords, tables
from server.files.season_tables.lock import Lock, file_hash, made_by, unlocked_baseline
from server.files.season_tables.package import write_tables
from server.files.season_tables.seasons import Season, open_season
from server.files.season_tables.writing import CSV, PARQUET
from server.files.season_tables.xlsx_writer import HEADER_ROWS

MOST_LISTED: Final = 20
"""Differences of one file that are listed; the rest is counted."""
NOTHING: Final = "nothing"


@dataclass(frozen=True)
class Difference:
    """What differs. `row`: its key in words, empty where a file or column is meant; `there`: in the file; `now`:
    as made again."""

    file: str
    words: str
    table: str = ""
    column: str = ""
    row: str = ""
    there: str = ""
    now: str = ""


@dataclass(frozen=True)
class Verified:
    """`rows`: how many were compared, as bytes or one by one; `notes`: what explains, and is no fault."""

    files: int
    rows: int
    differences: tuple[Difference, ...]
    notes: tuple[str, ...]


Rows: TypeAlias = dict[tuple[Any, ...], tuple[Any, ...]]
Again: TypeAlias = Callable[[Season, Lock, Sequence[str], Path], Mapping[str, Path]]
"""Tells files of a lock again, in a folder: their new places by their paths."""


def verify(
    connection: Connection,
    folder: Path,
    lock: Lock,
    groups: Iterable[Sequence[str]],
    again: Again,
    progress: Callable[[int], None] = lambda _files: None,
) -> Verified:
    """Compare the files in the folder with the lock and with what is made now. `groups`: the paths that are made
    together; `again` tells them. Raises OSError."""
    season = locked_season(connection, lock)
    differences: list[Difference] = []
    for group in groups:
        with TemporaryDirectory(prefix="pencilbag-") as spare:
            places = again(season, lock, group, Path(spare))
            for path in group:
                differences += _compared(folder / path, path, lock, places.get(path))
                progress(1)
    rows = sum(file["rows"] for file in lock["files"].values())
    return Verified(len(lock["files"]), rows, tuple(differences), tuple(_notes(season, lock)))


def locked_season(connection: Connection, lock: Lock) -> Season:
    """The season of the lock's players, against the baseline that it keeps."""
    return open_season(connection, lock["season"], unlocked_baseline(lock["baseline"]), set(lock["players"]))


def package_again(season: Season, lock: Lock, group: Sequence[str], spare: Path) -> Mapping[str, Path]:
    """Files of one machine, made again."""
    known = tables()
    asked = [lock["files"][path] for path in group if lock["files"][path]["table"] in known]
    names = list(dict.fromkeys(file["table"] for file in asked))
    formats = list(dict.fromkeys(file["format"] for file in asked))
    if names:
        write_tables(season, spare, names, formats, package=False)
    return {path: spare / path for path in group if (spare / path).is_file()}


def _notes(season: Season, lock: Lock) -> Iterator[str]:
    here = made_by()
    others = [f"{name} {was}, now {here.get(name, NOTHING)}" for name, was in lock["made_by"].items()]
    for words, (name, was) in zip(others, lock["made_by"].items(), strict=True):
        if was != here.get(name):
            yield f"written by another version: {words}"
    names = {player.player_id: player.name for player in season.players}
    logs = dict(season.marks())
    for player_id, log in lock["players"].items():
        if player_id not in logs:
            yield f"player {player_id} is not here any more, or has no round in {lock['season']}"
        elif logs[player_id] != log:
            yield f"the log of {names[player_id]} has changed since"


def _compared(place: Path, path: str, lock: Lock, remade: Path | None) -> Iterator[Difference]:
    known = lock["files"][path]
    table = tables().get(known["table"])
    if table is None:
        yield Difference(path, "is of a table that this version does not write", known["table"])
        return
    if not place.is_file():
        yield Difference(path, "is missing", table.name)
        return
    there = file_hash(place)
    if there != known["hash"]:
        size, written = place.stat().st_size, known["bytes"]
        sizes = f"{size} bytes, written {written}" if size != written else f"as many bytes, {size}, but other ones"
        yield Difference(path, f"is not what was written: {sizes}", table.name)
    if remade is None:
        yield Difference(path, "cannot be checked: none of its players has a round here", table.name)
    elif file_hash(remade) != there:
        yield from _rows_compared(place, remade, path, table, known["format"])


def _rows_compared(place: Path, remade: Path, path: str, table: TableWords, format_: str) -> Iterator[Difference]:
    read = {CSV: _csv_rows, PARQUET: _parquet_rows}.get(format_, _xlsx_rows)
    try:
        names, before = read(place, table.key)
    except (OSError, ValueError, KeyError, pa.ArrowException) as error:
        yield Difference(path, f"cannot be read: {str(error).splitlines()[0]}", table.name)
        return
    names_now, after = read(remade, table.key)
    for name in sorted({*names} ^ {*names_now}):
        yield Difference(path, "is in the file only" if name in names else "is new", table.name, name)
    both = [(name, names.index(name), names_now.index(name)) for name in names if name in names_now]
    count = 0
    for difference in _cells(path, table, both, before, after):
        count += 1
        if count <= MOST_LISTED:
            yield difference
    if count > MOST_LISTED:
        yield Difference(path, f"{count - MOST_LISTED} more differences", table.name)


def _cells(
    path: str, table: TableWords, both: list[tuple[str, int, int]], before: Rows, after: Rows
) -> Iterator[Difference]:
    for key, cells in before.items():
        row = ", ".join(f"{name} {value}" for name, value in zip(table.key, key, strict=True))
        now = after.get(key)
        if now is None:
            yield Difference(path, "is in the file only", table.name, row=row)
            continue
        for name, old, new in both:
            if cells[old] != now[new] and not (cells[old] != cells[old] and now[new] != now[new]):
                yield Difference(path, "differs", table.name, name, row, _shown(cells[old]), _shown(now[new]))
    for key in after.keys() - before.keys():
        row = ", ".join(f"{name} {value}" for name, value in zip(table.key, key, strict=True))
        yield Difference(path, "is missing from the file", table.name, row=row)


def _shown(value: Any) -> str:
    return NOTHING if value is None or value == "" else str(value)


def _keyed(names: Sequence[str], rows: Iterable[Sequence[Any]], key: Sequence[str]) -> tuple[list[str], Rows]:
    missing = [name for name in key if name not in names]
    if missing:
        raise ValueError(f"column {', '.join(missing)} is missing")
    places = [list(names).index(name) for name in key]
    return list(names), {tuple(row[place] for place in places): tuple(row) for row in rows}


def _parquet_rows(path: Path, key: Sequence[str]) -> tuple[list[str], Rows]:
    found = pq.read_table(path, partitioning=None)
    columns = [found.column(name).to_pylist() for name in found.column_names]
    return _keyed(found.column_names, zip(*columns, strict=True), key)


def _csv_rows(path: Path, key: Sequence[str]) -> tuple[list[str], Rows]:
    with path.open(encoding="utf-8", newline="") as file:
        rows = csv.reader(file, strict=True)
        names = next(rows, [])
        return _keyed(names, (row for row in rows if len(row) == len(names)), key)


def _xlsx_rows(path: Path, key: Sequence[str]) -> tuple[list[str], Rows]:
    from openpyxl import load_workbook  # noqa: PLC0415 - only where it is needed

    with ExitStack() as stack:
        try:
            book = load_workbook(path, read_only=True)
        except Exception as error:
            raise ValueError(f"{path.name} is no workbook: {error}") from error
        stack.callback(book.close)
        rows = book.worksheets[0].iter_rows(values_only=True)
        names = [str(name) for name in next(rows, ())]
        for _ in range(HEADER_ROWS - 1):
            next(rows, None)
        return _keyed(names, rows, key)
