"""Practice sessions and their balls: taken, set aside, derived, deleted, told apart by player, and erased."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import sqlalchemy as sa

from server.records.schemas import SCHEMAS
from server.records.validation import InvalidError, load
from server.store.engine import open_database, reading, writing
from server.store.erasure import erase_player
from server.store.log import push, retake_quarantined
from server.store.practice import session_by_id, sessions
from server.store.pulling import pull
from server.store.quarantine import quarantined
from server.store.rebuild import check_database
from server.store.tables import PRACTICE_BALL, SESSION
from tests.records.made import Season, body_of, change, default_clubs


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    opened = open_database(database_url)
    yield opened
    opened.dispose()


def practised(name: str = "Wren Quillfeather") -> tuple[Season, str]:
    """A season with one session: two full swings and a putt."""
    season = Season(name)
    clubs = default_clubs(season)
    session = season.put("session", "session", body_of("session", note="windy"))
    swing = {"session_id": session, "club_id": clubs["8 iron"], "target_yd": 150, "carry_yd": 141.5, "right_yd": -6}
    for order in (2, 1):
        season.put("practice_ball", f"ball {order}", body_of("practice_ball", **swing, order=order))
    putt = {"session_id": session, "club_id": clubs["putter"], "order": 3, "length_ft": 8, "holed": True}
    season.put("practice_ball", "putt", putt)
    return season, session


def test_sessions_and_balls_come_back_as_they_went(engine: sa.Engine) -> None:
    season, session = practised()
    push(engine, season.player_id, "phone", season.changes, strict=True)
    with reading(engine) as connection:
        (listed,) = sessions(connection, season.player_id)
        found = session_by_id(connection, season.player_id, session)
    assert (listed["date"], listed["place"], listed["note"]) == ("2026-05-02", "range", "windy")
    assert (listed["balls"], listed["putts"], listed["clubs"]) == (3, 1, 2)
    assert found is not None
    assert [ball["order"] for ball in found["hit"]] == [1, 2, 3]
    assert (found["hit"][0]["carry_yd"], found["hit"][0]["right_yd"], found["hit"][0]["lie"]) == (
        141.5,
        -6.0,
        "fairway",
    )
    assert (found["hit"][2]["length_ft"], found["hit"][2]["holed"], found["hit"][2]["carry_yd"]) == (8.0, True, None)


def test_a_deleted_session_is_listed_only_while_balls_live(engine: sa.Engine) -> None:
    season, session = practised()
    push(engine, season.player_id, "phone", season.changes, strict=True)
    made = {one["record_id"]: one for one in season.changes}
    gone = change("session", None, session, parents=[made[session]["change_id"]])
    push(engine, season.player_id, "phone", [gone], strict=True)
    with reading(engine) as connection:
        assert [(one["deleted"], one["balls"]) for one in sessions(connection, season.player_id)] == [(True, 3)]
    balls = [one for one in season.changes if one["kind"] == "practice_ball"]
    more = [change("practice_ball", None, one["record_id"], parents=[one["change_id"]]) for one in balls]
    push(engine, season.player_id, "phone", more, strict=True)
    with reading(engine) as connection:
        assert sessions(connection, season.player_id) == []


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"length_ft": 8, "carry_yd": 5}, "carry_yd", "a putt, which has a length in feet, has none"),
        ({"length_ft": 8, "right_yd": 0}, "right_yd", "a putt, which has a length in feet, has none"),
        ({"length_ft": 8, "strike": "heel"}, "strike", "a putt, which has a length in feet, has none"),
        ({"holed": True, "left_ft": 2}, "left_ft", "a holed ball has nothing left to the hole"),
        ({"carry_yd": 150, "total_yd": 134.9}, "total_yd", "is under the carry of 150 yd less 15 yd of backspin"),
    ],
)
def test_fields_that_do_not_agree_are_set_aside(
    engine: sa.Engine, fields: dict[str, Any], field: str, words: str
) -> None:
    season, session = practised()
    bad = change("practice_ball", body_of("practice_ball", session_id=session, **fields))
    done = push(engine, season.player_id, "phone", [*season.changes, bad])
    ((_, (fault,)),) = done.quarantined
    assert (fault.field, fault.message) == (field, words)
    (kept,) = quarantined(engine, season.player_id)
    assert kept["raw"] == bad
    with reading(engine) as connection:
        assert sessions(connection, season.player_id)[0]["balls"] == 3


def test_backspin_is_taken_up_to_its_edge() -> None:
    assert load("practice_ball", body_of("practice_ball", carry_yd=150, total_yd=135))["total_yd"] == 135


def test_an_older_server_loses_nothing(engine: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    """It sets both kinds aside whole; the newer one takes them in when the database is checked."""
    season, session = practised()
    with monkeypatch.context() as older:
        for kind in ("session", "practice_ball"):
            older.delitem(SCHEMAS, kind)
        done = push(engine, season.player_id, "phone", season.changes)
        assert len(done.quarantined) == 4
    assert retake_quarantined(engine) == 4
    with reading(engine) as connection:
        found = session_by_id(connection, season.player_id, session)
    assert found is not None
    assert [ball["order"] for ball in found["hit"]] == [1, 2, 3]


def test_fields_of_a_newer_phone_travel_through(engine: sa.Engine) -> None:
    season, session = practised()
    body = body_of("practice_ball", session_id=session, order=4, launch_deg=14.5)
    season.put("practice_ball", "newer", body)
    push(engine, season.player_id, "phone", season.changes, strict=True)
    assert pull(engine, season.player_id, None, 100).changes[-1]["body"] == body


def test_a_ball_never_belongs_to_another_players_session(engine: sa.Engine) -> None:
    own, session = practised()
    other, _ = practised("Ash Inkwell")
    other.put("practice_ball", "foreign", body_of("practice_ball", session_id=session, order=9))
    for season in (own, other):
        push(engine, season.player_id, "phone", season.changes, strict=True)
    with reading(engine) as connection:
        found = session_by_id(connection, own.player_id, session)
        assert found is not None
        assert len(found["hit"]) == found["session"]["balls"] == 3
        assert session_by_id(connection, other.player_id, session) is None
        assert [one["balls"] for one in sessions(connection, other.player_id)] == [3]


def test_erasing_the_player_erases_practice_and_nobody_elses(engine: sa.Engine) -> None:
    for name in ("Wren Quillfeather", "Ash Inkwell"):
        season, _ = practised(name)
        push(engine, season.player_id, "phone", season.changes, strict=True)
    erase_player(engine, season.player_id)
    with reading(engine) as connection:
        counts = [
            connection.execute(sa.select(table.c.player_id, sa.func.count()).group_by(table.c.player_id)).all()
            for table in (SESSION, PRACTICE_BALL)
        ]
    assert [[tuple(row) for row in rows] for rows in counts] == [
        [(Season("Wren Quillfeather").player_id, 1)],
        [(Season("Wren Quillfeather").player_id, 3)],
    ]


def test_a_session_needs_its_day_and_place() -> None:
    with pytest.raises(InvalidError) as refused:
        load("session", {})
    assert [(fault.field, fault.message) for fault in refused.value.faults] == [
        ("date", "is missing"),
        ("place", "is missing"),
    ]


def test_a_database_of_the_step_before_learns_which_sessions_are_finished(database_url: str) -> None:
    """Phones sent it before the server knew it: the log says it, of a session that was opened again too."""
    before = open_database(database_url)
    season, session = practised()
    finished = season.put("session", "finished", body_of("session", closed=True, mats="worn"))
    again = season.put("session", "again", body_of("session", closed=True))
    latest = {one["record_id"]: one["change_id"] for one in season.changes}
    season.changes.append(change("session", body_of("session", closed=False), again, parents=[latest[again]]))
    push(before, season.player_id, "phone", season.changes, strict=True)
    wanted = {session: False, finished: True, again: False}
    with reading(before) as connection:
        assert {one["session_id"]: one["closed"] for one in sessions(connection, season.player_id)} == wanted
    with writing(before) as connection:
        connection.exec_driver_sql("ALTER TABLE practice_session DROP COLUMN closed")
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0013'")
    before.dispose()
    after = open_database(database_url)
    with reading(after) as connection:
        assert {one["session_id"]: one["closed"] for one in sessions(connection, season.player_id)} == wanted
    assert check_database(after).faults == 0
    after.dispose()
