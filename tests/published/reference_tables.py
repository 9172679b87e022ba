"""The published figures in `reference/`, read as they are printed. Sources: reference/SOURCES.md."""

from __future__ import annotations

import csv
from pathlib import Path

FOLDER = Path(__file__).with_name("reference")


def read_rows(name: str) -> list[dict[str, str]]:
    """The rows of one reference file, every field as text."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def off_green_rows() -> list[tuple[str, float, float]]:
    """(lie, yards, expected strokes) of every printed figure of the 2012 table."""
    found = []
    for row in read_rows("expected_strokes_tour_2012_offgreen.csv"):
        for lie in ("tee", "fairway", "rough", "sand", "recovery"):
            if row[lie]:
                found.append((lie, float(row["distance_yd"]), float(row[lie])))
    return found


def green_rows() -> list[tuple[str, float, float]]:
    """("green", feet, expected putts) of every printed figure of the 2011 table."""
    rows = read_rows("expected_putts_tour_2011.csv")
    return [("green", float(row["distance_ft"]), float(row["expected_putts"])) for row in rows]


def printed_columns() -> dict[str, tuple[list[float], list[float]]]:
    """Per lie the printed distances in yards, ascending, and the printed figures."""
    columns: dict[str, tuple[list[float], list[float]]] = {}
    in_yards = [(lie, feet / 3, putts) for lie, feet, putts in green_rows()]
    for lie, yards, strokes in off_green_rows() + in_yards:
        distances, values = columns.setdefault(lie, ([], []))
        distances.append(yards)
        values.append(strokes)
    return columns
