"""Rounds that nobody has closed: the facts that the competition lock decides by."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass

import sqlalchemy as sa

from server.records.fold import PUT
from server.store.places import select_changes
from server.store.tables import CHANGE, ROUND, ROUND_OF_SHOT


@dataclass(frozen=True)
class OpenRound:
    """A round whose head, or of a deleted one whose last put, does not record that it is closed. `deleted`: the head
    deletes it; `has_shots`: it has live shots."""

    player_id: str
    round_id: str
    deleted: bool
    has_shots: bool


def open_rounds(connection: sa.Connection, player_ids: Collection[str], kind: str) -> list[OpenRound]:
    """The open rounds of these players that are of this kind, or were so by any change of their history."""
    live = sa.exists().where(ROUND_OF_SHOT).correlate(ROUND)
    query = (
        sa.select(ROUND.c.player_id, ROUND.c.record_id, ROUND.c.deleted, live.label("has_shots"), ROUND.c.kind)
        .where(ROUND.c.player_id.in_(player_ids), sa.not_(ROUND.c.closed))
        .order_by(ROUND.c.player_id, ROUND.c.record_id)
    )
    rows = connection.execute(query).all()
    once = _once_of_kind(connection, [row.record_id for row in rows if row.kind != kind], kind)
    return [
        OpenRound(row.player_id, row.record_id, bool(row.deleted), bool(row.has_shots))
        for row in rows
        if row.kind == kind or row.record_id in once
    ]


def _once_of_kind(connection: sa.Connection, round_ids: list[str], kind: str) -> set[str]:
    """Of these rounds the ones that some change recorded as of this kind."""
    if not round_ids:
        return set()
    puts = select_changes(connection, (CHANGE.c.record_id, CHANGE.c.op, CHANGE.c.body), CHANGE.c.record_id, round_ids)
    # looked at as text first: most rounds were never of that kind, and a body holds eighteen holes
    mention = json.dumps(kind)
    return {
        row.record_id
        for row in puts
        if row.op == PUT and mention in row.body and json.loads(row.body).get("kind") == kind
    }
