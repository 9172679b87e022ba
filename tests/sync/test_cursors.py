"""A cursor must not match a log with another past, even where the same change stands at the same number."""

from __future__ import annotations

import uuid
from pathlib import Path
from typing import Any

from server.records.changes import iso, parse_time
from server.store.backup import backup, restore
from server.store.engine import open_database
from server.store.log import push
from server.store.pulling import pull

PLAYER = str(uuid.UUID(int=1))


def change(label: str) -> dict[str, Any]:
    """A club of that label; equal labels give equal changes."""
    return {
        "change_id": str(uuid.uuid5(uuid.NAMESPACE_OID, label)),
        "record_id": str(uuid.uuid5(uuid.NAMESPACE_OID, "record " + label)),
        "kind": "club",
        "parents": [],
        "op": "put",
        "body": {"label": label, "sort": "iron"},
        "device_id": "one",
        "client_time": iso(parse_time("2026-05-01T09:00:00Z", "client_time")),
        "schema_version": 1,
    }


def test_a_restored_log_refilled_in_another_order_resets_a_cursor_at_the_same_change(tmp_path: Path) -> None:
    engine = open_database(f"sqlite:///{tmp_path / 'log.sqlite'}")
    push(engine, PLAYER, "one", [change("a")])
    backup(engine, tmp_path / "early.sqlite")
    for label in ("b", "x", "y"):
        push(engine, PLAYER, "one", [change(label)])
    read = pull(engine, PLAYER, None, 3)
    assert read is not None
    assert read.changes[-1]["change_id"] == change("x")["change_id"]
    restore(engine, tmp_path / "early.sqlite")
    for label in ("y", "x", "b"):
        push(engine, PLAYER, "one", [change(label)])
    # x stands third again, but y, which this reader never saw, stands before it.
    again = pull(engine, PLAYER, read.cursor)
    assert again is not None
    assert again.reset
    by_the_pair_alone = pull(engine, PLAYER, (read.cursor or "").rsplit(":", 1)[0])
    assert by_the_pair_alone is not None
    assert not by_the_pair_alone.reset
    engine.dispose()


def test_a_cursor_goes_on_matching_while_its_log_only_grows(tmp_path: Path) -> None:
    engine = open_database(f"sqlite:///{tmp_path / 'log.sqlite'}")
    push(engine, PLAYER, "one", [change("a"), change("b")])
    read = pull(engine, PLAYER, None)
    assert read is not None
    push(engine, PLAYER, "two", [change("c")])
    more = pull(engine, PLAYER, read.cursor)
    assert more is not None
    assert [one["change_id"] for one in more.changes] == [change("c")["change_id"]]
    for wrong in ("1", "x:y", "99:" + change("a")["change_id"], f"1:{change('b')['change_id']}", "1" * 30 + ":x"):
        found = pull(engine, PLAYER, wrong)
        assert found is not None
        assert found.reset, wrong
    engine.dispose()
