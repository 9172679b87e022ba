"""Backup while pushes go on, restore whole or not at all, on both databases."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from server.__main__ import main
from server.store import backup as backups
from server.store.backup import BackupError, backup, restore, serving
from server.store.engine import open_database, writing
from server.store.log import push
from server.store.pulling import pull
from server.store.rebuild import check_database
from server.store.tables import CLUB
from tests.conftest import DATABASES, POSTGRESQL, SQLITE
from tests.records.made import Season, body_of, change
from tests.store.cluster import Cluster
from tests.store.full_database import everything, records_in_log
from tests.tiers import count

New = Callable[[str, Path], str]


@pytest.fixture(params=DATABASES)
def sort(request: pytest.FixtureRequest) -> str:
    """Which database."""
    return str(request.param)


@pytest.fixture
def engine(sort: str, new_filled: New, tmp_path: Path) -> Iterator[sa.Engine]:
    """A database with something of everything."""
    opened = open_database(new_filled(sort, tmp_path))
    yield opened
    opened.dispose()


@pytest.fixture
def command(engine: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """Runs `python -m server` on this database."""
    monkeypatch.setenv("PENCILBAG_DATABASE", engine.url.set(drivername=engine.dialect.name).render_as_string(False))
    return lambda *words: CliRunner().invoke(main, [str(word) for word in words])


def in_a_new_one(sort: str, new_database: New, folder: Path, file: Path) -> sa.Engine:
    """A backup restored into a database of its own."""
    folder.mkdir()
    engine = open_database(new_database(sort, folder))
    restore(engine, file)
    return engine


def test_a_backup_holds_everything(
    engine: sa.Engine, sort: str, command: Callable[..., Result], new_database: New, tmp_path: Path
) -> None:
    file = tmp_path / "season.backup"
    done = command("backup", file)
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout == f"backup written to {file} ({file.stat().st_size} bytes)\n"
    copy = in_a_new_one(sort, new_database, tmp_path / "new", file)
    assert everything(copy) == everything(engine)
    assert check_database(copy).faults == 0
    copy.dispose()


def test_restore_sets_everything_back(engine: sa.Engine, command: Callable[..., Result], tmp_path: Path) -> None:
    file = tmp_path / "season.backup"
    backup(engine, file)
    before = everything(engine)
    records = records_in_log(engine)
    season = Season("Late")
    push(engine, season.player_id, "phone", season.changes)
    with writing(engine) as connection:
        connection.execute(sa.delete(CLUB))
    done = command("restore", file)
    assert (done.exit_code, done.stderr) == (0, "")
    counts = f"{len(before['change'])} changes, {len(records)} records"
    assert done.stdout == f"restored from {file}: {counts}\n"
    assert everything(engine) == before
    assert push(engine, season.player_id, "phone", season.changes).new == 1
    assert command("check").exit_code == 0


def test_backups_taken_while_pushes_go_on_are_each_one_state(
    engine: sa.Engine, sort: str, new_database: New, tmp_path: Path
) -> None:
    season = Season("Busy")
    club = change("club", body_of("club"))
    push(engine, season.player_id, "phone", [*season.changes, club])
    over = threading.Event()
    done: list[int] = []

    def edit() -> None:
        for number in range(2_000):
            said = {"record_id": club["record_id"]}
            edits = [change("club", body_of("club", label=f"{number} {place}"), **said) for place in range(3)]
            done.append(push(engine, season.player_id, "phone", edits).new)
            if over.is_set():
                return

    thread = threading.Thread(target=edit)
    thread.start()
    lengths = []
    for number in range(count(2, 4)):
        file = tmp_path / f"{number}.backup"
        backup(engine, file)
        copy = in_a_new_one(sort, new_database, tmp_path / str(number), file)
        report = check_database(copy)
        assert report.faults == 0, report.differences
        page = pull(copy, season.player_id, None, 100_000)
        assert page is not None
        # Pushes of three: a backup never holds a part of one.
        assert (len(page.changes) - 2) % 3 == 0
        lengths.append(len(page.changes))
        copy.dispose()
    over.set()
    thread.join(120)
    assert not thread.is_alive()
    assert set(done) == {3}
    assert lengths == sorted(lengths)
    assert lengths[-1] > lengths[0], "nothing was pushed between the backups"


def test_a_backup_of_sqlite_is_one_file_that_can_be_read_anywhere(new_filled: New, tmp_path: Path) -> None:
    engine = open_database(new_filled(SQLITE, tmp_path))
    away = tmp_path / "away"
    away.mkdir()
    file = away / "season backup?#%.sqlite"
    backup(engine, file)
    # File format version numbers 1 and 1: no write-ahead log (sqlite.org/fileformat.html, bytes 18 and 19).
    assert file.read_bytes()[18:20] == b"\x01\x01"
    assert list(away.iterdir()) == [file]
    restore(engine, file)
    assert list(away.iterdir()) == [file]
    with closing(sqlite3.connect(tmp_path / "log.sqlite")) as again:
        assert again.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    engine.dispose()


def test_a_backup_that_fails_leaves_the_one_before(
    engine: sa.Engine, sort: str, tmp_path: Path, command: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "season.backup"
    backup(engine, file)
    before = file.read_bytes()
    push(engine, Season("Late").player_id, "phone", Season("Late").changes)

    def unsound(_path: Path) -> None:
        raise BackupError("the copy is damaged")

    with monkeypatch.context() as patched:
        patched.setattr(backups, "_check_sqlite" if sort == SQLITE else "_check_dump", unsound)
        done = command("backup", file)
    assert (done.exit_code, done.stderr) == (2, "error: the copy is damaged\n")
    assert file.read_bytes() == before
    assert not list(tmp_path.glob("*.part*"))
    done = command("backup", tmp_path / "nowhere" / "x")
    assert (done.exit_code, done.stderr) == (2, f"error: file: the folder {tmp_path / 'nowhere'} does not exist\n")
    (tmp_path / "taken.part").mkdir()
    done = command("backup", tmp_path / "taken")
    assert done.exit_code == 2
    assert done.stderr.startswith(f"error: {tmp_path / 'taken'} cannot be written: ")


def test_restore_refuses_while_a_server_runs_and_a_server_while_a_restore_does(
    engine: sa.Engine, tmp_path: Path, command: Callable[..., Result]
) -> None:
    file = tmp_path / "season.backup"
    backup(engine, file)
    season = Season("Late")
    push(engine, season.player_id, "phone", season.changes)
    before = everything(engine)
    url = engine.url
    others = [open_database(url.render_as_string(False)) for _ in range(2)]
    with serving(others[0]), serving(others[1]):
        done = command("restore", file)
        assert (done.exit_code, done.stderr) == (2, "error: a server is running on this database; stop it first\n")
        assert everything(engine) == before
    with (
        backups._mark(engine, shared=False),
        pytest.raises(BackupError, match="a restore is at work"),
        serving(others[0]),
    ):
        pass
    with serving(others[0]):
        pass
    assert command("restore", file).exit_code == 0
    for other in others:
        other.dispose()


def bad_sqlite(folder: Path, sound: Path) -> Iterator[tuple[Path, str]]:
    """Files that are no sound backup of ours, and what is said about them."""
    whole = sound.read_bytes()
    for name, held, words in [
        ("text", b"lie,distance\n" * 1000, "is not a sound database"),
        ("cut off", whole[: len(whole) // 2], "malformed|is damaged"),
        ("overwritten", whole[:8192] + bytes(len(whole) // 2) + whole[8192 + len(whole) // 2 :], "malformed|damaged"),
        ("empty", b"", "is not a backup of this tool: table alembic_version is missing"),
    ]:
        path = folder / name
        path.write_bytes(held)
        yield path, words
    for name, statement, words in [
        ("foreign", "DROP TABLE change", "is not a backup of this tool: table change is missing"),
        (
            "newer",
            "UPDATE alembic_version SET version_num = '9999'",
            r"version \(9999\) that this server does not know",
        ),
        ("of no version", "DELETE FROM alembic_version", r"version \(none\) that this server does not know"),
    ]:
        path = folder / name
        shutil.copy(sound, path)
        with closing(sqlite3.connect(path, isolation_level=None)) as database:
            database.execute(statement)
        yield path, words


def bad_dumps(folder: Path, sound: Path, new_database: New) -> Iterator[tuple[Path, str]]:
    """The same for PostgreSQL."""
    whole = sound.read_bytes()
    for name, held, words in [
        ("text", b"lie,distance\n" * 1000, "does not appear to be a valid archive"),
        ("cut off", whole[: len(whole) * 2 // 3], "end of file|could not read"),
        ("cut short", whole[:-100], "end of file|could not read"),
        ("empty", b"", "end of file|too short|could not read"),
    ]:
        path = folder / name
        path.write_bytes(held)
        yield path, words
    for name, statement, words in [
        ("foreign", "DROP TABLE change", "is not a backup of this tool: table change is missing"),
        (
            "newer",
            "UPDATE alembic_version SET version_num = '9999'",
            r"version \(9999\) that this server does not know",
        ),
    ]:
        other = open_database(new_database(POSTGRESQL, folder))
        path = folder / name
        with other.begin() as connection:
            connection.exec_driver_sql(statement)
        backups._run_postgres("pg_dump", other, ["--format=custom", "--file", str(path)])
        other.dispose()
        yield path, words


def test_a_bad_backup_is_refused_and_nothing_is_touched(
    engine: sa.Engine, sort: str, command: Callable[..., Result], new_database: New, tmp_path: Path
) -> None:
    folder = tmp_path / "bad"
    folder.mkdir()
    sound = folder / "sound"
    backup(engine, sound)
    season = Season("Late")
    push(engine, season.player_id, "phone", season.changes)
    before = everything(engine)
    bad = bad_sqlite(folder, sound) if sort == SQLITE else bad_dumps(folder, sound, new_database)
    count = 0
    for path, words in bad:
        with pytest.raises(BackupError, match=words):
            restore(engine, path)
        done = command("restore", path)
        assert (done.exit_code, done.stdout) == (2, ""), path.name
        assert len(done.stderr.splitlines()) == 1
        assert everything(engine) == before, path.name
        count += 1
    assert count >= 6
    assert command("restore", tmp_path / "missing").stderr == f"error: file: '{tmp_path / 'missing'}' does not exist\n"
    if sort == SQLITE:
        itself = tmp_path / "log.sqlite"
        assert command("restore", itself).stderr == f"error: {itself} is the database itself\n"
    assert everything(engine) == before
    assert command("restore", sound).exit_code == 0


def test_a_backup_of_the_other_database_is_refused(cluster: Cluster, new_filled: New, tmp_path: Path) -> None:
    engines = {sort: open_database(new_filled(sort, tmp_path)) for sort in DATABASES}
    for sort, engine in engines.items():
        backup(engine, tmp_path / sort)
    for sort, engine in engines.items():
        before = everything(engine)
        other = next(name for name in DATABASES if name != sort)
        with pytest.raises(BackupError):
            restore(engine, tmp_path / other)
        assert everything(engine) == before
        engine.dispose()
    assert cluster.folder.is_dir()


def test_a_restore_that_is_cut_off_changes_nothing(
    engine: sa.Engine, sort: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The target is replaced in one transaction: held by a writer (SQLite) or with a view in the way (PostgreSQL) the
    restore fails after its checks, and everything stays."""
    file = tmp_path / "season.backup"
    backup(engine, file)
    push(engine, Season("Late").player_id, "phone", Season("Late").changes)
    before = everything(engine)
    if sort == SQLITE:
        monkeypatch.setattr(backups, "RESTORE_WAIT_S", 0.1)
        with closing(sqlite3.connect(tmp_path / "log.sqlite", isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(BackupError, match="in use by another program"):
                restore(engine, file)
            other.execute("ROLLBACK")
    else:
        with engine.begin() as connection:
            connection.exec_driver_sql("CREATE VIEW in_the_way AS SELECT * FROM change")
        with pytest.raises(BackupError, match="depend"):
            restore(engine, file)
        with engine.begin() as connection:
            connection.exec_driver_sql("DROP VIEW in_the_way")
    assert everything(engine) == before
    restore(engine, file)
    assert everything(engine) != before


@pytest.mark.parametrize("held", ["backup", "database"])
def test_a_backup_of_another_page_size_is_restored(
    new_filled: New, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, held: str
) -> None:
    """Databases of older versions have pages of 4 kB, new ones have larger ones. SQLite's backup refuses to change the
    size of pages where there is a write-ahead log (sqlite.org/c3ref/backup_finish.html, SQLITE_READONLY)."""
    sizes = {"backup": 8_192, "database": 8_192} | {held: 4_096}
    engines = {}
    for name, size in sizes.items():
        folder = tmp_path / name
        folder.mkdir()
        url = new_filled(SQLITE, folder)
        with closing(sqlite3.connect(folder / "log.sqlite", isolation_level=None)) as database:
            database.execute("PRAGMA journal_mode=DELETE").fetchone()
            database.execute(f"PRAGMA page_size={size}")
            database.execute("VACUUM")
        engines[name] = open_database(url)
    source, engine = engines["backup"], engines["database"]
    push(source, Season("Late").player_id, "phone", Season("Late").changes)
    file = tmp_path / "season.backup"
    backup(source, file)
    before = everything(engine)
    assert before != everything(source)

    monkeypatch.setattr(backups, "RESTORE_WAIT_S", 0.1)
    with closing(sqlite3.connect(tmp_path / "database" / "log.sqlite", isolation_level=None)) as other:
        other.execute("SELECT count(*) FROM change").fetchone()
        with pytest.raises(BackupError, match="in use by another program; stop it first"):
            restore(engine, file)
    assert everything(engine) == before
    restore(engine, file)
    assert everything(engine) == everything(source)
    assert check_database(engine).faults == 0
    with engine.connect() as connection:
        pragmas = ("journal_mode", "page_size", "integrity_check")
        found = [connection.exec_driver_sql(f"PRAGMA {name}").scalar_one() for name in pragmas]
        assert found == ["wal", sizes["backup"], "ok"]
    for opened in engines.values():
        opened.dispose()


def test_a_restored_log_resets_cursors_of_what_it_lacks(engine: sa.Engine, tmp_path: Path) -> None:
    file = tmp_path / "season.backup"
    backup(engine, file)
    season = Season("Wren Quillfeather")
    known = pull(engine, season.player_id, None)
    assert known is not None
    push(engine, season.player_id, "phone", [change("club", body_of("club"))])
    ahead = pull(engine, season.player_id, None)
    assert ahead is not None
    restore(engine, file)
    for page, reset in ((known, False), (ahead, True)):
        again = pull(engine, season.player_id, page.cursor)
        assert again is not None
        assert again.reset is reset


def test_foreign_rows_do_not_survive_a_restore(engine: sa.Engine, tmp_path: Path) -> None:
    """What came after the backup is gone, whoever it belonged to: devices bring it back."""
    file = tmp_path / "season.backup"
    backup(engine, file)
    late: list[Any] = [Season(name) for name in ("Late", "Later")]
    for season in late:
        push(engine, season.player_id, "phone", season.changes)
    restore(engine, file)
    assert [pull(engine, season.player_id, None) for season in late] == [None, None]
