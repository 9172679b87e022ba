"""The competition lock (Rules of Golf 2023, rule 4.3a): every way in asks here, and nowhere else.

While a competition round of a player is open, strokes gained, evidence, plans and readers' notes of that player are
locked for everybody. Scores stay. What is reported of several players at once is refused entirely while one of them
is locked, and the refusal names who; a list with a line a player leaves out that player's figures and says why.

A round locks when all of this holds:

1. It is a competition, or a change in its history ever made it one. Changing its kind opens nothing; closing does.
2. It is not closed. The head says so, as everywhere: of two versions in conflict the one that speaks for the round. A
   closing that loses to a later edit closes nothing until the conflict is settled; one that wins opens at once.
3. It is there: not deleted, or deleted while shots of it live. An edit beats a concurrent delete, and a deleted round
   that comes back locks again.

A shot whose round nobody has brought yet locks nothing: of what kind the round is, is not known. `web/js/game/
competition-lock.js` is the twin; `tests/vectors/competition_lock.json` says whether they agree.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

from sqlalchemy import Connection

from server.game.order_of_play import COMPETITION
from server.store.open_rounds import OpenRound, open_rounds
from server.store.players import Player

LOCK: Final = (
    "Strokes gained, evidence, plans and notes stay locked until this competition round is finished: during a round a "
    "player may record playing information but not use a device that recommends a line or a club (Rules of Golf, "
    "rule 4.3a)."
)


class LockedError(Exception):
    """Asked of players who have a competition round open; `players` are their names."""

    def __init__(self, players: Collection[str]) -> None:
        self.players = tuple(sorted(players))
        stated = "has" if len(self.players) == 1 else "each have"
        super().__init__(f"{', '.join(self.players)} {stated} a competition round open. {LOCK}")


def locked_players(connection: Connection, player_ids: Collection[str]) -> frozenset[str]:
    """Of these players the ones who are locked: the question itself."""
    found = open_rounds(connection, player_ids, COMPETITION)
    return frozenset(round_.player_id for round_ in found if _locks(round_))


def _locks(competition: OpenRound) -> bool:
    """Whether an open competition round is there."""
    return not competition.deleted or competition.has_shots


def refuse_locked(connection: Connection, players: Collection[Player]) -> None:
    """Raise LockedError when one of these players is locked."""
    locked = locked_players(connection, [player.player_id for player in players])
    if locked:
        raise LockedError([player.name for player in players if player.player_id in locked])


def lock_of(connection: Connection, player_id: str) -> str | None:
    """Why this player's figures are left out of a document that shows the rest, or None."""
    return LOCK if locked_players(connection, [player_id]) else None
