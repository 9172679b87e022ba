"""A season's tables written into a folder, all of them or none, with the descriptor beside them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from server.files.season_tables.descriptor import DESCRIPTOR, DataPackage, descriptor
from server.files.season_tables.lock import LOCK, LockedFile, lock_of, lock_text
from server.files.season_tables.parquet_writer import FileFacts
from server.files.season_tables.seasons import Season
from server.files.season_tables.writing import PARQUET, gathered, gathered_pieces, gathered_rows, parquet_together
from server.store.private_files import make_folder, open_private, write_private


class OtherSeasonError(ValueError):
    """The folder holds the package of another season."""


@dataclass(frozen=True)
class _File:
    table: str
    format: str
    part: Path
    path: Path
    known: FileFacts
    rows: int


def earlier_baseline(folder: Path, year: int) -> tuple[str, str] | None:
    """Id and version of the baseline of the package in the folder; None without one. Raises OtherSeasonError."""
    try:
        found = json.loads((folder / DESCRIPTOR).read_bytes())
        season, baseline = found["season"], found["baseline"]
        if season != year:
            raise OtherSeasonError(f"{folder / DESCRIPTOR} is of season {season}; choose another folder for {year}")
        return str(baseline["id"]), str(baseline["version"])
    except (OSError, LookupError, TypeError, json.JSONDecodeError, UnicodeDecodeError):
        return None


def write_tables(
    season: Season,
    folder: Path,
    names: Sequence[str],
    formats: Sequence[str],
    *,
    package: bool,
    progress: Callable[[int], None] = lambda _files: None,
) -> list[Path]:
    """Write the tables as NAME_YEAR.FORMAT into `folder`, and with `package` the descriptor and the lock of all of
    them; returns the paths. Nothing is in the folder before every file is complete. Raises OSError, and
    TooManyRowsError for an XLSX too long for a sheet."""
    make_folder(folder)
    made: list[_File] = []
    parts: list[Path] = []
    stack = ExitStack()
    try:
        paths = {(name, format_): folder / f"{name}_{season.year}.{format_}" for name in names for format_ in formats}
        parts += [path.with_name(f"{path.name}.part") for path in paths.values()]
        if list(formats) == [PARQUET]:
            written = parquet_together(season, dict(zip(names, parts, strict=True)))
            made = [
                _File(name, PARQUET, part, paths[name, PARQUET], *written[name])
                for name, part in zip(names, parts, strict=True)
            ]
            progress(len(made))
        else:
            spare = Path(stack.enter_context(TemporaryDirectory(prefix=".rows-", dir=folder)))
            rows = gathered(season, names, spare)
            for ((name, format_), path), part in zip(paths.items(), parts, strict=True):
                known = write_pieces(part, gathered_pieces(season, name, format_, rows[name]))
                made.append(_File(name, format_, part, path, known, gathered_rows(rows[name])))
                progress(1)
        moves = [(file.part, file.path) for file in made]
        if package:
            files = [(file.table, file.format, file.path.name, file.known) for file in made]
            locked = {file.path.name: locked_file(file.table, file.format, file.rows, file.known) for file in made}
            lock = lock_of(season.year, season.baseline, dict(season.marks()), locked)
            beside = {DESCRIPTOR: descriptor_text(descriptor(season, files)), LOCK: lock_text(lock)}
            for name, words in beside.items():
                parts.append(folder / f"{name}.part")
                write_private(parts[-1], words)
                moves.append((parts[-1], folder / name))
        for part, path in moves:
            part.replace(path)
    finally:
        stack.close()
        for part in parts:
            part.unlink(missing_ok=True)
    return [path for _, path in moves]


def descriptor_text(package: DataPackage) -> str:
    """The descriptor as its file has it."""
    return json.dumps(package, indent=2, ensure_ascii=False) + "\n"


def locked_file(table: str, format_: str, rows: int, known: FileFacts) -> LockedFile:
    """What a lock keeps of a file that `write_pieces` wrote."""
    return {"table": table, "format": format_, "rows": rows, "bytes": known["bytes"], "hash": known["hash"]}


def write_pieces(path: Path, pieces: Iterable[bytes]) -> FileFacts:
    """Write the pieces; returns size and SHA-256 as a descriptor tells them."""
    digest = hashlib.sha256()
    size = 0
    with open_private(path, "wb") as file:
        for piece in pieces:
            file.write(piece)
            digest.update(piece)
            size += len(piece)
    return {"bytes": size, "hash": f"sha256:{digest.hexdigest()}"}
