"""No byte of what was deleted stays in SQLite's file, and who writes meanwhile is neither harmed nor held up."""

from __future__ import annotations

import random
import sqlite3
import subprocess
import sys
import uuid
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from server.store import erasure, scrubbing
from server.store.engine import open_database, reading, writing
from server.store.erasure import erase_player, finish_erasures
from server.store.log import push
from server.store.players import players
from server.store.rebuild import check_database
from server.store.tables import CHANGE, PLAYER, SHOT
from tests.api.people import House, house
from tests.records.made import Season

MARK, OTHER = b"zanzibarquartz", b"bramblewharf"


def opened(path: Path) -> sqlite3.Connection:
    database = sqlite3.connect(path, isolation_level=None, timeout=30)
    database.execute("PRAGMA journal_mode=WAL")
    return database


def fill(database: sqlite3.Connection, seed: int) -> None:
    """Rows of two owners in random order, some written anew: pages split, and leave copies behind."""
    draw = random.Random(seed)
    database.execute("CREATE TABLE record (id TEXT PRIMARY KEY, owner TEXT, body TEXT) WITHOUT ROWID")
    database.execute("CREATE INDEX by_owner ON record (owner)")
    kept: list[str] = []
    for turn in range(60):
        owner = (MARK, OTHER)[turn % 2].decode()
        database.execute("BEGIN IMMEDIATE")
        for _ in range(60):
            kept.append(str(uuid.UUID(int=draw.getrandbits(128))))
            body = owner + "x" * draw.randrange(20, 900)
            database.execute("INSERT INTO record VALUES (?, ?, ?)", (kept[-1], owner, body))
        for one in draw.sample(kept, 20):
            body = "x" * draw.randrange(20, 2000)
            database.execute("UPDATE record SET body = owner || ? WHERE id = ?", (body, one))
        database.execute("COMMIT")


def bytes_of(path: Path) -> bytes:
    return b"".join(one.read_bytes() for one in sorted(path.parent.glob(f"{path.name}*")))


def left_of(path: Path) -> int:
    """How often the mark stands in the file, asked by another process: to read it here would end our locks on it."""
    code = "import sys; print(open(sys.argv[1], 'rb').read().count(sys.argv[2].encode()))"
    asked = [sys.executable, "-I", "-c", code, str(path), MARK.decode()]
    return int(subprocess.run(asked, check=True, capture_output=True, text=True).stdout)


def scrub(path: Path, seconds: float = 30) -> int:
    return subprocess.run([sys.executable, "-I", scrubbing.__file__, str(path), str(seconds)], check=False).returncode


@pytest.mark.parametrize("seed", range(3))
def test_copies_that_moving_rows_left_behind_are_overwritten(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "log.sqlite"
    with closing(opened(path)) as database:
        fill(database, seed)
        kept = database.execute("SELECT * FROM record WHERE owner = ?", (OTHER.decode(),)).fetchall()
        database.execute("PRAGMA secure_delete = ON")
        database.execute("DELETE FROM record WHERE owner = ?", (MARK.decode(),))
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        assert left_of(path) > 0, "to delete is not enough: else this test could not fail"
        assert scrub(path) == scrubbing.DONE
        assert left_of(path) == 0
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert database.execute("SELECT * FROM record").fetchall() == kept
    assert MARK not in bytes_of(path)


def test_pages_that_were_freed_without_overwriting_are_too(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with closing(opened(path)) as database:
        fill(database, 1)
        database.execute("PRAGMA secure_delete = OFF")
        database.execute("DELETE FROM record WHERE owner = ?", (MARK.decode(),))
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        assert left_of(path) > 100
        assert scrub(path) == scrubbing.DONE
        assert left_of(path) == 0
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]


WRITER = """
import random, sqlite3, sys, time, uuid
database = sqlite3.connect(sys.argv[1], isolation_level=None, timeout=30)
draw = random.Random(5)
print("begun", flush=True)
for _ in range(400):
    rows = database.execute("SELECT id FROM record WHERE owner = 'bramblewharf' LIMIT 200").fetchall()
    database.execute("BEGIN IMMEDIATE")
    for _ in range(10):
        made = str(uuid.UUID(int=draw.getrandbits(128)))
        database.execute("INSERT INTO record VALUES (?, 'bramblewharf', ?)", (made, "y" * draw.randrange(20, 900)))
    body = ("z" * draw.randrange(20, 2000), draw.choice(rows)[0])
    database.execute("UPDATE record SET body = ? WHERE id = ?", body)
    database.execute("COMMIT")
    time.sleep(0.005)
"""


def test_a_writer_goes_on_meanwhile_and_brings_nothing_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "log.sqlite"
    with closing(opened(path)) as database:
        fill(database, 2)
        database.execute("DELETE FROM record WHERE owner = ?", (MARK.decode(),))
    # many small slices, so that the writer comes between them
    monkeypatch.setattr(scrubbing, "SLICE", 64)
    monkeypatch.setattr(scrubbing, "SMALL", 64)
    asked = [sys.executable, "-I", "-c", WRITER, str(path)]
    with subprocess.Popen(asked, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        writer.stdout.readline()
        scrubbing.scrub(str(path))
        went_on = writer.poll() is None
        assert writer.wait(60) == 0
    assert went_on
    assert left_of(path) == 0
    with closing(opened(path)) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert database.execute("SELECT count(*) FROM record").fetchone()[0] == 60 * 30 + 400 * 10


def test_a_reader_of_an_older_state_is_informed(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite"
    with closing(opened(path)) as database, closing(opened(path)) as reader:
        fill(database, 3)
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM record").fetchone()
        database.execute("DELETE FROM record WHERE owner = ?", (MARK.decode(),))
        assert scrub(path, 0.5) == scrubbing.HELD
        reader.execute("ROLLBACK")
        assert scrub(path) == scrubbing.DONE
    assert MARK not in bytes_of(path)


def test_another_file_is_left_alone(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("no database" * 100)
    assert scrub(path) == scrubbing.CANNOT
    assert path.read_text() == "no database" * 100
    assert "not a database" in capfd.readouterr().err


@pytest.fixture
def full(database_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[House]:
    """A house in which erasing takes many pieces."""
    for name in ("PIECE", "PIECE_OF_OTHERS"):
        monkeypatch.setattr(erasure, name, 1)
    made = house(database_url)
    yield made
    made.engine.dispose()


def test_others_write_between_the_pieces_of_an_erasure(full: House, monkeypatch: pytest.MonkeyPatch) -> None:
    impatient = open_database(full.app.config["DATABASE"], busy_wait_s=0)
    pauses: list[float] = []

    def pause(seconds: float) -> None:
        pauses.append(seconds)
        other = Season(f"Bramble {len(pauses)}")
        assert push(impatient, other.player_id, "phone", other.changes, strict=True).new == len(other.changes)
        with reading(impatient) as connection:
            assert full.robin.player_id not in [player.player_id for player in players(connection)]

    monkeypatch.setattr(erasure.time, "sleep", pause)
    erase_player(full.engine, full.robin.player_id)
    assert len(pauses) > 20
    assert min(pauses) >= erasure.SHORTEST_PAUSE_S
    assert check_database(full.engine).faults == 0
    impatient.dispose()


def test_an_erasure_that_was_cut_off_is_finished(full: House, monkeypatch: pytest.MonkeyPatch) -> None:
    engine, robin = full.engine, full.robin.player_id
    pieces = []

    def cut_off(seconds: float) -> None:
        pieces.append(seconds)
        if len(pieces) == 5:
            raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(erasure.time, "sleep", cut_off)
        with pytest.raises(KeyboardInterrupt):
            erase_player(engine, robin)
    assert rows_left(engine, robin) > 0
    finish_erasures(engine)
    assert rows_left(engine, robin) == 0
    with writing(engine) as connection:
        counts = sa.select(PLAYER.c.log_bytes, PLAYER.c.quarantine_bytes).where(PLAYER.c.player_id == robin)
        assert tuple(connection.execute(counts).one()) == (0, 0)
    with monkeypatch.context() as patched:
        patched.setattr(erasure, "_finish", None)
        finish_erasures(engine)


def rows_left(engine: sa.Engine, player_id: str) -> int:
    with reading(engine) as connection:
        shots = sa.select(sa.func.count()).select_from(SHOT).where(SHOT.c.player_id == player_id)
        told = sa.select(sa.func.count()).where(CHANGE.c.player_id == player_id, CHANGE.c.body.is_not(None))
        return int(connection.execute(shots).scalar_one()) + int(connection.execute(told).scalar_one())


def test_long_bodies_go_a_few_at_a_time(full: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(erasure, "PIECE", 500)
    monkeypatch.setattr(erasure, "PIECE_BYTES", 300)
    pauses: list[float] = []
    monkeypatch.setattr(erasure.time, "sleep", pauses.append)
    erase_player(full.engine, full.robin.player_id)
    assert rows_left(full.engine, full.robin.player_id) == 0
    assert len(pauses) > 5
