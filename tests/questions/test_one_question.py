"""One question, one snapshot: what every way in puts, and that all of it is read at one moment."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa
from freezegun import freeze_time

from server.analysis.expected_strokes import load_baseline
from server.questions.cache import Cache
from server.questions.competition_lock import LockedError
from server.questions.question import Access, Asked, DaysError, NotReadableError, Question, Span
from server.records.validation import InvalidError
from server.store import log
from server.store.engine import reading
from server.store.players import player_by_id
from tests.records.made import Season, default_clubs, par_four


def played(kind: str = "practice", closed: bool = True) -> Season:
    made = Season("Robin")
    clubs = default_clubs(made)
    round_id = made.round("one", {1: (4, 400.0)}, kind=kind, closed=closed, played_on="2026-05-02")
    par_four(made, round_id, clubs, 1)
    return made


def put(connection: sa.Connection, season: Season, question: Question, access: Access | None = None) -> Asked:
    player = player_by_id(connection, season.player_id)
    assert player is not None
    return Asked(connection, player, question, access or Access())


@pytest.fixture
def season(engine: sa.Engine) -> Season:
    made = played()
    log.push(engine, made.player_id, "phone", made.changes)
    return made


def test_a_span_that_ends_before_it_begins_is_named() -> None:
    with pytest.raises(DaysError) as error:
        Question((Span(), Span(date(2026, 6, 2), date(2026, 6, 1))))
    assert (error.value.span, error.value.first, error.value.last) == (1, date(2026, 6, 2), date(2026, 6, 1))


def test_every_span_is_chosen_and_holds_its_days(engine: sa.Engine, season: Season) -> None:
    before, with_it = Span(None, date(2026, 5, 1)), Span(date(2026, 5, 2), date(2026, 5, 2))
    with reading(engine) as connection:
        found = put(connection, season, Question((before, with_it), rounds=True)).snapshot()
    assert [len(chosen.valued) for chosen in found.spans] == [0, 4]
    assert found.spans[1].valued["strokes_gained"].notna().all()
    assert set(found.clubs) == set(found.sides) == set(found.chosen.clubs)
    assert [one["round_id"] for one in found.rounds] == [found.spans[1].valued["round_id"].iloc[0]]


def test_whoever_may_not_read_gets_nothing(engine: sa.Engine, season: Season) -> None:
    with reading(engine) as connection, pytest.raises(NotReadableError):
        put(connection, season, Question(), Access(may_read=lambda player_id: player_id != season.player_id))


def test_a_course_that_is_not_the_players_is_named(engine: sa.Engine, season: Season) -> None:
    with reading(engine) as connection, pytest.raises(InvalidError) as error:
        put(connection, season, Question((Span(course="Nowhere"),))).snapshot()
    assert [(fault.field, fault.value) for fault in error.value.faults] == [("course", "Nowhere")]


def test_an_open_competition_round_locks_the_snapshot(engine: sa.Engine) -> None:
    made = played("competition", closed=False)
    log.push(engine, made.player_id, "phone", made.changes)
    with reading(engine) as connection:
        asked = put(connection, made, Question())
        with pytest.raises(LockedError, match="Robin has a competition round open"):
            asked.snapshot()
        found = asked.snapshot(locked_too=True)
    assert found.lock is not None
    assert found.spans == ()


def test_frames_are_worked_out_once_while_log_and_baseline_stay(engine: sa.Engine, season: Season) -> None:
    looked: list[bool] = []
    frames = Cache(4, weigh=len, heaviest=1000, count=looked.append)
    tour = load_baseline("tour")
    access = Access(frames=frames, baseline=lambda _: tour)

    def shots() -> Any:
        with reading(engine) as connection:
            return put(connection, season, Question(), access).snapshot().chosen.valued

    first, second = shots(), shots()
    assert first is second
    assert looked == [False, True]
    season.club("driving iron")
    log.push(engine, season.player_id, "phone", season.changes[-1:])
    assert shots() is not first
    assert looked == [False, True, False]


@freeze_time("2026-05-03 10:00:00")
def test_all_of_it_is_of_one_moment(engine: sa.Engine, season: Season, monkeypatch: pytest.MonkeyPatch) -> None:
    """A shot that is pushed while a snapshot is read is in all of it or in none."""
    import server.questions.question as module

    whole = module.club_ids

    def pushing(connection: sa.Connection, player_id: str) -> dict[str, str]:
        season.club("driving iron")
        log.push(engine, season.player_id, "phone", season.changes[-1:])
        return whole(connection, player_id)

    with reading(engine) as connection:
        asked = put(connection, season, Question())
        mark = asked.mark
        monkeypatch.setattr(module, "club_ids", pushing)
        found = asked.snapshot()
    assert "driving iron" not in found.clubs
    with reading(engine) as connection:
        assert put(connection, season, Question()).mark != mark
