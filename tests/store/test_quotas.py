"""A player's log and quarantine hold so many bytes and no more; nothing that is stored is lost for it, pages have a
bounded size, and a push reads no more of a long record than it needs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final
from uuid import uuid4

import pytest
import sqlalchemy as sa

from server.records.validation import InvalidError
from server.store import players, pulling, quarantine
from server.store.engine import open_database, reading, writing
from server.store.erasure import erase_player
from server.store.log import push
from server.store.players import record_versions
from server.store.pulling import pull
from server.store.quarantine import quarantine_page, quarantined
from server.store.quotas import QuotaError, Quotas, Use, counted, quotas_from, set_quotas, used
from server.store.rebuild import check_database
from server.store.tables import CHANGE, PLAYER
from tests.records.made import BODIES, Season, body_of, change
from tests.store.full_database import filled


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    made = open_database(database_url)
    yield made
    made.dispose()


def use_of(engine: sa.Engine, player_id: str) -> Use:
    with reading(engine) as connection:
        return used(connection, [player_id])[player_id]


def noted(size: int, **said: Any) -> dict[str, Any]:
    """A change of a club with a note of so many letters that the server does not know."""
    return change("club", body_of("club", own="x" * size), **said)


def test_the_row_counts_what_log_and_quarantine_hold(engine: sa.Engine) -> None:
    filled(engine)
    with reading(engine) as connection:
        found = counted(connection)
    assert len(found) > 1
    assert all(said == held for said, held in found.values())
    assert any(said.quarantine for said, _ in found.values())
    assert all(said.log > 400 for said, _ in found.values())
    assert check_database(engine).faults == 0


def test_a_wrong_count_is_found_and_mended(engine: sa.Engine) -> None:
    filled(engine)
    with writing(engine) as connection:
        connection.execute(sa.update(PLAYER).values(log_bytes=7))
    assert check_database(engine).faults > 0
    check_database(engine, rebuild=True)
    assert check_database(engine).faults == 0


def test_what_has_no_room_is_refused_and_stored_once_there_is(engine: sa.Engine) -> None:
    player = str(uuid4())
    first, second = noted(2_000), [noted(300), noted(3_000), change("weather", {})]
    push(engine, player, "phone", [first])
    before = use_of(engine, player)
    set_quotas(engine, Quotas(log=5_000))
    with pytest.raises(QuotaError) as refused:
        push(engine, player, "phone", second)
    assert refused.value.fault.field == "changes"
    assert "up to 5000 bytes of log a player (PENCILBAG_LOG_BYTES)" in str(refused.value)
    assert use_of(engine, player) == before
    assert quarantined(engine, player) == []
    assert push(engine, player, "phone", [first]).acknowledged == [first["change_id"]]
    push(engine, player, "phone", [noted(100)])
    set_quotas(engine, Quotas())
    assert push(engine, player, "phone", second).new == 2
    assert check_database(engine).faults == 0


def test_a_full_quarantine_keeps_nothing_more_and_blocks_no_sound_change(engine: sa.Engine) -> None:
    player = str(uuid4())
    bad = [change("weather", {"own": "x" * 1_500}) for _ in range(4)]
    sound = noted(10)
    set_quotas(engine, Quotas(quarantine=5_000))
    done = push(engine, player, "phone", [*bad, sound])
    kept = quarantined(engine, player)
    assert [entry["raw"] for entry in kept] == bad[: len(kept)]
    assert 0 < len(kept) < len(bad)
    assert done.acknowledged == [raw["change_id"] for raw in [*bad[: len(kept)], sound]]
    assert [entry[0] for entry in done.quarantined] == [raw["change_id"] for raw in bad]
    told = done.quarantined[-1][1]
    assert (told[0].field, told[1].field) == ("quarantine", "kind")
    assert "up to 5000 bytes of quarantine a player (PENCILBAG_QUARANTINE_BYTES)" in str(told[0])
    assert use_of(engine, player).quarantine <= 5_000
    # What is kept already is acknowledged again and counted once.
    again = push(engine, player, "phone", bad)
    assert again.acknowledged == [entry["raw"]["change_id"] for entry in kept]
    assert check_database(engine).faults == 0


def test_an_erased_player_counts_nothing(engine: sa.Engine) -> None:
    player = str(uuid4())
    push(engine, player, "phone", [noted(10), change("weather", {})])
    erase_player(engine, player)
    with reading(engine) as connection:
        row = connection.execute(sa.select(PLAYER).where(PLAYER.c.player_id == player)).one()
    assert (row.log_bytes, row.quarantine_bytes) == (0, 0)
    assert check_database(engine).faults == 0


@pytest.mark.parametrize("words", ["0", "-1", "1.5", "many", "9" * 17, "٣"])
def test_a_setting_that_is_no_number_of_bytes_is_named(words: str) -> None:
    with pytest.raises(ValueError, match=r"PENCILBAG_LOG_BYTES: .* is not a number of bytes from 1 to"):
        quotas_from({"PENCILBAG_LOG_BYTES": words})
    assert quotas_from({"PENCILBAG_LOG_BYTES": "", "PENCILBAG_QUARANTINE_BYTES": "7"}) == Quotas(quarantine=7)


def test_pages_of_the_log_end_at_their_bytes_and_lose_nothing(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pulling, "PAGE_BYTES", 10_000)
    player = str(uuid4())
    sent = [noted(size) for size in (4_000, 4_000, 4_000, 20_000, 10, 10, 4_000)]
    push(engine, player, "phone", sent)
    sizes, found, cursor, more = [], [], None, True
    while more:
        page = pull(engine, player, cursor, 5)
        assert page is not None
        sizes.append(len(page.changes))
        found += page.changes
        cursor, more = page.cursor, page.more
    assert [one["change_id"] for one in found] == [one["change_id"] for one in sent]
    assert sizes == [2, 1, 1, 3]


def test_versions_and_quarantine_come_in_pages_of_bounded_bytes(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(players, "PAGE_BYTES", 10_000)
    monkeypatch.setattr(quarantine, "PAGE_BYTES", 10_000)
    player, record = str(uuid4()), str(uuid4())
    leaves = [noted(4_000, record_id=record) for _ in range(5)]
    bad = [change("weather", {"own": "x" * 4_000}) for _ in range(5)]
    push(engine, player, "phone", leaves + bad)
    found: list[Any] = []
    more, pages = True, 0
    while more:
        with reading(engine) as connection:
            page = record_versions(connection, player, record, found[-1] if found else None)
        assert page is not None
        found += [leaf["change_id"] for leaf in page["leaves"]]
        more, pages = page["more"], pages + 1
    assert sorted(found) == sorted(leaf["change_id"] for leaf in leaves)
    assert pages == 3
    raws, after, more = [], 0, True
    while more:
        entries, more = quarantine_page(engine, player, after)
        assert len(entries) <= 2
        raws += [entry["raw"] for entry in entries]
        after = entries[-1]["quarantine_id"]
    assert raws == bad


def test_a_push_reads_one_body_of_a_record_that_was_edited_often(engine: sa.Engine) -> None:
    """40 earlier versions of 20 kB: no statement asks for their bodies."""
    season = Season()
    club = season.club("driver")
    push(engine, season.player_id, "phone", season.changes)
    last = season.changes[-1]["change_id"]
    for _ in range(40):
        edit = noted(20_000, record_id=club, parents=[last])
        push(engine, season.player_id, "phone", [edit])
        last = edit["change_id"]
    read: list[int] = []

    def count(_: Any, cursor: Any, statement: str, *rest: Any) -> None:
        if statement.lstrip().upper().startswith("SELECT") and "change.body" in statement:
            read.append(len(statement))

    sa.event.listen(engine, "after_cursor_execute", count)
    push(engine, season.player_id, "phone", [noted(10, record_id=club, parents=[last])])
    assert read == [], "the body that is new was just sent: none has to be read"
    gone = change("club", None, record_id=club, parents=[last])
    push(engine, season.player_id, "phone", [gone])
    assert len(read) == 1
    with reading(engine) as connection:
        versions = connection.execute(sa.select(sa.func.count()).where(CHANGE.c.record_id == club)).scalar_one()
    assert versions == 43
    assert check_database(engine).faults == 0


def test_a_strict_push_without_room_in_the_quarantine_says_what_is_wrong(engine: sa.Engine) -> None:
    set_quotas(engine, Quotas(quarantine=1))
    with pytest.raises(InvalidError, match="kind: weather is not a kind of record"):
        push(engine, str(uuid4()), "phone", [change("weather", BODIES["club"])], strict=True)


LATER: Final = (
    ("player", "log_bytes"), ("player", "quarantine_bytes"), ("shot", "planned_height"), ("round", "ball_label"),
    ("round", "lengths_taken"), ("shot", "carry_yd"), ("round", "green_speed_ft"), ("round", "hole_conditions"),
)  # fmt: skip
"""The columns that step 0007 and those after it add."""
LATER_TABLES: Final = ("practice_session", "practice_ball", "caddie")


def test_a_database_of_the_step_before_is_counted(database_url: str) -> None:
    before = open_database(database_url)
    filled(before, practice=False)
    with writing(before) as connection:
        for table, column in LATER:
            connection.exec_driver_sql(f"ALTER TABLE {table} DROP COLUMN {column}")
        for table in LATER_TABLES:
            connection.exec_driver_sql(f"DROP TABLE {table}")
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0006'")
    before.dispose()
    after = open_database(database_url)
    assert check_database(after).faults == 0
    with reading(after) as connection:
        assert all(said.log for said, _ in counted(connection).values())
    after.dispose()
