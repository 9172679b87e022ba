"""import: every bad input is one clear message and exit code 2, and nothing is half stored."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from tests.files.tables import drive_and_putt, row, table

Run = Callable[..., Result]
Write = Callable[..., Path]


def nobody_is_stored(run: Run) -> bool:
    words = run("summary").stderr
    return "none yet" in words or "there is no database" in words


BAD_ROWS: dict[str, tuple[list[dict[str, Any]], str]] = {
    "unknown lie": (
        [row(lie="bush", holed="yes")],
        "row 2, lie: 'bush' is not one of tee, fairway, fringe, rough, sand, recovery, green",
    ),
    "distance 0": ([row(distance=0, holed="yes")], "row 2, distance: 0 yd is outside 0 to 700 yd"),
    "negative": ([row(distance=-1, holed="yes")], "row 2, distance: -1 yd is outside 0 to 700 yd"),
    "812 yd": ([row(distance=812, holed="yes")], "row 2, distance: 812 yd is outside 0 to 700 yd"),
    "NaN": ([row(distance="NaN", holed="yes")], "row 2, distance: 'NaN' is not a finite number"),
    "1e9": ([row(distance="1e9", holed="yes")], "row 2, distance: 1e9 yd is outside 0 to 700 yd"),
    "text in a number": ([row(distance="far", holed="yes")], "row 2, distance: 'far' is not a number"),
    "a shot after holed": (
        [*drive_and_putt(), row(shot=3, lie="green", distance=1, holed="yes")],
        "row 4, holed: shot 3 comes after shot 2 was holed",
    ),
    "a gap": (
        [row(), row(shot=3, lie="green", distance=9, holed="yes")],
        "row 3, shot: shot 3 comes without shot 2 before it",
    ),
    "two shots with one number": (
        [row(), row(shot=1, lie="tee", holed="yes")],
        "row 3, shot: two shots of this ball have the number 1; "
        "two rounds of one day are separated by the column round",
    ),
    "hole 19 without a definition": ([row(hole=19, par="", length_yd="", holed="yes")], "row 2, par: is missing"),
    "not from the tee": (
        [row(lie="rough", holed="yes")],
        "row 2, lie: the first shot of a hole is from the tee, not from rough",
    ),
    "a green shot of 90 yd": (
        [row(), row(shot=2, lie="green", distance=90, unit="yd", holed="yes")],
        "row 3, distance: 90 yd is outside 0 to 50 yd",
    ),
    "not finished": ([row()], "row 2, holed: the last shot of the ball is neither holed nor has an end"),
}


@pytest.mark.parametrize("name", BAD_ROWS)
def test_a_bad_row_is_named_and_nothing_is_stored(run: Run, file: Write, name: str) -> None:
    rows, words = BAD_ROWS[name]
    good = drive_and_putt(played_on="2026-04-01")
    result = run("import", file(table(rows + good)))
    assert (result.exit_code, result.stdout) == (2, "")
    lines = result.stderr.splitlines()
    assert words in lines
    assert lines[-1].startswith("error: shots.csv: ")
    assert lines[-1].endswith("; nothing was stored")
    assert nobody_is_stored(run)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "the file is empty: a header and at least one row are needed"),
        (b"\xff\xfe\x00", "the file is not UTF-16: byte 2 cannot be read"),
        (b"PK\x03\x04\0\0", "the file is not an XLSX that can be read: File is not a zip file"),
        (b"lie,distance\ntee,400\n", "row 1: missing column player, played_on, hole, par, length_yd, shot, club"),
        (b"lie," + table(drive_and_putt()), "row 1: column lie is there twice"),
        (table(drive_and_putt(note="n" * 140_000)), "a cell has more than 131072 characters, or a quote is not closed"),
    ],
)
def test_a_file_that_is_no_shots_table_gets_one_line(run: Run, file: Write, content: bytes, words: str) -> None:
    result = run("import", file(content))
    assert (result.exit_code, result.stdout) == (2, "")
    assert len(result.stderr.splitlines()) == 1
    assert words in result.stderr
    assert nobody_is_stored(run)


def test_a_file_that_is_not_there_is_named(run: Run, tmp_path: Path) -> None:
    result = run("import", tmp_path / "nothing.csv")
    assert (result.exit_code, str(tmp_path / "nothing.csv") in result.stderr) == (2, True)
    empty = run("import", tmp_path)
    assert (empty.exit_code, empty.stderr) == (
        2,
        f"error: {tmp_path.name}: the folder has no table (.csv, .parquet, .xlsx); nothing was stored\n",
    )
    assert run("import").exit_code == 2


def test_a_folder_and_several_files_are_one_import(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "tables"
    folder.mkdir()
    for number in range(1, 4):
        (folder / f"{number}.csv").write_bytes(table(drive_and_putt(hole=number)))
    (folder / "4.csv").write_bytes(table([row(lie="bush", hole=4)]))
    refused = run("import", folder)
    assert refused.stderr.splitlines() == [
        "row 2 of 4.csv, lie: 'bush' is not one of tee, fairway, fringe, rough, sand, recovery, green",
        "error: tables: 1 cell cannot be read; nothing was stored",
    ]
    assert nobody_is_stored(run)
    (folder / "4.csv").write_bytes(table(drive_and_putt(hole=4)))
    done = run("import", folder)
    assert done.stdout == "8 shots in 1 round read; stored 12 new or changed records\n"
    assert done.stderr.splitlines()[0] == "read as CSV, UTF-8, commas between cells (4 files)"
    twice = run("import", folder / "1.csv", folder)
    assert (twice.exit_code, "2 files: 1.csv is there twice" in twice.stderr) == (2, True)


def test_many_names_met_first_are_counted(run: Run, file: Write) -> None:
    rows = [one for number in range(50) for one in drive_and_putt(player=f"Ash {number}")]
    done = run("import", file(table(rows)))
    assert done.exit_code == 0
    lines = done.stderr.splitlines()
    assert len(lines) == 4
    assert lines[2] == "row 2, club: club 'driver' is new, taken for a driver; 49 more like it, the last in row 100"


def test_ten_thousand_equal_faults_are_one_line_and_others_stay_apart(run: Run, file: Write) -> None:
    bad = [row(distance=812, holed="yes")] * 10_000 + [row(lie="bush", holed="yes")] * 2
    result = run("import", file(table(bad)))
    assert result.exit_code == 2
    unknown = "lie: 'bush' is not one of tee, fairway, fringe, rough, sand, recovery, green"
    assert result.stderr.splitlines() == [
        "row 2, distance: 812 yd is outside 0 to 700 yd; 9999 more like it, the last in row 10001",
        f"row 10002, {unknown}",
        f"row 10003, {unknown}",
        "error: shots.csv: 10002 cells cannot be read; nothing was stored",
    ]
    assert nobody_is_stored(run)


def test_of_many_unlike_faults_fifty_are_shown_and_the_rest_counted(run: Run, file: Write) -> None:
    names = ("hole", "par", "length_yd", "shot", "ball", "distance", "target_yd", "right_yd", "long_yd", "carry_yd")
    words = ("kind", "lie", "holed", "unit", "strike", "end_unit", "swing", "provisional")
    bad = [row(**{name: "x"}) for name in (*names, *words)] * 3
    result = run("import", file(table(bad)))
    lines = result.stderr.splitlines()
    assert len(lines) == 52
    assert lines[50:] == ["... and 4 more", "error: shots.csv: 54 cells cannot be read; nothing was stored"]


def test_import_says_what_it_made_and_twice_changes_nothing(run: Run, file: Write) -> None:
    path = file(table(drive_and_putt(course="Heath", moon="full")))
    first = run("import", path)
    assert first.exit_code == 0
    assert first.stdout == "2 shots in 1 round read; stored 7 new or changed records\n"
    assert first.stderr.splitlines() == [
        "read as CSV, UTF-8, commas between cells",
        "column moon is not known and was ignored",
        "player 'Wren Quillfeather' is new; right-handed (--left) and yards (--units) are assumed",
        "club 'driver' is new, taken for a driver",
        "club 'putter' is new, taken for a putter",
        "course 'Heath' is new",
    ]
    before = run("summary", "--json").stdout
    second = run("import", path)
    assert (second.exit_code, second.stdout) == (0, "2 shots in 1 round read; nothing new\n")
    assert run("summary", "--json").stdout == before


def test_a_correction_is_taken_and_the_older_table_does_not_turn_it_back(run: Run, file: Write) -> None:
    rows = drive_and_putt()
    run("import", file(table(rows)))
    rows[0]["distance"] = 420
    assert "stored 1 new or changed record\n" in run("import", file(table(rows), "corrected.csv")).stdout
    corrected = run("summary", "--json").stdout
    rows[0]["distance"] = 400
    again = run("import", file(table(rows)))
    assert again.stdout.endswith("nothing new\n")
    assert "1 records were edited after an import of the same rows and are kept as they are" in again.stderr
    assert run("summary", "--json").stdout == corrected


def test_a_dry_run_stores_nothing(run: Run, file: Write) -> None:
    result = run("import", file(table(drive_and_putt())), "--dry-run")
    assert (result.exit_code, result.stdout) == (0, "2 shots in 1 round read; would store 6 new or changed records\n")
    assert nobody_is_stored(run)


def test_strict_refuses_new_names(run: Run, file: Write) -> None:
    path = file(table(drive_and_putt()))
    result = run("import", path, "--strict")
    assert result.exit_code == 2
    assert "row 2, club: club 'driver' is new, taken for a driver (--strict)" in result.stderr
    assert result.stderr.endswith("error: shots.csv: 3 names are not known; nothing was stored\n")
    assert nobody_is_stored(run)
    run("import", path)
    assert run("import", path, "--strict").exit_code == 0


def test_player_names_the_owner_of_every_row(run: Run, file: Write) -> None:
    rows = [{name: cell for name, cell in one.items() if name != "player"} for one in drive_and_putt()]
    assert run("import", file(table(rows))).exit_code == 2
    assert run("import", file(table(rows)), "--player", "Ash").exit_code == 0
    assert json.loads(run("summary", "--json").stdout)["player"] == "Ash"
    result = run("import", file(table(drive_and_putt())), "--player", "Ash")
    assert result.exit_code == 2
    assert "row 2, player: 'Wren Quillfeather' is not 'Ash', whose rounds are imported" in result.stderr
    for name in ("x" * 81, "\udcff", "a\nb"):
        assert run("import", file(table(rows)), "--player", name).exit_code == 2


def test_blank_on_an_unfinished_ball_is_an_error_and_no_is_a_pick_up(run: Run, file: Write) -> None:
    assert run("import", file(table([row(holed="")]))).exit_code == 2
    assert run("import", file(table([row(holed="no")]))).exit_code == 0
    found = json.loads(run("summary", "--json").stdout)
    assert (found["total"]["unvalued"], found["total"]["shots"]) == (1, 0)
    assert [gap["hole"] for gap in found["incomplete"]] == [1]


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("nonsense", "Could not parse"),
        ("sqlite:////dev/null/x.sqlite", "PENCILBAG_DATABASE: the database cannot be opened"),
        ("postgresql://127.0.0.1:1/x", "PENCILBAG_DATABASE: the database cannot be opened"),
        ("unheard://x/y", "PENCILBAG_DATABASE: the database cannot be opened"),
    ],
)
def test_a_database_that_cannot_be_opened_is_one_line(
    run: Run, file: Write, monkeypatch: pytest.MonkeyPatch, address: str, words: str
) -> None:
    monkeypatch.setenv("PENCILBAG_DATABASE", address)
    result = run("import", file(table(drive_and_putt())))
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert words in result.stderr


def test_a_file_that_is_no_database_is_left_alone(run: Run, file: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    path = file(b"my notes, not a database" * 100, "notes.txt")
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{path}")
    result = run("summary")
    assert (result.exit_code, "not a database" in result.stderr) == (2, True)
    assert path.read_bytes() == b"my notes, not a database" * 100


def test_the_command_says_how_it_read_and_what_settles(run: Run, file: Write) -> None:
    rows = drive_and_putt(note="Zoë", played_on="01/05/2026", target_yd="250|5")
    content = table(rows).decode().replace(",", ";").replace("|", ",").encode("cp1252")
    refused = run("import", file(content))
    assert refused.exit_code == 2
    assert refused.stderr.splitlines()[0].startswith("days other than YYYY-MM-DD in 2 cells, first row 2, played_on")
    assert refused.stderr.splitlines()[0].endswith("choose one (--date-format)")
    options = ("--date-format", "dd/mm/yyyy", "--left", "--units", "metres")
    done = run("import", file(content), *options)
    assert done.exit_code == 0, done.stderr
    assert done.stderr.splitlines()[:2] == [
        "read as CSV, Windows-1252 (not sound UTF-8), semicolons between cells, decimal comma, days DD/MM/YYYY",
        "player 'Wren Quillfeather' is new",
    ]
    plain = table(drive_and_putt(note="Zoë", target_yd=250.5))
    assert "nothing new" in run("import", file(plain)).stdout


def test_a_hand_is_given_to_one_new_player_alone(run: Run, file: Write) -> None:
    both = table([*drive_and_putt(), *drive_and_putt(player="Bramble Inkwell")])
    refused = run("import", file(both), "--left")
    assert (refused.exit_code, "2 players are new" in refused.stderr, "--left" in refused.stderr) == (2, True, True)
    run("import", file(table(drive_and_putt())))
    assert run("import", file(both), "--left").exit_code == 0
