"""Where changes are: what asks the log of any player goes through here, whether it is one table or partitioned.

Ids of changes are unique over all players, and so is the number of a change among those of its record. One table holds
both by its indexes. A partitioned log (`server.store.partitioned_log`, PostgreSQL alone) cannot, for a unique key there
must hold the player. So a narrow table beside it, `change_place`, has one row a change, with both keys and whose it is.
Triggers of the database keep it, in the statement that writes the log: two that bring the same id in one moment meet
there as they meet on the index of the one table, with the same error.
"""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Final

import sqlalchemy as sa

from server.store.engine import among, select_in

PLACE_TABLE: Final = "change_place"
KEEP_PLACES: Final = f"{PLACE_TABLE}_kept"
"""The trigger that keeps the table, and its function."""

_IS_PARTITIONED: Final = sa.text("SELECT relkind = 'p' FROM pg_class WHERE oid = 'change'::regclass")
_KNOWN_OF: Final = "pencilbag_partitioned"
_AS_KEPT: Final = re.compile("[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
"""An id as the log has it; any other words are no id of it."""

_HOLDERS: Final = {
    name: sa.text(
        f"SELECT DISTINCT player_id::text, {name}::text FROM {PLACE_TABLE} WHERE {name} = ANY(CAST(:ids AS uuid[]))"
    )
    for name in ("change_id", "record_id")
}


def is_partitioned(connection: sa.Connection) -> bool:
    """Whether the log is partitioned; each connection looks once."""
    if connection.dialect.name != "postgresql":
        return False
    if _KNOWN_OF not in connection.info:
        connection.info[_KNOWN_OF] = bool(connection.execute(_IS_PARTITIONED).scalar_one())
    return bool(connection.info[_KNOWN_OF])


def select_changes(
    connection: sa.Connection, columns: Sequence[Any], key: sa.ColumnElement[Any], ids: Sequence[str]
) -> list[Any]:
    """Rows of the log, whoever's they are, whose `key` (`change_id` or `record_id`) is one of `ids`. Of a partitioned
    log only the parts of the players who have some are read."""
    if not is_partitioned(connection):
        return select_in(connection, columns, key, ids)
    asked = [one for one in ids if _AS_KEPT.fullmatch(one)]
    of_player: dict[str, list[str]] = defaultdict(list)
    for player_id, found in connection.execute(_HOLDERS[str(key.key)], {"ids": asked}):
        of_player[player_id].append(found)
    return [row for player_id, own in of_player.items() for row in select_in(connection, columns, key, own, player_id)]


def known_changes(connection: sa.Connection, key: sa.ColumnElement[Any], ids: Sequence[str]) -> set[str]:
    """Of these ids those that the log of any player has as `key` (`change_id` or `record_id`)."""
    if connection.dialect.name != "sqlite":
        return {row[0] for row in select_changes(connection, (key,), key, ids)}
    return set(connection.execute(among(key), {"ids": json.dumps(ids)}).scalars())


_IN_THE_LOG: Final = "change_id::uuid, record_id::uuid, record_seq, player_id::uuid"
_DIFFERENCES: Final = sa.text(f"""
    SELECT count(*) FROM (SELECT {_IN_THE_LOG} FROM change) AS told (change_id, record_id, record_seq, player_id)
    FULL JOIN {PLACE_TABLE} AS place USING (change_id)
    WHERE (told.record_id, told.record_seq, told.player_id)
        IS DISTINCT FROM (place.record_id, place.record_seq, place.player_id)
""")
_REMOVE_WRONG: Final = sa.text(f"""
    DELETE FROM {PLACE_TABLE} AS place WHERE (change_id, record_id, record_seq, player_id) NOT IN
        (SELECT {_IN_THE_LOG} FROM change WHERE change.change_id = place.change_id::text)
""")
FILL: Final = sa.text(f"""
    INSERT INTO {PLACE_TABLE} (change_id, record_id, record_seq, player_id) SELECT {_IN_THE_LOG} FROM change
    WHERE NOT EXISTS (SELECT FROM {PLACE_TABLE} AS place WHERE place.change_id = change.change_id::uuid)
    ON CONFLICT DO NOTHING
""")
"""Adds what is missing. What cannot be added, because two changes have one id, stays a difference."""


def misplaced(connection: sa.Connection) -> int:
    """How many rows of `change_place` are not what a partitioned log says, or are missing."""
    return int(connection.execute(_DIFFERENCES).scalar_one()) if is_partitioned(connection) else 0


def mend_places(connection: sa.Connection) -> None:
    """Make `change_place` what the log says, while others may push."""
    connection.execute(_REMOVE_WRONG)
    connection.execute(FILL)
