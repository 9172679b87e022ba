"""Reading and checking baseline files.

A baseline is a CSV with the columns `lie, distance, unit, expected_strokes` (further columns are notes), and
beside it a TOML of the same name with at least `id`, `title`, `source` and `version`. A TOML with
`parts = [ids]` and no CSV joins several tables into one baseline. A CSV without a TOML takes its name as id
and the start of its SHA-256 as version.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import numpy as np

from server.analysis.expected_strokes.curves import CLOSEST_ROWS_YD, Floats
from server.game.lies import CODE, FRINGE, LIES, VALUED_AS
from server.game.units import UNITS, default_unit, to_yards

FOLDER: Final = Path(__file__).resolve().parents[3] / "baselines"
COLUMNS: Final[tuple[str, ...]] = ("lie", "distance", "expected_strokes")
LONGEST_CELL: Final = 131_072
MOST_EXPECTED: Final = 20.0
FARTHEST_YD: Final = 1000.0

Rows = dict[str, tuple[Floats, Floats]]


@dataclass(frozen=True, eq=False)
class BaselineFile:
    """What a baseline's files hold: its identity and, per lie, the printed rows (ascending yards, strokes)."""

    id: str
    title: str
    version: str
    source: str
    rows: Rows = field(repr=False)
    about: Mapping[str, Any] = field(default_factory=dict, repr=False)


def find_baseline(id_or_path: str | Path) -> Path:
    """The file of a baseline: a path that exists, or an id in `baselines/`. LookupError otherwise."""
    for ending in (".toml", ".csv"):
        shipped = FOLDER / f"{id_or_path}{ending}"
        if Path(str(id_or_path)).name == str(id_or_path) and shipped.is_file():
            return shipped
    path = Path(id_or_path)
    if path.is_file():
        return path
    known = ", ".join(shipped_ids())
    raise LookupError(f"baseline: {str(id_or_path)!r} is neither a file nor one of {known}")


def shipped_ids() -> list[str]:
    """Ids of the baselines in `baselines/`, sorted."""
    return sorted({path.stem for path in FOLDER.glob("*.toml")} | {path.stem for path in FOLDER.glob("*.csv")})


def read_baseline(path: Path) -> BaselineFile:
    """Read the baseline at `path` (CSV or TOML). ValueError names every bad row."""
    about = read_about(path.with_suffix(".toml"))
    table = path.with_suffix(".csv")
    rows: Rows = {}
    digest = ""
    if table.is_file():
        content = table.read_bytes()
        digest = hashlib.sha256(content).hexdigest()[:12]
        rows, faults = check_table(content)
        if faults:
            raise ValueError(f"{table.name} cannot be used as a baseline:\n" + "\n".join(faults))
    for part in about.get("parts", []):
        joined = read_baseline(find_baseline(part))
        twice = sorted(set(rows) & set(joined.rows))
        if twice:
            raise ValueError(f"parts: lie {twice[0]} comes from more than one table")
        rows |= joined.rows
    if not rows:
        raise ValueError(f"{path.name}: no table and no parts")
    return BaselineFile(
        id=str(about.get("id", path.stem)),
        title=str(about.get("title", path.stem)),
        version=str(about.get("version", digest)),
        source=str(about.get("source", "not stated")),
        rows=rows,
        about=about,
    )


def read_about(path: Path) -> Mapping[str, Any]:
    """The TOML beside a table; empty when there is none, read again only once the file has changed. Do not change what
    is returned. ValueError when it is no TOML."""
    if not path.is_file():
        return {}
    state = path.stat()
    return _parsed(path, state.st_ino, state.st_mtime_ns, state.st_size)


@lru_cache(maxsize=1024)
def _parsed(path: Path, *_state: int) -> Mapping[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ValueError(f"{path.name}: {error}") from error


def check_table(content: bytes) -> tuple[Rows, list[str]]:
    """Parse a baseline CSV. Returns the rows that are sound and one line per fault (row 1 is the header)."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return {}, [f"the file is not UTF-8: byte {error.start} cannot be read"]
    try:
        csv.field_size_limit(LONGEST_CELL)  # other libraries raise this limit for the entire process
        return _check_rows(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error as error:
        return {}, [f"the file is not a CSV: {error}"]


def _check_rows(reader: Any) -> tuple[Rows, list[str]]:
    names = [name.strip() for name in next(reader, [])]
    missing = [name for name in COLUMNS if name not in names]
    if missing:
        found = f"the header has {', '.join(names)}" if names else "the file is empty"
        return {}, [f"row 1: missing column {', '.join(missing)} ({found})"]
    twice = sorted({name for name in names if name and names.count(name) > 1})
    if twice:
        return {}, [f"row 1: column {', '.join(twice)} is there twice"]
    found_rows: dict[str, list[tuple[float, float]]] = {}
    faults: list[str] = []
    for number, cells in enumerate(reader, start=2):
        record: dict[str, str | None] = dict.fromkeys(names)
        record |= zip(names, cells, strict=False)
        fault = _check_row(record, found_rows) if any(cells) else None
        if fault:
            faults.append(f"row {number}, {fault}")
    if not found_rows and not faults:
        faults.append("the table has no rows")
    rows = {lie: _columns(found_rows[lie]) for lie in LIES if lie in found_rows}
    return rows, faults


def _columns(pairs: list[tuple[float, float]]) -> tuple[Floats, Floats]:
    table = np.array(pairs, dtype=np.float64)
    return table[:, 0].copy(), table[:, 1].copy()


def _check_row(record: dict[str, str | None], found: dict[str, list[tuple[float, float]]]) -> str | None:
    """Add one row to `found`, or return what is wrong with it as "column: reason"."""
    lie = (record["lie"] or "").strip()
    if lie in VALUED_AS or lie not in CODE:
        return _bad_lie(lie)
    unit = (record.get("unit") or "").strip() or default_unit(lie)
    if unit not in UNITS:
        return f"unit: {unit!r} is not one of {', '.join(UNITS)}"
    distance = _number(record["distance"])
    if distance is None or not 0 < to_yards(distance, unit) <= FARTHEST_YD:
        return f"distance: {record['distance']} {unit} is not a number above 0 and up to {FARTHEST_YD:.0f} yd"
    expected = _number(record["expected_strokes"])
    if expected is None or not 1 <= expected <= MOST_EXPECTED:
        return f"expected_strokes: {record['expected_strokes']} is not a number from 1 to {MOST_EXPECTED:.0f}"
    yards = to_yards(distance, unit)
    before = found.get(lie)
    if words := _bad_step(yards - (before[-1][0] if before else 0.0), lie):
        return f"distance: {record['distance']} {unit} {words}"
    found.setdefault(lie, []).append((yards, expected))
    return None


def _bad_lie(lie: str) -> str:
    if lie in VALUED_AS:
        return f"lie: {FRINGE} has no row of its own, it is valued as {VALUED_AS[lie]}"
    return f"lie: {lie!r} is not one of {', '.join(name for name in LIES if name not in VALUED_AS)}"


def _bad_step(step_yd: float, lie: str) -> str | None:
    """What is wrong with a row that lies `step_yd` beyond the row before it."""
    if step_yd == 0:
        return f"is there twice for {lie}"
    if step_yd < 0:
        return f"comes after a greater one; sort {lie} by distance"
    return "is within half an inch of the row before it or of the hole" if step_yd < CLOSEST_ROWS_YD else None


def _number(text: str | None) -> float | None:
    try:
        number = float(text or "")
    except ValueError:
        return None
    return number if math.isfinite(number) else None
