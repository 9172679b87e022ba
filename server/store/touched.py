"""What a player's log holds since a moment that is remembered: which records its later changes touch."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final, NamedTuple

import sqlalchemy as sa

from server.store.cursors import START
from server.store.engine import select_in
from server.store.tables import CHANGE, PLAYER, SHOT

MOST_TOUCHED: Final = 2_000
"""Changes behind the remembered moment above which everything is read again."""


class LogEnd(NamedTuple):
    """The number of the last change of a log, and the fingerprint of all of it up to there."""

    seq: int
    chain: str


class Touched(NamedTuple):
    """What later changes speak of: the kinds of records, and the ids of the rounds and of the shots."""

    kinds: frozenset[str]
    rounds: tuple[str, ...]
    shots: tuple[str, ...]


def log_end(connection: sa.Connection, player_id: str) -> LogEnd:
    """Where the player's log ends now."""
    query = sa.select(PLAYER.c.last_seq, PLAYER.c.chain).where(PLAYER.c.player_id == player_id)
    seq, chain = connection.execute(query).one()
    return LogEnd(int(seq), str(chain))


def touched_since(connection: sa.Connection, player_id: str, end: LogEnd) -> Touched | None:
    """What the changes behind `end` speak of; None when the log does not go on from there (a backup was restored), or
    when they are more than `MOST_TOUCHED`."""
    query = (
        sa.select(CHANGE.c.seq, CHANGE.c.chain, CHANGE.c.kind, CHANGE.c.record_id)
        .where(CHANGE.c.player_id == player_id, CHANGE.c.seq >= end.seq)
        .order_by(CHANGE.c.seq)
        .limit(MOST_TOUCHED + 2)
    )
    rows = connection.execute(query).all()
    if end.seq == 0:
        goes_on = end.chain == START
    else:
        goes_on = bool(rows) and (rows[0].seq, rows[0].chain) == (end.seq, end.chain)
        rows = rows[1:]
    if not goes_on or len(rows) > MOST_TOUCHED:
        return None
    of_kind = {kind: tuple(sorted({row.record_id for row in rows if row.kind == kind})) for kind in ("round", "shot")}
    return Touched(frozenset(row.kind for row in rows), of_kind["round"], of_kind["shot"])


def rounds_of(connection: sa.Connection, shot_ids: Collection[str]) -> set[str]:
    """The rounds to which these shots belong now."""
    if not shot_ids:
        return set()
    return {row.round_id for row in select_in(connection, (SHOT.c.round_id,), SHOT.c.record_id, sorted(shot_ids))}
