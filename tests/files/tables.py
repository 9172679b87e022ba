"""Shots tables for tests: a header, rows of cells by name, a database to import into."""

from __future__ import annotations

import csv
import io
from typing import Any

USUAL: dict[str, Any] = {
    "player": "Wren Quillfeather",
    "played_on": "2026-05-01",
    "hole": 1,
    "par": 4,
    "length_yd": 400,
    "shot": 1,
    "lie": "tee",
    "distance": 400,
    "club": "driver",
}


def row(**cells: Any) -> dict[str, Any]:
    """A sound row with some cells set otherwise; by itself it lacks an end."""
    return USUAL | cells


def drive_and_putt(**cells: Any) -> list[dict[str, Any]]:
    """A hole of two shots, holed."""
    return [
        row(**cells),
        row(shot=2, lie="green", distance=9, club="putter", holed="yes", **cells),
    ]


def table(rows: list[dict[str, Any]], columns: list[str] | None = None, end: str = "\n") -> bytes:
    """The rows as a CSV; columns are those of the rows unless named."""
    names = columns or list(dict.fromkeys(name for one in rows for name in one))
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, names, restval="", lineterminator=end)
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def read_back(content: bytes) -> list[dict[str, str]]:
    """The rows of a CSV as text."""
    return list(csv.DictReader(io.StringIO(content.decode("utf-8"), newline="")))


def nine_par_fours(two_putts: int, **same: Any) -> list[dict[str, Any]]:
    """Nine holes with a drive, an approach and one putt, on the first `two_putts` of them two."""
    rows = []
    for hole in range(1, 10):
        two = hole <= two_putts
        rows += [
            row(hole=hole, **same),
            row(hole=hole, shot=2, lie="fairway", distance=150, club="8 iron", **same),
            row(hole=hole, shot=3, lie="green", distance=8, club="putter", **same, **({} if two else {"holed": "yes"})),
        ]
        rows += [row(hole=hole, shot=4, lie="green", distance=2, club="putter", holed="yes", **same)] if two else []
    return rows
