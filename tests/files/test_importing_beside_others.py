"""An import beside others who write: it holds nobody up while it checks, and stores all of it or nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from server.files import shots_import as importing
from server.files.shots_import import Imported, import_table
from server.files.shots_rows import read_table
from server.files.shots_stream import import_files
from server.files.table_faults import TableError
from server.store import erasure
from server.store import prepared as storing
from server.store.engine import open_database, reading
from server.store.erasure import erase_player
from server.store.log import ErasedError, push
from server.store.players import players
from server.store.prepared import TRIES, ConcurrentChangeError, Prepared
from server.store.pulling import pull
from server.store.quotas import QuotaError, Quotas, set_quotas
from server.store.rebuild import check_database
from server.store.round_checks import check_prepared
from server.store.unavailable import BusyError
from tests.conftest import DATABASES
from tests.files.tables import drive_and_putt, row, table
from tests.records.made import Season, body_of, change


@pytest.fixture(params=DATABASES)
def engine(
    request: pytest.FixtureRequest, new_database: Callable[[str, Path], str], tmp_path: Path
) -> Iterator[sa.Engine]:
    # A writer that must wait at all fails at once.
    opened = open_database(new_database(request.param, tmp_path), busy_wait_s=0)
    yield opened
    opened.dispose()


def take(engine: sa.Engine, rows: list[dict[str, Any]], **how: Any) -> Imported:
    return import_table(engine, read_table(table(rows)), **how)


def while_it_checks(monkeypatch: pytest.MonkeyPatch, act: Callable[[int], None]) -> list[int]:
    """Do something each time that the rounds of an import are looked at; returns a list that grows with each look."""
    looks: list[int] = []

    def check(connection: sa.Connection, prepared: Prepared) -> Any:
        looks.append(len(looks))
        act(looks[-1])
        return check_prepared(connection, prepared)

    monkeypatch.setattr(importing, "check_prepared", check)
    return looks


def wren(engine: sa.Engine) -> str:
    with reading(engine) as connection:
        (found,) = (one.player_id for one in players(connection) if one.name == "Wren Quillfeather")
    return found


def log(engine: sa.Engine, player_id: str) -> list[str]:
    page = pull(engine, player_id, None, 5000)
    return [] if page is None else [one["change_id"] for one in page.changes]


def test_another_player_pushes_while_an_import_checks(engine: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    other = Season("Bramble Inkwell")
    looks = while_it_checks(monkeypatch, lambda _: push(engine, other.player_id, "phone", other.changes, strict=True))
    assert take(engine, drive_and_putt()).changes == 6
    assert looks == [0]
    assert len(log(engine, other.player_id)) == len(other.changes)
    assert check_database(engine).faults == 0


def test_a_log_that_moved_on_is_looked_at_again(engine: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    take(engine, drive_and_putt())
    player_id = wren(engine)
    spare = change("club", body_of("club", label="7 iron", sort="iron"))

    def once(look: int) -> None:
        if look == 0:
            push(engine, player_id, "phone", [spare], strict=True)

    looks = while_it_checks(monkeypatch, once)
    later = [row(played_on="2026-06-01", club="7 iron", holed="yes")]
    done = take(engine, later)
    # the club that came in between is the one that the row means
    assert (looks, done.changes, done.made) == ([0, 1], 2, [])
    assert check_database(engine).faults == 0


def test_a_log_that_never_rests_is_busy_and_nothing_is_stored(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    take(engine, drive_and_putt())
    player_id = wren(engine)

    def push_a_club(look: int) -> None:
        club = change("club", body_of("club", label=f"spare {look}", sort="iron"))
        push(engine, player_id, "phone", [club], strict=True)

    looks = while_it_checks(monkeypatch, push_a_club)
    before = len(log(engine, player_id))
    with pytest.raises(BusyError):
        take(engine, drive_and_putt(played_on="2026-06-01"))
    assert len(looks) == TRIES
    assert len(log(engine, player_id)) == before + TRIES
    assert check_database(engine).faults == 0


def test_of_two_players_none_is_stored_when_the_second_has_moved_on(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    take(engine, [*drive_and_putt(), *drive_and_putt(player="Bramble Inkwell")])
    player_id = wren(engine)

    def move(look: int) -> None:
        if look % 2:
            club = change("club", body_of("club", label=f"spare {look}", sort="iron"))
            push(engine, player_id, "phone", [club], strict=True)

    while_it_checks(monkeypatch, move)
    before = {name: len(log(engine, name)) for name in ids(engine)}
    both = [*drive_and_putt(player="Bramble Inkwell", played_on="2026-06-01"), *drive_and_putt(played_on="2026-06-01")]
    with pytest.raises(BusyError):
        take(engine, both)
    assert {name: len(log(engine, name)) for name in ids(engine)} == before | {player_id: before[player_id] + TRIES}


def ids(engine: sa.Engine) -> list[str]:
    with reading(engine) as connection:
        return [one.player_id for one in players(connection)]


def test_a_player_who_is_erased_meanwhile_stays_erased(engine: sa.Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    take(engine, drive_and_putt())
    player_id = wren(engine)
    # the import itself reads meanwhile, so that the file cannot be scrubbed, however long the erasure waits
    monkeypatch.setattr(erasure, "PATIENCE_S", 0.2)
    while_it_checks(monkeypatch, lambda _: erase_player(engine, player_id))
    with pytest.raises(ErasedError):
        take(engine, drive_and_putt(played_on="2026-06-01"), player_id=player_id)
    assert ids(engine) == []


def test_a_shot_of_two_players_in_one_table_is_refused(engine: sa.Engine) -> None:
    shot = {"shot_id": "00000000-0000-4000-8000-000000000001", "holed": "yes"}
    with pytest.raises(TableError, match="belongs to another player"):
        take(engine, [row(**shot), row(player="Bramble Inkwell", **shot)])
    assert ids(engine) == []


def test_what_is_stored_already_counts_for_the_rounds_of_a_table(engine: sa.Engine) -> None:
    take(engine, drive_and_putt())
    # by itself a hole in one; with the putt that is there already it is not
    with pytest.raises(TableError, match="the rows do not fit what is already stored: hole 1, ball 1, shot 2"):
        take(engine, [row(holed="yes")])
    corrected = drive_and_putt(par=5)
    assert take(engine, corrected, dry_run=True).changes == take(engine, corrected).changes == 1
    assert check_database(engine).faults == 0


def test_rounds_of_a_table_that_name_one_round_are_looked_at_as_one(engine: sa.Engine) -> None:
    named = {"round_id": "00000000-0000-4000-8000-000000000002", "course": "Heath"}
    rows = [*drive_and_putt(**named, tees="white"), *drive_and_putt(**named, tees="blue")]
    with pytest.raises(TableError, match="two shots of this ball have the number 1"):
        take(engine, [one | {"shot_id": f"00000000-0000-4000-8000-00000000001{n}"} for n, one in enumerate(rows)])
    # a shot that is named in two rounds is of the second: the first lacks it
    shot = {"shot_id": "00000000-0000-4000-8000-000000000001"}
    first, second = drive_and_putt(), drive_and_putt(played_on="2026-06-02")
    with pytest.raises(TableError, match="hole 1, ball 1, shot 1: holed: the last shot of the ball is neither"):
        take(engine, [first[0], first[1] | shot, second[0], second[1] | shot])
    assert ids(engine) == []


def test_a_log_without_room_takes_nothing(engine: sa.Engine) -> None:
    set_quotas(engine, Quotas(log=1000))
    with pytest.raises(QuotaError):
        take(engine, drive_and_putt())
    assert ids(engine) == []


def test_phones_push_while_files_are_checked_and_are_caught_up_with(engine: sa.Engine, tmp_path: Path) -> None:
    """Nobody waits before the last transaction: here a writer that has to wait fails at once. The log of a player moves
    on after the rows were made ready; that player alone is looked at again."""
    take(engine, drive_and_putt())
    whose, other = wren(engine), Season("Ash")
    file = tmp_path / "shots.csv"
    file.write_bytes(table([*drive_and_putt(played_on="2026-06-01"), *drive_and_putt(player="Bramble Inkwell")]))
    seen: list[str] = []

    def told(stage: str, _steps: int, _of: int | None) -> None:
        seen.append(stage)
        club = change("club", body_of("club", label=f"spare {len(seen)}", sort="iron"))
        if stage == "checking rows":
            push(engine, other.player_id, "phone", other.changes, strict=True)
        if stage == "checking players":
            push(engine, whose, "phone", [club], strict=True)

    done = import_files(engine, [file], progress=told)
    assert seen == ["checking rows", *["checking players"] * 2, *["storing players"] * 2]
    assert (done.rows, done.changes) == (4, 3 + 6)
    # what was there, the two clubs that came meanwhile, the round and its two shots
    assert (len(log(engine, whose)), len(log(engine, other.player_id))) == (6 + 2 + 3, len(other.changes))
    assert check_database(engine).faults == 0


def test_a_log_that_never_rests_refuses_all_files(
    engine: sa.Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    take(engine, drive_and_putt())
    file = tmp_path / "shots.csv"
    file.write_bytes(table([*drive_and_putt(player="Bramble Inkwell"), *drive_and_putt(played_on="2026-06-01")]))
    before = {name: len(log(engine, name)) for name in ids(engine)}

    def moved(_connection: sa.Connection, prepared: Prepared, *, by_player: bool) -> None:
        raise ConcurrentChangeError(prepared.player_id)

    monkeypatch.setattr(storing, "store", moved)
    with pytest.raises(BusyError):
        import_files(engine, [file])
    assert {name: len(log(engine, name)) for name in ids(engine)} == before
