"""Tables of an earlier step: reading commands leave them as they are and say what to run; migrate brings them on."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from click.testing import CliRunner, Result

from server.__main__ import main
from server.store.backup import serving
from server.store.engine import MIGRATIONS, alembic_config, open_database

STEPS = sorted(path.name[:4] for path in (MIGRATIONS / "versions").glob("[0-9]*.py"))
NEWEST, BEFORE = STEPS[-1], STEPS[-2]
WORDS = (
    f"error: PENCILBAG_DATABASE: its tables are of step {BEFORE}, this version needs {NEWEST}; "
    "make a backup, stop the server, and run migrate\n"
)


@pytest.fixture
def old(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A database of the step before the newest."""
    file = tmp_path / "log.sqlite"
    engine = sa.create_engine(f"sqlite:///{file}")
    with engine.begin() as connection:
        config = alembic_config()
        config.attributes["connection"] = connection
        command.upgrade(config, BEFORE)
    engine.dispose()
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{file}")
    return file


def step(file: Path) -> str:
    with closing(sqlite3.connect(file)) as connection:
        return str(connection.execute("SELECT version_num FROM alembic_version").fetchone()[0])


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, arguments)


@pytest.mark.parametrize(
    "arguments", [("summary",), ("account", "list"), ("check",), ("account", "add", "wren", "--role", "owner")]
)
def test_what_does_not_make_a_database_leaves_old_tables_and_says_what_to_run(
    old: Path, arguments: tuple[str, ...]
) -> None:
    before = old.read_bytes()
    result = run(*arguments)
    assert (result.exit_code, result.stdout, result.stderr) == (2, "", WORDS)
    assert old.read_bytes() == before


def test_migrate_says_what_is_to_be_done_does_it_and_has_nothing_left(old: Path) -> None:
    asked = run("migrate", "--check")
    assert (asked.exit_code, step(old)) == (1, BEFORE)
    assert asked.stdout == f"the tables are of step {BEFORE}, the newest is {NEWEST}: run migrate\n"
    done = run("migrate")
    assert (done.exit_code, step(old)) == (0, NEWEST)
    assert done.stdout == f"the tables went from step {BEFORE} to {NEWEST}\n"
    for again in (run("migrate"), run("migrate", "--check")):
        assert (again.exit_code, again.stdout) == (0, f"the tables are of step {NEWEST}, the newest\n")
    assert run("account", "list").exit_code == 0


def test_migrate_waits_until_the_server_is_stopped(old: Path) -> None:
    engine = open_database(f"sqlite:///{old}", older="leave")
    with serving(engine):
        result = run("migrate")
    engine.dispose()
    assert (result.exit_code, step(old)) == (2, BEFORE)
    assert result.stderr == "error: a server is running on this database; stop it first\n"


def test_a_backup_takes_old_tables_as_they_are(old: Path, tmp_path: Path) -> None:
    result = run("backup", str(tmp_path / "before.sqlite"))
    assert result.exit_code == 0, result.stderr
    assert (step(old), step(tmp_path / "before.sqlite")) == (BEFORE, BEFORE)


def test_what_makes_a_database_brings_old_tables_on(old: Path) -> None:
    assert run("demo", "--if-empty").exit_code == 0
    assert step(old) == NEWEST


def test_the_version_is_printed() -> None:
    assert run("--version").stdout.startswith("Pencilbag, version ")
