"""A caddie's part of the log on each sort of database: what goes in, what comes out, and when it ends."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from server.store.account_tables import CADDIE
from server.store.caddie_log import needs_of_caddie, pull_of_caddie, push_of_caddie
from server.store.caddies import (
    Caddie,
    CaddieEndedError,
    caddie_of,
    caddies,
    end_caddie,
    write_down_use,
)
from server.store.engine import reading, writing
from tests.api.people import CADDIES_PHONE, SECRET, House, house
from tests.records.made import body_of, change


@pytest.fixture
def full(database_url: str) -> Iterator[House]:
    made = house(database_url)
    yield made
    made.engine.dispose()


def found(full: House, caddie_id: str) -> Caddie:
    caddie = caddie_of(full.engine, SECRET, caddie_id, full.caddies[caddie_id])
    assert caddie is not None
    return caddie


def test_one_round_goes_in_and_comes_out(full: House) -> None:
    caddie = found(full, full.caddie())
    assert caddie_of(full.engine, SECRET, caddie.caddie_id, "another secret") is None
    first, _ = pull_of_caddie(full.engine, caddie, None)
    assert [one["kind"] for one in first.changes] == ["round", *["shot"] * 4]
    shot = change("shot", body_of("shot", round_id=caddie.round_id, order=5), device_id=CADDIES_PHONE)
    gone = change("shot", None, shot["record_id"], device_id=CADDIES_PHONE, parents=[shot["change_id"]])
    foreign = change("shot", body_of("shot"), device_id=CADDIES_PHONE)
    done = push_of_caddie(full.engine, caddie, [shot, foreign], None)
    assert (done.acknowledged, [one for one, _ in done.quarantined]) == ([shot["change_id"]], [foreign["change_id"]])
    assert push_of_caddie(full.engine, caddie, [gone], None).new == 1
    back = change("shot", shot["body"], shot["record_id"], device_id=CADDIES_PHONE, parents=[gone["change_id"]])
    assert push_of_caddie(full.engine, caddie, [back], None).new == 1
    page, mark = pull_of_caddie(full.engine, caddie, first.cursor)
    assert [one["change_id"] for one in page.changes] == [one["change_id"] for one in (shot, gone, back)]
    assert needs_of_caddie(full.engine, caddie)["mark"] == mark
    with writing(full.engine) as connection:
        connection.execute(CADDIE.update().values(last_used_at="2026-01-01T00:00:00.000Z"))
    write_down_use(full.engine, caddie)
    assert end_caddie(full.engine, caddie.player_id, caddie.caddie_id)
    assert not end_caddie(full.engine, caddie.player_id, caddie.caddie_id)
    for late in (
        lambda: push_of_caddie(full.engine, caddie, [shot], None),
        lambda: pull_of_caddie(full.engine, caddie, None),
        lambda: needs_of_caddie(full.engine, caddie),
    ):
        with pytest.raises(CaddieEndedError):
            late()
    with reading(full.engine) as connection:
        (row,) = caddies(connection, caddie.player_id)
        held = connection.execute(CADDIE.select()).one().log_bytes
    assert (row["state"], row["name"]) == ("ended", "Casey")
    assert str(row["last_used_at"]) > "2026-01-02"
    assert 1200 < held < 3000
