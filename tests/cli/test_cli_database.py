"""Which commands make a database, and what is said where there is none."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import click
import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from server.__main__ import main
from server.commands import MAKERS
from tests.conftest import POSTGRESQL
from tests.store.cluster import Cluster

WORDS = f"{MAKERS} make one"

READ_OR_CHANGE: dict[str, list[str]] = {
    "summary": [],
    "trial": ["--a", "driver", "--b", "3 wood"],
    "level": [],
    "squad": [],
    "against": [],
    "pair": ["--player", "Ash", "--other", "Birch"],
    "holes": [],
    "patterns": ["--club", "driver"],
    "strikes": ["--club", "driver"],
    "distances": [],
    "putting": [],
    "part-swings": [],
    "priorities": [],
    "practice": [],
    "practice-targets": [],
    "import-practice": ["MAP"],
    "plan": ["--course", "Larkmoor", "--hole", "1"],
    "course-bag": ["--course", "Larkmoor", "--hole", "1"],
    "round-ahead": ["--course", "Larkmoor"],
    "map import": ["MAP"],
    "map export": ["OUT"],
    "export": ["--season", "2026", "--to", "OUT"],
    "verify": ["OUT"],
    "baseline fit": ["--from", "everyone"],
    "backup": ["OUT"],
    "check": [],
    "migrate": [],
    "partition-log": ["--parts", "16"],
    "account add": ["wren", "--role", "owner", "--password-stdin"],
    "account list": [],
    "account squads": ["wren", "north"],
    "account password": ["wren", "--password-stdin"],
    "account end": ["wren"],
    "account join": ["wren"],
    "token add": ["wren", "--scope", "read_own"],
    "token list": ["wren"],
    "token end": ["wren", "x"],
}
"""Every command that needs a database that is there, with the arguments it cannot do without."""

WITHOUT = {"dictionary", "baseline list", "baseline show", "baseline check"}
"""Commands that open no database."""


def every_command(group: click.Group, before: str = "") -> list[str]:
    """The names of all commands, those of groups with the group before them."""
    found = []
    for name, command in group.commands.items():
        words = f"{before}{name}"
        found += every_command(command, f"{words} ") if isinstance(command, click.Group) else [words]
    return found


def test_every_command_is_one_that_makes_a_database_or_one_that_does_not() -> None:
    makers = set(MAKERS.replace(" and ", ", ").split(", "))
    assert sorted(every_command(main)) == sorted({*READ_OR_CHANGE, *makers, *WITHOUT})


@pytest.mark.parametrize("command", READ_OR_CHANGE)
def test_a_mistyped_database_is_named_and_nothing_is_made(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "typo" / "log.sqlite"
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{place}")
    code, words = refused(command, tmp_path)
    assert (code, words) == (2, f"error: PENCILBAG_DATABASE: there is no database at {place}; {WORDS}\n")
    assert not place.parent.exists()


def refused(command: str, folder: Path) -> tuple[int, str]:
    """The exit code of a command and what it says on stderr; nothing may stand on stdout."""
    map_ = folder / "map.geojson"
    map_.write_text("{}")
    places = {"MAP": str(map_), "OUT": str(folder / "out")}
    arguments = [*command.split(), *(places.get(word, word) for word in READ_OR_CHANGE[command])]
    result = CliRunner().invoke(main, arguments, input="correct horse battery\n")
    assert result.stdout == ""
    assert sorted(path.name for path in folder.iterdir() if path.name != "typo") == ["map.geojson"]
    return result.exit_code, result.stderr


@pytest.mark.parametrize("command", ["summary", "account list"])
def test_another_programs_database_and_an_empty_file_stay_as_they_are(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "typo").mkdir()
    empty, other = tmp_path / "typo" / "empty.sqlite", tmp_path / "typo" / "other.sqlite"
    empty.touch()
    with closing(sqlite3.connect(other)) as database:
        database.execute("CREATE TABLE recipe (name TEXT)")
        database.commit()
    before = other.read_bytes()
    for place in (empty, other):
        monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{place}")
        assert refused(command, tmp_path) == (
            2,
            f"error: PENCILBAG_DATABASE: there is no database at {place}; {WORDS}\n",
        )
    assert (empty.read_bytes(), other.read_bytes()) == (b"", before)


@pytest.mark.parametrize("sort", [POSTGRESQL])
@pytest.mark.parametrize("command", ["summary", "account list", "check"])
def test_a_database_without_our_tables_is_named(
    sort: str, command: str, cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = cluster.fresh(empty=True)
    monkeypatch.setenv("PENCILBAG_DATABASE", address)
    code, words = refused(command, tmp_path)
    assert (code, len(words.splitlines())) == (2, 1)
    assert words.startswith("error: PENCILBAG_DATABASE: there is no database at postgresql")
    assert words.endswith(f"; {WORDS}\n")
    engine = sa.create_engine(sa.make_url(address).set(drivername="postgresql+psycopg"))
    assert sa.inspect(engine).get_table_names() == []
    engine.dispose()
    cluster.drop(address)


def test_demo_makes_one_where_there_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = tmp_path / "new" / "log.sqlite"
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{place}")
    assert CliRunner().invoke(main, ["demo"]).exit_code == 0
    result = CliRunner().invoke(main, ["summary"])
    assert (result.exit_code, result.stderr) == (0, "")
