"""The lock of a package or a dataset: what it was made of, so that it can be made again and compared years later.

It keeps the baseline's rows themselves, the fingerprint of each player's log, the versions of what made the files, and
of each file its rows, bytes and SHA-256. No moment of making: the same season is the same lock.
"""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, NotRequired, TypedDict

import numpy as np
import pandas as pd
import pyarrow as pa
import xlsxwriter

from server import VERSION
from server.analysis.expected_strokes.baseline import Baseline, make_baseline
from server.analysis.expected_strokes.files import BaselineFile
from server.files.season_tables.dictionary import SOURCE

LOCK: Final = "season.lock.json"
FORMAT: Final = 1


class LockError(ValueError):
    """There is no lock in a folder, or none that can be read here, with the reason."""


class LockedBaseline(TypedDict):
    """The baseline and its rows by lie: yards, strokes."""

    id: str
    version: str
    title: str
    source: str
    rows: dict[str, list[list[float]]]


class LockedFile(TypedDict):
    """What a file held when it was written."""

    table: str
    format: str
    rows: int
    bytes: int
    hash: str


class LockedDataset(TypedDict):
    """In how many buckets the players are, and the mark of each bucket that has some."""

    buckets: int
    marks: dict[str, str]


class Lock(TypedDict):
    """What is locked."""

    format: int
    season: int
    made_by: dict[str, str]
    dictionary: str
    baseline: LockedBaseline
    players: dict[str, str]
    files: dict[str, LockedFile]
    dataset: NotRequired[LockedDataset]


def made_by() -> dict[str, str]:
    """The versions of what makes the files."""
    return {
        "tool": VERSION,
        "python": ".".join(platform.python_version_tuple()[:2]),
        "pyarrow": pa.__version__,
        "pandas": pd.__version__,
        "numpy": np.__version__,
        "xlsxwriter": xlsxwriter.__version__,
    }


def dictionary_hash() -> str:
    """The fingerprint of the data dictionary."""
    return f"sha256:{hashlib.sha256(SOURCE.read_bytes()).hexdigest()}"


def locked_baseline(baseline: Baseline) -> LockedBaseline:
    """The baseline as a lock keeps it: its numbers come back bit for bit."""
    rows = {lie: [yards.tolist(), strokes.tolist()] for lie, (yards, strokes) in baseline.about.rows.items()}
    about = baseline.about
    return {"id": about.id, "version": about.version, "title": about.title, "source": about.source, "rows": rows}


def unlocked_baseline(kept: LockedBaseline) -> Baseline:
    """The baseline that a lock keeps, whatever has become of its files."""
    rows = {lie: (np.array(yards), np.array(strokes)) for lie, (yards, strokes) in kept["rows"].items()}
    return make_baseline(BaselineFile(kept["id"], kept["title"], kept["version"], kept["source"], rows))


def lock_of(season: int, baseline: Baseline, players: Mapping[str, str], files: Mapping[str, LockedFile]) -> Lock:
    """The lock of files by their paths in the folder. `players`: the fingerprint of each one's log."""
    return {
        "format": FORMAT,
        "season": season,
        "made_by": made_by(),
        "dictionary": dictionary_hash(),
        "baseline": locked_baseline(baseline),
        "players": dict(sorted(players.items())),
        "files": dict(files),
    }


def lock_text(lock: Lock) -> str:
    """The lock as its file has it."""
    return json.dumps(lock, indent=1, ensure_ascii=False) + "\n"


def read_lock(folder: Path) -> Lock:
    """The lock in a folder. LockError when there is none, or none of this format."""
    place = folder / LOCK
    try:
        found: Any = json.loads(place.read_bytes())
    except FileNotFoundError as error:
        raise LockError(f"{folder} contains no {LOCK}: it is no package or dataset, or an unfinished one") from error
    except OSError as error:
        raise LockError(f"{place} cannot be read: {error.strerror or error}") from error
    except ValueError as error:
        raise LockError(f"{place} is damaged: {error}") from error
    version = found.get("format") if isinstance(found, dict) else None
    if version != FORMAT:
        raise LockError(f"{place} is of format {version}; this version reads {FORMAT}")
    missing = [name for name in ("season", "baseline", "players", "files", "made_by") if name not in found]
    if missing:
        raise LockError(f"{place} is damaged: {', '.join(missing)} is missing")
    lock: Lock = found
    return lock


def holds_dataset(folder: Path) -> bool:
    """Whether a dataset lies in the folder, of whatever version."""
    try:
        found: Any = json.loads((folder / LOCK).read_bytes())
    except (OSError, ValueError):
        return False
    return isinstance(found, dict) and "dataset" in found


def file_hash(path: Path) -> str:
    """SHA-256 of a file, as locks and descriptors tell it. Raises OSError."""
    with path.open("rb") as file:
        return f"sha256:{hashlib.file_digest(file, 'sha256').hexdigest()}"
