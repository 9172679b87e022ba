"""putting, part-swings, priorities and baseline fit on the command line: words for people, bad input in one line."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from tempfile import gettempdir
from typing import Any

import pytest
from click.testing import CliRunner, Result

from server.__main__ import main
from server.analysis.expected_strokes.own_table import KNOWN
from server.store.engine import open_database
from server.store.log import push
from tests.files.tables import drive_and_putt, table
from tests.made_once import copy_demo
from tests.records.made import Season, default_clubs, par_four

WREN = ("--player", "Wren Quillfeather")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the database."""
    return tmp_path_factory.mktemp("demo")


@pytest.fixture(scope="module")
def demo(place: Path) -> Callable[..., Result]:
    """The commands on a database that holds the invented season."""

    def call(*arguments: str) -> Result:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("PENCILBAG_DATABASE", f"sqlite:///{place / 'demo.sqlite'}")
            patch.delenv("PENCILBAG_BASELINES", raising=False)
            result = CliRunner().invoke(main, list(arguments))
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    copy_demo(place / "demo.sqlite")
    return call


def shown(demo: Callable[..., Result], *arguments: str) -> str:
    result = demo(*arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "nan" not in result.stdout.lower().split()
    lines = result.stdout.replace(gettempdir(), "/tmp").splitlines()
    assert all(len(line) <= 120 for line in lines)
    return result.stdout


def error_of(demo: Callable[..., Result], *arguments: str) -> str:
    """The one line of bad input."""
    result = demo(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert len(result.stderr.splitlines()) == 1
    return result.stderr


def test_putting_reads_as_a_player_would(demo: Callable[..., Result]) -> None:
    words = shown(demo, "putting", *WREN)
    assert words.startswith("Wren Quillfeather: putting, 2026-03-07 to 2026-10-11, against tour ")
    for part in (
        "From 8 ft ",
        "the tour holes 50",
        "Three putts or more on ",
        "You hole half your putts from ",
        "first putts",
    ):
        assert part in words
    document = json.loads(demo("putting", "--json", *WREN).stdout)
    row = next(line for line in words.splitlines() if line.startswith("8 ft"))
    eight = next(row for row in document["curve"] if row["feet"] == 8)
    assert row.split()[2] == f"{100 * eight['rate']:.0f}"


def test_part_swings_and_priorities_read_as_a_coach_would(demo: Callable[..., Result]) -> None:
    swings = shown(demo, "part-swings", *WREN)
    assert "over 10 to 20 %" in swings
    assert "not enough data" in swings
    words = shown(demo, "priorities", *WREN)
    assert "1. Tee shots on par 4 and 5 cost about " in words
    assert "Next: " in words
    assert not any(line.startswith("4.") for line in words.splitlines())


@pytest.mark.parametrize(
    ("command", "words"),
    [
        ("putting", "too few for a curve"),
        ("part-swings", "Not enough data: 0 part swings"),
        ("priorities", "No round with"),
    ],
)
def test_days_without_rounds_are_a_sentence(demo: Callable[..., Result], command: str, words: str) -> None:
    assert words in shown(demo, command, *WREN, "--from", "2031-01-01")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("putting", "--club", "moon"), "--club: 'moon' is not one of the player's clubs: "),
        (("putting", "--club", "putter", "--against", "moon"), "--against: 'moon' is not one of"),
        (("putting", "--club", "putter", "--against", "putter"), "--against: 'putter' cannot be compared with itself"),
        (("putting", "--against", "putter"), "--against: name the club to compare as well"),
        (("part-swings", "--club", "moon"), "--club: 'moon'"),
        (("priorities", "--baseline", "nobody"), "'nobody' is neither a file nor one of tour"),
        (("priorities", "--from", "2026-06-02", "--to", "2026-06-01"), "--from: 2026-06-02 is after --to 2026-06-01"),
    ],
)
def test_bad_input_is_one_line(demo: Callable[..., Result], arguments: tuple[str, ...], words: str) -> None:
    assert words in error_of(demo, *arguments, *WREN)


def test_an_open_competition_round_locks_them(run: Callable[..., Result], tmp_path: Path) -> None:
    made = Season("Locked")
    par_four(made, made.round("comp", kind="competition"), default_clubs(made))
    engine = open_database(f"sqlite:///{tmp_path / 'cli.sqlite'}")
    push(engine, made.player_id, "phone", made.changes, strict=True)
    engine.dispose()
    for command in ("putting", "part-swings", "priorities"):
        result = run(command)
        assert (result.exit_code, result.stdout) == (2, "")
        assert "4.3a" in result.stderr


def test_a_fitted_baseline_is_found_by_id_and_sums_telescope(demo: Callable[..., Result], place: Path) -> None:
    said = shown(demo, "baseline", "fit", "--from", "Wren Quillfeather")
    file = place / "baselines" / "wren-quillfeather.csv"
    assert str(file) in said
    assert "Away from data it is tour; the column known shows" in said
    assert "wren-quillfeather" in shown(demo, "baseline", "list")
    assert "it can be used as a baseline" in shown(demo, "baseline", "check", str(file))
    about = tomllib.loads(file.with_suffix(".toml").read_text(encoding="utf-8"))
    assert about["fit"]["rounds"] == 30
    assert about["fit"]["first_day"].isoformat() == "2026-03-07"
    assert about["version"].startswith("2026-10-11.")
    assert about["fit"]["published"].startswith("tour ")
    known = [line.split(",")[4] for line in file.read_text(encoding="utf-8").splitlines()[1:]]
    assert {"data", "published"} < set(known) <= set(KNOWN) == set(about["known"])
    totals = {}
    for by in ("category", "hole", "round"):
        result = demo("summary", *WREN, "--json", "--by", by, "--baseline", "wren-quillfeather")
        document: dict[str, Any] = json.loads(result.stdout)
        assert document["baseline"]["id"] == "wren-quillfeather"
        totals[by] = document["total"]["strokes_gained"]
        assert sum(row["strokes_gained"] for row in document["rows"]) == pytest.approx(totals[by], abs=1e-9)
    assert len({round(total, 9) for total in totals.values()}) == 1
    by_tour = json.loads(demo("summary", *WREN, "--json", "--by", "category").stdout)
    assert abs(totals["category"]) < abs(by_tour["total"]["strokes_gained"]) / 4
    # each reference stands beside the other, in the document and in one line of the table
    assert (by_tour["beside"]["own"], by_tour["beside"]["baseline"]["id"]) == (True, "wren-quillfeather")
    assert by_tour["beside"]["total"]["strokes_gained"] == pytest.approx(totals["category"], abs=1e-9)
    by_own = json.loads(demo("summary", *WREN, "--json", "--by", "category", "--baseline", "wren-quillfeather").stdout)
    assert (by_own["beside"]["own"], by_own["beside"]["baseline"]) == (False, by_tour["baseline"])
    assert by_own["beside"]["total"] == by_tour["total"]
    assert f"By the own baseline wren-quillfeather {about['version']}: " in shown(demo, "summary", *WREN)


def test_the_same_shots_give_the_same_version_and_fewer_another(demo: Callable[..., Result], place: Path) -> None:
    def version(*more: str) -> str:
        shown(demo, "baseline", "fit", "--from", "Wren Quillfeather", "--id", "again", *more)
        text = (place / "baselines" / "again.toml").read_text(encoding="utf-8")
        return str(tomllib.loads(text)["version"])

    def used() -> str:
        return str(json.loads(demo("summary", *WREN, "--json", "--baseline", "again").stdout)["baseline"]["version"])

    whole = version()
    assert version() == whole == used()
    # the file on disk is read again when it changes
    assert version("--last", "2026-08-31") == used() != whole


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--from", "Nobody"), "--from: 'Nobody' is neither a player"),
        (
            ("--from", "Wren Quillfeather", "--last", "2026-03-10"),
            "are too few for a baseline of one's own: at least 200 shots in 5",
        ),
        (("--from", "everyone", "--first", "2031-01-01"), "there are no shots in these days"),
        (("--from", "everyone", "--on", "nobody"), "'nobody' is neither a file nor one of"),
        (("--from", "everyone", "--id", "../up"), "--id: '../up' must be small letters"),
        (("--from", "everyone", "--id", "tour"), "--id: 'tour' must be small letters"),
        (
            ("--from", "everyone", "--first", "2026-06-02", "--last", "2026-06-01"),
            "--first: 2026-06-02 is after --last",
        ),
    ],
)
def test_what_cannot_be_fitted_is_named_in_one_line(
    demo: Callable[..., Result], arguments: tuple[str, ...], words: str
) -> None:
    assert words in error_of(demo, "baseline", "fit", *arguments)


def test_twenty_shots_are_refused(run: Callable[..., Result], file: Callable[..., Path]) -> None:
    rows = [shot for hole in range(1, 11) for shot in drive_and_putt(hole=hole)]
    assert run("import", file(table(rows))).exit_code == 0
    result = run("baseline", "fit", "--from", "Wren Quillfeather")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "20 shots on finished holes of 1 round are too few" in result.stderr


def test_a_file_elsewhere_can_be_used_by_its_path(demo: Callable[..., Result], tmp_path: Path) -> None:
    file = tmp_path / "deep" / "mine.csv"
    shown(demo, "baseline", "fit", "--from", "everyone", "--to", str(file))
    document = json.loads(demo("summary", *WREN, "--json", "--baseline", str(file)).stdout)
    assert document["baseline"]["id"] == "mine"
