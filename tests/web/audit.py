"""What must hold of a phone's storage and of the server at any moment, and what must hold once all is healed."""

from __future__ import annotations

from collections import Counter
from typing import Any

from server.records.fold import Version, fold
from tests.web.phone import Phone, Server


def check_consistent(phone: Phone) -> dict[str, int]:
    """The local database is consistent: each record is the fold of its changes, each outbox entry has its change, each
    change that never came back is queued. Returns counts."""
    changes, records, outbox = phone.all_of("changes", "records", "outbox")
    by_record: dict[str, list[dict[str, Any]]] = {}
    for change in changes:
        by_record.setdefault(change["record_id"], []).append(change)
    assert {record["record_id"] for record in records} == set(by_record)
    for record in records:
        held = by_record[record["record_id"]]
        named = {parent for change in held for parent in change["parents"]}
        assert set(record["leaves"]) == {change["change_id"] for change in held} - named
        assert record["head"] in record["leaves"]
    queued = {entry["change_id"] for entry in outbox}
    assert queued <= {change["change_id"] for change in changes}
    assert {change["change_id"] for change in changes if change["seq"] is None} <= queued
    return {"changes": len(changes), "records": len(records), "outbox": len(outbox)}


def delivered_once(phone: Phone, server: Server, player_id: str) -> list[dict[str, Any]]:
    """Everything this phone holds is on the server, once, with the same content, and folds to what the phone shows."""
    log = server.log(player_id)
    counts = Counter(change["change_id"] for change in log)
    assert max(counts.values()) == 1
    at_server = {change["change_id"]: change for change in log}
    held = phone.all_of("changes")
    assert {change["change_id"] for change in held} == set(at_server)
    for change in held:
        same = at_server[change["change_id"]]
        assert {name: change[name] for name in ("body", "op", "parents", "effective_time")} == {
            name: same[name] for name in ("body", "op", "parents", "effective_time")
        }
    by_record: dict[str, list[Version]] = {}
    for change in log:
        version = Version(
            change["change_id"], tuple(change["parents"]), change["op"], change["effective_time"], change["body"]
        )
        by_record.setdefault(change["record_id"], []).append(version)
    for record in phone.all_of("records"):
        folded = fold(by_record[record["record_id"]])
        assert (record["head"], bool(record["deleted"])) == (folded.head.change_id, folded.deleted)
    return log


def live_shots(log: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The shots that a log folds to."""
    by_record: dict[str, list[Version]] = {}
    for change in log:
        if change["kind"] == "shot":
            version = Version(
                change["change_id"], tuple(change["parents"]), change["op"], change["effective_time"], change["body"]
            )
            by_record.setdefault(change["record_id"], []).append(version)
    heads = [fold(versions) for versions in by_record.values()]
    return [found.head.body for found in heads if not found.deleted]
