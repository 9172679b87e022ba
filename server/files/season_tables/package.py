"""A season's tables written into a folder, all of them or none, with the descriptor beside them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from server.files.season_tables.descriptor import DESCRIPTOR, FileFacts, descriptor
from server.files.season_tables.seasons import Season
from server.files.season_tables.writing import gathered, gathered_pieces, table_pieces
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


def earlier_baseline(folder: Path, year: int) -> tuple[str, str] | None:
    """Id and version of the baseline of the package in the folder; None without one. Raises OtherSeasonError."""
    try:
        found = json.loads((folder / DESCRIPTOR).read_bytes())
        season, baseline = found["season"], found["baseline"]
        if season != year:
            raise OtherSeasonError(f"{folder / DESCRIPTOR} is of season {season}; take another folder for {year}")
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
    """Write the tables as NAME_YEAR.FORMAT into `folder`, and with `package` the descriptor of all of them; returns the
    paths. Nothing stands in the folder before every file is whole. Raises OSError and what `table_pieces` raises."""
    make_folder(folder)
    made: list[_File] = []
    parts: list[Path] = []
    stack = ExitStack()
    try:
        spare = Path(stack.enter_context(TemporaryDirectory(prefix=".rows-", dir=folder)))
        rows = gathered(season, names, spare) if len(names) * len(formats) > 1 else {}
        for name in names:
            for format_ in formats:
                path = folder / f"{name}_{season.year}.{format_}"
                parts.append(path.with_name(f"{path.name}.part"))
                if name in rows:
                    pieces = gathered_pieces(season, name, format_, rows[name])
                else:
                    pieces = table_pieces(season, name, format_)
                known = _write(parts[-1], pieces)
                made.append(_File(name, format_, parts[-1], path, known))
                progress(1)
        moves = [(file.part, file.path) for file in made]
        if package:
            files = [(file.table, file.format, file.path.name, file.known) for file in made]
            words = json.dumps(descriptor(season, files), indent=2, ensure_ascii=False) + "\n"
            parts.append(folder / f"{DESCRIPTOR}.part")
            write_private(parts[-1], words)
            moves.append((parts[-1], folder / DESCRIPTOR))
        for part, path in moves:
            part.replace(path)
    finally:
        stack.close()
        for part in parts:
            part.unlink(missing_ok=True)
    return [path for _, path in moves]


def _write(path: Path, pieces: Iterable[bytes]) -> FileFacts:
    """Write the pieces; returns size and SHA-256 as a descriptor tells them."""
    digest = hashlib.sha256()
    size = 0
    with open_private(path, "wb") as file:
        for piece in pieces:
            file.write(piece)
            digest.update(piece)
            size += len(piece)
    return {"bytes": size, "hash": f"sha256:{digest.hexdigest()}"}
