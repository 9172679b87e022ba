"""baseline list, show and check: each fault of a table of one's own is named by its row."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Run = Callable[..., Result]
HEAD = "lie,distance,unit,expected_strokes\n"


def test_list_names_every_baseline(run: Run) -> None:
    result = run("baseline", "list")
    assert result.exit_code == 0
    first = [line.split()[0] for line in result.stdout.splitlines()]
    assert first[0] == "id"
    assert first[2:] == ["tour", "tour_2011_green", "tour_2012_off_green"]


def test_show_prints_the_rows_and_where_the_extension_begins(run: Run) -> None:
    result = run("baseline", "show", "tour")
    assert result.exit_code == 0
    assert "tee (yd, strokes), in the table 100 to 600 yd; estimated beyond:" in result.stdout
    assert "green (ft, strokes), in the table 2 to 90 ft; estimated beyond:" in result.stdout
    assert ", 400 3.99," in result.stdout
    assert ", 8 1.50," in result.stdout


@pytest.mark.parametrize("name", ["nobody", "../baselines/nobody", "/", ""])
def test_show_of_nothing_is_named(run: Run, name: str) -> None:
    result = run("baseline", "show", name)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "is neither a file nor one of tour, tour_2011_green, tour_2012_off_green" in result.stderr


def test_check_takes_a_sound_table(run: Run, file: Callable[..., Path]) -> None:
    path = file((HEAD + "tee,100,yd,2.9\ntee,200,yd,3.1\ngreen,3,ft,1.05\nfairway,91.44,m,2.8\n").encode(), "own.csv")
    result = run("baseline", "check", path)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == "own.csv: 4 rows for tee, fairway, green; it can be used as a baseline\n"
    assert "fairway (yd, strokes), in the table 100 to 100 yd" in run("baseline", "show", path).stdout


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("bush,100,yd,3", "row 2, lie: 'bush' is not one of tee, fairway, rough, sand, recovery, green"),
        ("fringe,100,yd,3", "row 2, lie: fringe has no row of its own, it is valued as fairway"),
        ("tee,200,yd,3\ntee,100,yd,2.9", "row 3, distance: 100 yd comes after a greater one; sort tee by distance"),
        ("tee,100,yd,3\ntee,100,yd,3", "row 3, distance: 100 yd is there twice for tee"),
        ("tee,300,ft,3\ntee,100,yd,3", "row 3, distance: 100 yd is there twice for tee"),
        ("green,3,,1.1\ngreen,1,yd,1.2", "row 3, distance: 1 yd is there twice for green"),
        ("tee,0.01,yd,3", "row 2, distance: 0.01 yd is within half an inch of the row before it or of the hole"),
        ("\ntee,100,yd,3\n\ntee,300,ft,3", "row 5, distance: 300 ft is there twice for tee"),
        (
            "tee,100,yd,3\ntee,100.01,yd,3",
            "row 3, distance: 100.01 yd is within half an inch of the row before it or of the hole",
        ),
        ("tee,-5,yd,3", "row 2, distance: -5 yd is not a number above 0 and up to 1000 yd"),
        ("tee,0,yd,3", "row 2, distance: 0 yd is not a number above 0 and up to 1000 yd"),
        ("tee,1001,yd,3", "row 2, distance: 1001 yd is not a number above 0 and up to 1000 yd"),
        ("tee,far,yd,3", "row 2, distance: far yd is not a number above 0 and up to 1000 yd"),
        ("tee,nan,yd,3", "row 2, distance: nan yd is not a number above 0 and up to 1000 yd"),
        ("tee,100,km,3", "row 2, unit: 'km' is not one of yd, ft, m"),
        ("tee,100,yd,0.99", "row 2, expected_strokes: 0.99 is not a number from 1 to 20"),
        ("tee,100,yd,20.1", "row 2, expected_strokes: 20.1 is not a number from 1 to 20"),
        ("tee,100,yd,", "row 2, expected_strokes:  is not a number from 1 to 20"),
        ("tee,100,yd,three", "row 2, expected_strokes: three is not a number from 1 to 20"),
        ("tee,100", "row 2, expected_strokes: None is not a number from 1 to 20"),
        ("", "the table has no rows"),
    ],
)
def test_check_names_each_fault(run: Run, file: Callable[..., Path], rows: str, words: str) -> None:
    path = file((HEAD + rows + "\n").encode(), "own.csv")
    result = run("baseline", "check", path)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines() == [
        words,
        "error: own.csv: 1 faults; it cannot be used as a baseline",
    ]
    used = run("baseline", "show", path)
    assert (used.exit_code, words in used.stderr) == (2, True)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "row 1: missing column lie, distance, expected_strokes (the file is empty)"),
        (b"lie,strokes\ntee,3\n", "row 1: missing column distance, expected_strokes (the header has lie, strokes)"),
        (b"lie,distance,lie,expected_strokes\n", "row 1: column lie is there twice"),
        (HEAD.encode() + b'"tee,100,yd,3\n', "the file is not a CSV: unexpected end of data"),
        (b"\xff\xfe", "the file is not UTF-8: byte 0 cannot be read"),
        (
            HEAD.encode() + b"tee,100,yd," + b"3" * 140_000 + b"\n",
            "the file is not a CSV: field larger than field limit (131072)",
        ),
    ],
)
def test_check_of_a_file_that_is_no_table(run: Run, file: Callable[..., Path], content: bytes, words: str) -> None:
    result = run("baseline", "check", file(content, "own.csv"))
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines()[0] == words


def test_check_of_nothing(run: Run, tmp_path: Path) -> None:
    result = run("baseline", "check", tmp_path / "nothing.csv")
    assert (result.exit_code, "does not exist" in result.stderr) == (2, True)
