"""Positions stay with their player: readers get records without them, unless the player shares positions too."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import Connection

from server.api.authorization import caller
from server.records.positions import is_of_position, without_positions
from server.store.players import shares_positions
from server.store.rows import ChangeRow, LeafRow, QuarantineRow

NOT_SHARED: Final = "is not a position"


def hides_positions(connection: Connection, player_id: str) -> bool:
    """Whether whoever asks must not see where this player was."""
    who = caller()
    own = who.open_house or who.is_player(player_id)
    return not own and not shares_positions(connection, player_id)


def changes_without(changes: Sequence[ChangeRow]) -> list[ChangeRow]:
    """Changes of the log without positions."""
    return [{**change, "body": without_positions(change["body"])} for change in changes]


def leaves_without(leaves: Sequence[LeafRow]) -> list[LeafRow]:
    """Versions of a record without positions."""
    return [{**leaf, "body": without_positions(leaf["body"])} for leaf in leaves]


def quarantine_without(entries: Sequence[QuarantineRow]) -> list[QuarantineRow]:
    """What waits to be mended without positions, also in the faults named."""
    return [
        {**entry, "raw": without_positions(entry["raw"]), "errors": [_silent(error) for error in entry["errors"]]}
        for entry in entries
    ]


def _silent(error: Any) -> Any:
    return {**error, "value": "", "message": NOT_SHARED} if is_of_position(str(error["field"])) else error
