"""Push, pull and quarantine: what the log takes, what it hands out, what it keeps aside."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
import sqlalchemy as sa
from freezegun import freeze_time

from server.records.validation import InvalidError
from server.store import log as store_log
from server.store.engine import reading
from server.store.log import PAUSE_S, TRIES, push
from server.store.players import club_ids, player_by_id, players, players_by_name, record_versions, rounds
from server.store.pulling import pull
from server.store.quarantine import quarantined
from server.store.rebuild import check_database
from server.store.unavailable import CollisionError
from tests.records.made import BODIES, Season, body_of, change, named

PLAYER = named("Wren Quillfeather")


def send(engine: sa.Engine, *changes: Any, player: str = PLAYER, **more: Any) -> Any:
    return push(engine, player, "phone", changes, **more)


def log(engine: sa.Engine, player: str = PLAYER, after: str | None = None, limit: int = 500) -> Any:
    page = pull(engine, player, after, limit)
    assert page is not None
    return page


def ids(changes: list[dict[str, Any]]) -> list[str]:
    return [found["change_id"] for found in changes]


def test_what_was_pushed_is_pulled_in_the_order_of_its_numbers(engine: sa.Engine) -> None:
    season = Season()
    season.club("driver", "driver")
    season.round("one", note="windy")
    done = send(engine, *season.changes)
    assert (done.new, done.quarantined, done.acknowledged) == (3, [], ids(season.changes))
    page = log(engine)
    assert [found["seq"] for found in page.changes] == [1, 2, 3]
    assert (page.more, page.reset) == (False, False)
    assert page.cursor.startswith(f"3:{season.changes[2]['change_id']}")
    for sent, found in zip(season.changes, page.changes, strict=True):
        assert {name: found[name] for name in sent} == sent
        assert found["effective_time"] == "2026-05-01T09:30:00.000Z"
        assert found["received_at"] == done.received_at
        assert set(found) == {*sent, "seq", "effective_time", "received_at"}


def test_pages_of_any_size_hand_out_each_change_once(engine: sa.Engine) -> None:
    sent = [change("club", body_of("club", label=f"club {number}")) for number in range(7)]
    send(engine, *sent)
    for limit in (1, 2, 3, 7, 8):
        collected: list[str] = []
        cursor, more = None, True
        while more:
            page = log(engine, after=cursor, limit=limit)
            assert len(page.changes) <= limit
            collected += ids(page.changes)
            cursor, more = page.cursor, page.more
        assert collected == ids(sent)
        again = log(engine, after=cursor, limit=limit)
        assert (again.changes, again.cursor, again.more) == ([], cursor, False)
    late = change("club", body_of("club"))
    send(engine, late)
    assert ids(log(engine, after=cursor).changes) == [late["change_id"]]


def test_a_cursor_that_does_not_match_this_log_resets(engine: sa.Engine) -> None:
    send(engine, *Season().changes)
    other = Season("Other Player")
    send(engine, *other.changes, player=other.player_id)
    own = log(engine).cursor
    foreign = log(engine, other.player_id).cursor
    number, change_id, chain = own.split(":")
    bad = [foreign, f"2:{change_id}", f"{number}:{uuid4()}", "x", ":", "1", f"-1:{change_id}", f"{10**30}:{change_id}"]
    for cursor in [*bad, f"{number}:{change_id}:{chain[::-1]}", "1:'; DROP TABLE change; --", "²:" + change_id]:
        page = log(engine, after=cursor)
        assert (page.reset, page.changes, page.cursor, page.more) == (True, [], None, False), cursor
    assert [log(engine, after=cursor).reset for cursor in (own, f"{number}:{change_id}")] == [False, False]
    assert len(log(engine, after="").changes) == 1


def test_a_player_that_the_log_does_not_know_has_no_log(engine: sa.Engine) -> None:
    assert pull(engine, str(uuid4()), None) is None


def test_a_change_sent_again_is_acknowledged_and_stored_once(engine: sa.Engine) -> None:
    season = Season()
    send(engine, *season.changes)
    reordered = dict(reversed(list(season.changes[0].items())))
    done = send(engine, reordered, reordered)
    assert (done.new, done.quarantined) == (0, [])
    assert done.acknowledged == ids(season.changes) * 2
    assert len(log(engine).changes) == 1
    twice = change("club", BODIES["club"])
    done = send(engine, twice, dict(twice))
    assert (done.new, done.quarantined) == (1, [])


def test_a_used_id_with_another_body_is_quarantined_and_the_first_stands(engine: sa.Engine) -> None:
    season = Season()
    send(engine, *season.changes)
    forged = season.changes[0] | {"body": body_of("player", name="Somebody Else")}
    done = send(engine, forged)
    ((change_id, faults),) = done.quarantined
    assert change_id == forged["change_id"]
    assert [(fault.field, fault.message) for fault in faults] == [("change_id", "is already used by another change")]
    assert done.acknowledged == [forged["change_id"]]
    assert log(engine).changes[0]["body"]["name"] == "Wren Quillfeather"
    (kept,) = quarantined(engine, PLAYER)
    assert kept["raw"] == forged
    assert kept["errors"] == [faults[0].as_dict()]


BORROWERS: dict[str, dict[str, Any]] = {
    "another body": {"body": body_of("club", label="forged")},
    "another kind": {"kind": "setup", "body": body_of("setup", note="forged")},
    "a delete": {"op": "delete", "body": None},
}


@pytest.mark.parametrize("borrower", BORROWERS.values(), ids=BORROWERS)
@pytest.mark.parametrize("place", ["behind it", "with a losing edit"])
def test_what_borrows_an_id_never_speaks_for_its_record(
    engine: sa.Engine, borrower: dict[str, Any], place: str
) -> None:
    """In the same push, or in a later one that has the record derived again."""
    true = change("club", body_of("club", label="true"))
    older = change("club", body_of("club", label="older"), true["record_id"], client_time="2020-01-01T00:00:00.000Z")
    other = change("club", body_of("club", label="other"))
    if place == "behind it":
        done = send(engine, *Season().changes, true, true | borrower, other)
    else:
        send(engine, *Season().changes, true)
        done = send(engine, true | borrower, older, other)
    assert [change_id for change_id, _ in done.quarantined] == [true["change_id"]]
    with reading(engine) as connection:
        assert sorted(club_ids(connection, PLAYER)) == ["other", "true"]
    assert check_database(engine).differences == []


def test_a_used_id_of_another_player_is_quarantined(engine: sa.Engine) -> None:
    club = change("club", BODIES["club"])
    send(engine, *Season().changes, club)
    other = Season("Other Player")
    done = send(engine, *other.changes, club, player=other.player_id)
    assert [change_id for change_id, _ in done.quarantined] == [club["change_id"]]
    assert len(log(engine, other.player_id).changes) == 1


@pytest.mark.parametrize("taken", ["put", "delete"])
def test_the_record_of_another_player_is_out_of_reach(engine: sa.Engine, taken: str) -> None:
    club = change("club", BODIES["club"])
    send(engine, *Season().changes, club)
    other = Season("Other Player")
    grab = change("club", body_of("club", label="mine") if taken == "put" else None, club["record_id"])
    done = send(engine, *other.changes, grab, player=other.player_id)
    ((_, (fault,)),) = done.quarantined
    assert (fault.field, fault.message) == ("record_id", "belongs to another player")
    with reading(engine) as connection:
        held = record_versions(connection, PLAYER, club["record_id"])
        assert held is not None
        assert held["leaves"][0]["body"]["label"] == "driver"
        assert record_versions(connection, other.player_id, club["record_id"]) is None


def test_a_record_keeps_its_kind_and_a_player_record_its_player(engine: sa.Engine) -> None:
    club = change("club", BODIES["club"])
    send(engine, *Season().changes, club)
    done = send(engine, change("setup", BODIES["setup"], club["record_id"]), change("player", BODIES["player"]))
    assert [fault.message for _, (fault,) in done.quarantined] == [
        "differs from the kind of the record",
        "is not the id of this player",
    ]


def test_one_bad_change_never_blocks_the_rest(engine: sa.Engine) -> None:
    season = Season()
    bad: list[Any] = [
        None,
        7,
        "x",
        [1],
        {},
        {"change_id": "\ud800"},
        {"change_id": "a\0b"},
        {"change_id": "x" * 500},
        change("weather", {}),
        change("shot", body_of("shot", lie="bush")),
        change("shot", BODIES["shot"], schema_version=2),
        change("hole_map", body_of("hole_map", features=[{"geometry": [1]}])),
        change("shot", body_of("shot", note="\ud800")),
        change("shot", body_of("shot", diary="x" * 1_100_000)),
    ]
    good = [change("club", body_of("club", label=f"club {number}")) for number in range(len(bad))]
    mixed = [one for pair in zip(bad, good, strict=True) for one in pair]
    done = send(engine, *season.changes, *mixed)
    assert done.new == 1 + len(good)
    assert len(done.quarantined) == len(bad)
    assert ids(log(engine).changes) == ids([*season.changes, *good])
    waiting = quarantined(engine, PLAYER)
    assert [entry["raw"] for entry in waiting] == bad
    assert all(entry["errors"] for entry in waiting)


def test_the_quarantine_keeps_a_change_once_and_lets_it_go_when_it_was_mended(engine: sa.Engine) -> None:
    bad = change("club", body_of("club", sort="spoon"))
    send(engine, *Season().changes, bad)
    send(engine, bad)
    (waiting,) = quarantined(engine, PLAYER)
    assert waiting["change_id"] == bad["change_id"]
    assert (waiting["errors"][0]["field"], waiting["errors"][0]["value"]) == ("sort", "spoon")
    done = send(engine, bad | {"body": BODIES["club"]})
    assert (done.new, done.quarantined) == (1, [])
    assert quarantined(engine, PLAYER) == []
    assert quarantined(engine, str(uuid4())) == []


def test_a_parent_that_is_not_here_yet_is_waited_for(engine: sa.Engine) -> None:
    record, first = str(uuid4()), str(uuid4())
    later = change("club", body_of("club", label="4 iron"), record, parents=[first])
    send(engine, *Season().changes, later)
    earlier = change("club", body_of("club", label="5 iron"), record, change_id=first)
    assert send(engine, earlier).quarantined == []
    with reading(engine) as connection:
        held = record_versions(connection, PLAYER, record)
    assert held is not None
    assert [leaf["body"]["label"] for leaf in held["leaves"]] == ["4 iron"]


def test_strict_handling_takes_all_of_a_push_or_nothing(engine: sa.Engine) -> None:
    season = Season()
    bad = change("club", body_of("club", sort="spoon"))
    with pytest.raises(InvalidError, match="sort: spoon is not one of its values"):
        send(engine, *season.changes, bad, strict=True)
    assert pull(engine, PLAYER, None) is None
    with reading(engine) as connection:
        assert players(connection) == []
    assert quarantined(engine, PLAYER) == []
    assert send(engine, *season.changes, strict=True).new == 1


def test_concurrent_edits_stay_readable_and_either_can_be_kept(engine: sa.Engine) -> None:
    record = str(uuid4())
    base = change("club", body_of("club", label="iron"), record)
    early, late = (
        change("club", body_of("club", label=label), record, parents=[base["change_id"]], client_time=time)
        for label, time in (("early", "2026-05-01T10:00:00Z"), ("late", "2026-05-01T11:00:00Z"))
    )
    send(engine, *Season().changes, base, late, early)
    with reading(engine) as connection:
        held = record_versions(connection, PLAYER, record)
    assert held is not None
    assert [leaf["body"]["label"] for leaf in held["leaves"]] == ["late", "early"]
    keep = change("club", early["body"], record, parents=[leaf["change_id"] for leaf in held["leaves"]])
    send(engine, keep)
    with reading(engine) as connection:
        held = record_versions(connection, PLAYER, record)
    assert held is not None
    assert [leaf["change_id"] for leaf in held["leaves"]] == [keep["change_id"]]


@pytest.mark.parametrize(
    ("client_time", "device_now", "effective"),
    [
        ("2026-05-01T11:00:00.000Z", "2026-05-01T12:00:00.000Z", "2026-05-01T11:00:00.000Z"),
        ("2026-05-04T11:00:00.000Z", "2026-05-04T12:00:00.000Z", "2026-05-01T11:00:00.000Z"),
        ("2026-04-27T11:00:00.000Z", "2026-04-27T12:00:00.000Z", "2026-05-01T11:00:00.000Z"),
        ("0001-01-01T11:00:00.000Z", "0001-01-01T12:00:00.000Z", "2026-05-01T11:00:00.000Z"),
        ("9999-12-31T11:00:00.000Z", "9999-12-31T12:00:00.000Z", "2026-05-01T11:00:00.000Z"),
        ("+012026-05-01T11:00:00.000Z", "+012026-05-01T12:00:00.000Z", "2026-05-01T11:00:00.000Z"),
        ("2026-05-04T11:00:00.000Z", None, "2026-05-01T12:00:00.000Z"),
    ],
)
def test_a_wrong_clock_is_corrected_once_and_never_refused(
    engine: sa.Engine, client_time: str, device_now: str | None, effective: str
) -> None:
    with freeze_time("2026-05-01 12:00:00"):
        done = send(engine, change("club", BODIES["club"], client_time=client_time), device_now=device_now)
    assert (done.new, done.received_at) == (1, "2026-05-01T12:00:00.000Z")
    (found,) = log(engine).changes
    assert (found["effective_time"], found["client_time"]) == (effective, client_time)


def test_players_are_found_by_name_and_id_and_leave_with_their_record(engine: sa.Engine) -> None:
    one, two = Season("Ash"), Season("Birch", units="metres", short_game_yd=30)
    for season in (two, one):
        send(engine, *season.changes, player=season.player_id)
    twin = str(uuid4())
    send(engine, change("player", body_of("player", name="Ash"), twin), player=twin)
    with reading(engine) as connection:
        assert [player.name for player in players(connection)] == ["Ash", "Ash", "Birch"]
        assert {player.player_id for player in players_by_name(connection, "Ash")} == {one.player_id, twin}
        birch = player_by_id(connection, two.player_id)
        assert birch is not None
        assert (birch.units, birch.short_game_yd, birch.baseline) == ("metres", 30, "tour")
        assert player_by_id(connection, str(uuid4())) is None
    send(engine, change("player", None, twin, parents=[log(engine, twin).changes[0]["change_id"]]), player=twin)
    with reading(engine) as connection:
        assert [player.player_id for player in players_by_name(connection, "Ash")] == [one.player_id]


def test_a_round_deleted_while_unseen_shots_live_keeps_them_under_its_holes(engine: sa.Engine) -> None:
    season = Season()
    club = season.club("driver", "driver")
    round_id = season.round("one", {1: (5, 510.0)})
    seen = season.shot(round_id, 1, 1, "tee", 510, club)
    send(engine, *season.changes)
    gone = [
        change(kind, None, record, parents=[leaf_of(engine, record)])
        for kind, record in (("round", round_id), ("shot", seen))
    ]
    send(engine, *gone)
    with reading(engine) as connection:
        assert rounds(connection, PLAYER) == []
    unseen = Season()
    unseen.shot(round_id, 1, 2, "fairway", 240, club)
    push(engine, PLAYER, "tablet", unseen.changes[1:])
    with reading(engine) as connection:
        (found,) = rounds(connection, PLAYER)
    assert (found["round_id"], found["deleted"], found["shots"]) == (round_id, True, 1)


def leaf_of(engine: sa.Engine, record_id: str) -> str:
    with reading(engine) as connection:
        held = record_versions(connection, PLAYER, record_id)
    assert held is not None
    return str(held["leaves"][0]["change_id"])


def test_no_edit_returns_a_deleted_record_unless_it_was_made_beside_the_delete(engine: sa.Engine) -> None:
    club = change("club", BODIES["club"])
    record = club["record_id"]
    send(engine, *Season().changes, club)
    send(engine, change("club", None, record, parents=[club["change_id"]]))
    with reading(engine) as connection:
        held = record_versions(connection, PLAYER, record)
    assert held is not None
    assert held["deleted"] is True
    beside = change("club", body_of("club", label="kept"), record, parents=[club["change_id"]])
    send(engine, beside)
    with reading(engine) as connection:
        held = record_versions(connection, PLAYER, record)
    assert held is not None
    assert (held["deleted"], [leaf["op"] for leaf in held["leaves"]]) == (False, ["put", "delete"])


def test_a_failing_check_undoes_the_push(engine: sa.Engine) -> None:
    def failing(_connection: sa.Connection, touched: set[str]) -> list[Any]:
        assert touched == {PLAYER}
        raise RuntimeError("the power went")

    with pytest.raises(RuntimeError, match="the power went"):
        send(engine, *Season().changes, strict=True, check=failing)
    assert pull(engine, PLAYER, None) is None


@pytest.mark.parametrize("collisions", [1, TRIES - 1, TRIES])
def test_a_push_that_meets_others_waits_a_little_and_is_tried_again(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch, collisions: int
) -> None:
    season = Season("Wren Quillfeather")
    append, begun, pauses = store_log.append, [], []

    def collide(*given: Any, **named: Any) -> Any:
        begun.append(len(begun))
        if len(begun) <= collisions:
            append(*given, **named)
            raise CollisionError("two transactions waited for each other")
        return append(*given, **named)

    monkeypatch.setattr(store_log, "append", collide)
    monkeypatch.setattr(store_log.time, "sleep", pauses.append)
    if collisions == TRIES:
        with pytest.raises(CollisionError):
            push(engine, season.player_id, "phone", season.changes)
    else:
        assert push(engine, season.player_id, "phone", season.changes).new == len(season.changes)
    assert len(pauses) == min(collisions, TRIES - 1)
    assert all(0 <= pause <= PAUSE_S * 2**attempt for attempt, pause in enumerate(pauses))
    assert check_database(engine).changes == (0 if collisions == TRIES else len(season.changes))
