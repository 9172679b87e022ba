"""Which rounds lock a player: the cases shared with the phone, whose rounds count, and what a refusal says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from server.questions.competition_lock import LOCK, LockedError, lock_of, locked_players, refuse_locked
from server.store.engine import reading
from server.store.log import push
from server.store.players import players
from server.store.rebuild import check_database
from tests.records.made import Season, body_of, change, named

CASES = json.loads((Path(__file__).parents[1] / "vectors" / "competition_lock.json").read_text("utf-8"))["cases"]


def as_pushed(case: dict[str, Any], of: str) -> list[dict[str, Any]]:
    """The changes of a case as a device sends them; `of` keeps the ids of several runs apart."""
    own = {"round": named(f"{of} round"), "shot": named(f"{of} shot")}
    return [
        change(
            raw["of"],
            None if raw["op"] == "delete" else body_of(raw["of"], **_fields(raw, own["round"])),
            own[raw["of"]],
            change_id=named(f"{of} {raw['change_id']}"),
            parents=[named(f"{of} {parent}") for parent in raw["parents"]],
            client_time=raw["effective_time"],
        )
        for raw in case["changes"]
    ]


def _fields(raw: dict[str, Any], round_id: str) -> dict[str, Any]:
    return dict(raw["body"]) if raw["of"] == "round" else {"round_id": round_id}


def is_locked(engine: sa.Engine, player_id: str) -> bool:
    with reading(engine) as connection:
        return lock_of(connection, player_id) is not None


def test_the_shared_cases(engine: sa.Engine) -> None:
    found = {}
    for case in CASES:
        for name, order in (("in order", 1), ("backwards", -1)):
            made = Season(f"{case['name']} {name}")
            changes = as_pushed(case, made.player_id)[::order]
            assert push(engine, made.player_id, "phone", [*made.changes, *changes]).quarantined == []
            found[case["name"], name] = is_locked(engine, made.player_id)
    assert found == {(case["name"], name): case["locked"] for case in CASES for name in ("in order", "backwards")}
    assert {case["locked"] for case in CASES} == {True, False}
    assert not check_database(engine).faults


def test_one_at_a_time_says_the_same_as_all_at_once(engine: sa.Engine) -> None:
    for case in CASES:
        made = Season(f"{case['name']}, slowly")
        for one in [*made.changes, *as_pushed(case, made.player_id)]:
            push(engine, made.player_id, "phone", [one])
        assert is_locked(engine, made.player_id) is case["locked"], case["name"]


def test_who_is_locked_is_named_and_nobody_else(engine: sa.Engine) -> None:
    ash, wren, robin = Season("Ash"), Season("Wren"), Season("Robin")
    ash.round("today", kind="competition")
    wren.round("today", kind="competition")
    wren.round("yesterday", kind="competition", closed=True)
    robin.round("today", note='"kind":"competition"')
    for made in (ash, wren, robin):
        push(engine, made.player_id, "phone", made.changes)
    with reading(engine) as connection:
        everybody = players(connection)
        ids = [player.player_id for player in everybody]
        assert locked_players(connection, ids) == {ash.player_id, wren.player_id}
        assert locked_players(connection, []) == locked_players(connection, [named("nobody")]) == frozenset()
        with pytest.raises(LockedError) as refused:
            refuse_locked(connection, everybody)
        assert refused.value.players == ("Ash", "Wren")
        assert str(refused.value) == f"Ash, Wren each have a competition round open. {LOCK}"
        with pytest.raises(LockedError, match=r"^Ash has a competition round open\. "):
            refuse_locked(connection, [player for player in everybody if player.name != "Wren"])
        refuse_locked(connection, [player for player in everybody if player.name == "Robin"])


def test_shots_of_another_player_keep_no_deleted_round(engine: sa.Engine) -> None:
    ash, wren = Season("Ash"), Season("Wren")
    round_id = ash.round("today", kind="competition")
    opened = ash.changes[-1]["change_id"]
    ash.changes.append(change("round", None, round_id, parents=[opened]))
    wren.shot(round_id, 1, 1, "tee", 400, named("a club"))
    for made in (ash, wren):
        push(engine, made.player_id, "phone", made.changes)
        assert not is_locked(engine, made.player_id)
