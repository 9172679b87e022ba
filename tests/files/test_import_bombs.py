"""Tables made to cost time and memory are refused in words, at a cost that grows with their bytes at most."""

from __future__ import annotations

import resource
import time

import pytest

from server.files.sheet_texts import MOST_COLUMNS
from server.files.shots_rows import MOST_FAULTS, read_table
from server.files.table_faults import TableError

HEADER = "player,round_id,played_on,hole,par,length_yd,shot,lie,distance,club,holed"
MB = 1_000_000


def row(**other: str) -> str:
    """One sound row, but for what is `other`."""
    cells = dict(
        zip(
            HEADER.split(","),
            ["Ash", "r", "2026-05-01", "1", "4", "400", "1", "tee", "400", "driver", "yes"],
            strict=True,
        )
    )
    return ",".join((cells | other).values())


BOMBS: dict[str, tuple[str, str]] = {
    "a line of 10 MB": ("A" * 10 * MB, "a cell has more than 131072 characters"),
    "a quoted cell of 10 MB": (f'"{"A" * 10 * MB}"', "a cell has more than 131072 characters"),
    "a cell of 3 million line ends": (f'"{chr(10) * 3 * MB}"', "a cell has more than 131072 characters"),
    "a quote that is not closed": ('"' + "a\n" * MB, "or a quote is not closed"),
    "5 million quotes": ('""' * (5 * MB // 2), "a cell has more than 131072 characters"),
    "a NUL": (row(club="dri\0ver"), "NUL"),
    "a million bad rows": ("a,b\n" * MB, f"{MOST_FAULTS} cells cannot be read up to row "),
    "the header 200,000 times": (f"{HEADER}\n" * 200_000, f"{MOST_FAULTS} cells cannot be read up to row "),
    "500,000 rows of commas": (f"{',' * 10}\n" * 500_000, "the file has a header and no shots"),
    "a number of 100,000 digits": (row(distance="1" * 100_000), "1 cell cannot be read"),
    "a hole of 100,000 digits": (row(hole="9" * 100_000), "1 cell cannot be read"),
    "a hole of 1e309": (row(hole="1e309"), "1 cell cannot be read"),
    "a row of 100,000 cells": (row() + "," * 100_000, "1 cell cannot be read"),
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_refused_in_words_at_little_cost(name: str) -> None:
    body, words = BOMBS[name]
    content = f"{HEADER}\n{body}\n".encode()
    started, before = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(TableError, match=words.replace("(", r"\(")) as found:
        read_table(content)
    # Measured: at most 0.8 s and 70 MB. What grew with the square of its bytes took minutes.
    assert time.process_time() - started < 5
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000
    assert len(str(found.value)) < 400
    assert all(len(str(fault)) < 400 for fault in found.value.faults)
    assert len(found.value.faults) < MOST_FAULTS + len(HEADER.split(","))


@pytest.mark.parametrize("more", [[f"c{number}" for number in range(100_000)], ["x"] * 100_000])
def test_a_header_of_100_000_columns_is_refused_at_once(more: list[str]) -> None:
    """Looking for a column that is there twice took more than 100 s."""
    content = f"{HEADER},{','.join(more)}\n{row()}\n".encode()
    started = time.process_time()
    with pytest.raises(TableError, match=f"row 1: 100011 columns; the most is {MOST_COLUMNS}"):
        read_table(content)
    assert time.process_time() - started < 2


def test_as_many_columns_as_are_allowed_are_taken() -> None:
    more = [f"c{number}" for number in range(MOST_COLUMNS - len(HEADER.split(",")))]
    table = read_table(f"{HEADER},{','.join(more)}\n{row()}\n".encode())
    assert (len(table.rows), len(table.ignored)) == (1, len(more))


def test_a_line_end_in_a_quoted_cell_is_no_end_of_a_row() -> None:
    assert [one["note"] for one in read_table(f'{HEADER},note\n{row()},"a\nb"\n'.encode()).rows] == ["a\nb"]
