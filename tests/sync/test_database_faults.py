"""The database has no room, is held by somebody else, or goes away: 503, nothing stored by half, and it heals."""

from __future__ import annotations

import resource
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from server import create_app
from server.store.engine import open_database
from server.store.rebuild import check_database
from tests.api.asking import log_of, post, problem
from tests.records.made import Season, body_of, change
from tests.store.cluster import Cluster
from tests.sync.faults.servers import HttpWire, Launcher

SHORT_WAIT_S = 0.1
NOTHING_STORED = "Nothing of this request was stored; keep it and send it again later."

New = Callable[[str, Path], str]


@contextmanager
def application(url: str) -> Iterator[Flask]:
    """The real application, with a short wait for others."""
    app = create_app({"DATABASE": url, "BUSY_WAIT_S": SHORT_WAIT_S})
    yield app
    app.extensions["pencilbag_engine"].dispose()


def clubs(count: int, words: int = 0) -> list[dict[str, Any]]:
    """New clubs, each with so many letters more than it needs."""
    return [change("club", body_of("club", label=f"club {number}", diary="x" * words)) for number in range(count)]


def refused(client: FlaskClient, season: Season, changes: list[Any]) -> dict[str, Any]:
    """A push that cannot be done now: its problem, after a look that nothing of it was stored."""
    before = log_of(client, season.player_id)
    answer = post(client, season.player_id, changes)
    found = problem(answer, 503)
    assert int(answer.headers["Retry-After"]) > 0
    assert log_of(client, season.player_id) == before
    return found


def sound(app: Flask, changes: int) -> None:
    """The records are what the log says, and the log is so long."""
    report = check_database(app.extensions["pencilbag_engine"])
    assert (report.faults, report.changes) == (0, changes), report.differences


def test_a_full_database_takes_nothing_by_half_and_goes_on_when_there_is_room(
    tmp_path: Path, new_database: New
) -> None:
    season = Season("Full")
    with application(new_database("sqlite", tmp_path)) as app:
        client = app.test_client()
        assert post(client, season.player_id, season.changes).status_code == 200
        engine: sa.Engine = app.extensions["pencilbag_engine"]
        room = {"pages": 0}

        @sa.event.listens_for(engine, "checkout")
        def limit(connection: sqlite3.Connection, _record: Any, _proxy: Any) -> None:
            most = room["pages"] or 4_000_000_000
            connection.execute(f"PRAGMA max_page_count={most}").close()

        with closing(sqlite3.connect(engine.url.database or "")) as other:
            room["pages"] = other.execute("PRAGMA page_count").fetchone()[0] + 20
        stored = 1
        batches = [clubs(20, 500) for _ in range(30)]
        for batch in batches:
            answer = post(client, season.player_id, batch)
            if answer.status_code != 200:
                break
            stored += len(batch)
        assert 1 < stored < 400, "the limit was met neither at once nor never"
        found = refused(client, season, clubs(200, 500))
        assert found["detail"] == f"Now the database has no space. {NOTHING_STORED}"
        sound(app, stored)
        bad = change("club", body_of("club", sort="spoon", diary="x" * 900_000))
        refused(client, season, [bad])
        assert client.get(f"/api/players/{season.player_id}/quarantine").get_json()["quarantine"] == []
        room["pages"] = 0
        for batch in batches:
            assert post(client, season.player_id, batch).status_code == 200
        sound(app, 1 + sum(map(len, batches)))


def test_a_disk_that_ends_in_the_middle_of_a_write_loses_nothing(
    launcher: Launcher, tmp_path: Path, new_database: New
) -> None:
    """The system refuses to let any file of the server grow: what an end of the disk is to the database."""
    season = Season("Disk")
    url = new_database("sqlite", tmp_path)
    batches = [clubs(20, 500) for _ in range(8)]
    with launcher.serving(url) as server:
        wire = HttpWire(server.port)
        path = f"/api/players/{season.player_id}/changes"
        assert wire.ask("POST", path, {"device_id": "phone", "changes": season.changes})[0] == 200
        usual = resource.prlimit(server.pid, resource.RLIMIT_FSIZE)
        largest = max(file.stat().st_size for file in tmp_path.iterdir())
        resource.prlimit(server.pid, resource.RLIMIT_FSIZE, (largest + 60_000, usual[1]))
        answers = [wire.ask("POST", path, {"device_id": "phone", "changes": batch}) for batch in batches]
        taken = [batch for batch, answer in zip(batches, answers, strict=True) if answer[0] == 200]
        refusals = [answer for answer in answers if answer[0] != 200]
        assert 0 < len(taken) < len(batches)
        for status, headers, found in refusals:
            assert (status, found["status"], headers["Content-Type"]) == (503, 503, "application/problem+json")
            assert "send it again later" in found["detail"]
        held = [found["change_id"] for found in wire.pull(season.player_id, None, 5000)["changes"]]
        assert held == [one["change_id"] for batch in [season.changes, *taken] for one in batch]
        resource.prlimit(server.pid, resource.RLIMIT_FSIZE, usual)
        for batch in batches:
            assert wire.ask("POST", path, {"device_id": "phone", "changes": batch})[0] == 200
        wire.close()
    with application(url) as app:
        sound(app, 1 + sum(map(len, batches)))


def test_a_database_that_another_program_holds_answers_503_and_still_reads(tmp_path: Path, new_database: New) -> None:
    season = Season("Held")
    with application(new_database("sqlite", tmp_path)) as app:
        client = app.test_client()
        assert post(client, season.player_id, season.changes).status_code == 200
        with closing(sqlite3.connect(tmp_path / "log.sqlite", isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            found = refused(client, season, clubs(3))
            assert found["detail"] == f"Now the database is in use by another program. {NOTHING_STORED}"
            other.execute("ROLLBACK")
        again = clubs(3)
        assert post(client, season.player_id, again).status_code == 200
        sound(app, 1 + len(again))


@pytest.mark.parametrize("what", ["SELECT * FROM player FOR UPDATE", "LOCK TABLE change IN SHARE MODE"])
def test_a_player_that_another_transaction_holds_answers_503(
    cluster: Cluster, tmp_path: Path, new_database: New, what: str
) -> None:
    season = Season("Held")
    url = new_database("postgresql", tmp_path)
    with application(url) as app:
        client = app.test_client()
        assert post(client, season.player_id, season.changes).status_code == 200
        with psycopg.connect(url) as other:
            other.execute(what.encode())
            found = refused(client, season, clubs(3))
            assert found["detail"] == f"Now the database is in use by another transaction. {NOTHING_STORED}"
            other.rollback()
        assert post(client, season.player_id, clubs(3)).status_code == 200
        sound(app, 4)


RAISES = "CREATE FUNCTION fail() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {} RETURN NEW; END $$"
TRIGGER = "CREATE TRIGGER fail AFTER INSERT ON {} FOR EACH STATEMENT EXECUTE FUNCTION fail()"
GONE = "Keep what you sent and send it again later: what was stored already is stored once."


@pytest.mark.parametrize(
    ("body", "detail"),
    [
        ("RAISE 'x' USING ERRCODE = 'disk_full';", f"Now the database has no space. {NOTHING_STORED}"),
        (
            "RAISE 'x' USING ERRCODE = 'deadlock_detected';",
            f"Now two transactions waited for each other. {NOTHING_STORED}",
        ),
        ("PERFORM pg_terminate_backend(pg_backend_pid());", f"Now the database cannot be reached. {GONE}"),
    ],
    ids=["disk full", "deadlock", "connection lost"],
)
@pytest.mark.parametrize("table", ["change", "shot"])
def test_what_goes_wrong_inside_postgresql_undoes_the_push(
    tmp_path: Path, new_database: New, body: str, detail: str, table: str
) -> None:
    season = Season("Inside")
    club = season.club("driver", "driver")
    round_id = season.round("one")
    first = list(season.changes)
    season.shot(round_id, 1, 1, "tee", 400, club)
    url = new_database("postgresql", tmp_path)
    with application(url) as app:
        client = app.test_client()
        assert post(client, season.player_id, first).status_code == 200
        with psycopg.connect(url, autocommit=True) as owner:
            owner.execute(RAISES.format(body).encode())
            owner.execute(TRIGGER.format(table).encode())
            assert refused(client, season, season.changes)["detail"] == detail
            owner.execute(f"DROP TRIGGER fail ON {table}".encode())
        assert post(client, season.player_id, season.changes).status_code == 200
        sound(app, len(season.changes))


def test_a_fault_of_our_own_is_no_matter_of_waiting(tmp_path: Path, new_database: New) -> None:
    """A statement that the database cannot understand is an error that we must see: 500, not "try again"."""
    season = Season("Own fault")
    with application(new_database("sqlite", tmp_path)) as app:
        with app.extensions["pencilbag_engine"].begin() as connection:
            connection.exec_driver_sql("ALTER TABLE club RENAME COLUMN label TO title")
        client = app.test_client()
        found = problem(post(client, season.player_id, [*season.changes, *clubs(1)]), 500)
        assert found["detail"].startswith("Unexpected server error")
        assert log_of(client, season.player_id) == []


def test_a_server_that_cannot_open_its_database_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from click.testing import CliRunner

    from server.__main__ import main

    held = tmp_path / "log.sqlite"
    open_database(f"sqlite:///{held}").dispose()
    with closing(sqlite3.connect(held, isolation_level=None)) as other:
        # In a write-ahead log a reader waits for nobody.
        other.execute("PRAGMA journal_mode=DELETE").fetchall()
        other.execute("BEGIN EXCLUSIVE")
        monkeypatch.setenv("PENCILBAG_BUSY_WAIT_S", str(SHORT_WAIT_S))
        for place, *words_of in [
            (f"sqlite:///{held}", "is in use by another program", "is in use by another program"),
            (f"sqlite:///{tmp_path}", "cannot be written", f"there is no database at {tmp_path}"),
            (f"postgresql://nobody@/none?host={tmp_path}", "cannot be reached", "cannot be reached"),
        ]:
            monkeypatch.setenv("PENCILBAG_DATABASE", place)
            for command, words in zip((["serve", "--port", "0"], ["check"]), words_of, strict=True):
                done = CliRunner().invoke(main, command)
                assert (done.exit_code, done.stdout) == (2, ""), done.output
                assert words in done.stderr
                assert len(done.stderr.splitlines()) == 1
