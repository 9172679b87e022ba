"""Several players asked about at once: who belongs to a squad or the field, who is locked, and the tallies of the rest.

A squad is the players whom the caller may read. The field is the players of the server who share with anybody at all, a
reader or a squad, besides those: it is reported only as one, and of those whom the caller may not read never fewer
than `LEAST_UNREAD` at a time, from all their rounds whatever days are asked for: two questions that differ by one
player or one day would single somebody out. A stated choice of this tool.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection

from server.analysis.evidence.tallies import Tally, tallies
from server.analysis.expected_strokes.baseline import Baseline
from server.game.categories import CategoryScheme
from server.questions.cache import Cache
from server.questions.competition_lock import locked_players
from server.questions.valued_shots import scheme_of, valued_record
from server.store.players import Player
from server.store.record_shots import record_shots
from server.store.season_rows import log_marks

LEAST_UNREAD: Final = 5
"""Players of the field whom the caller may not read below whom none of them is reported. A stated choice."""
AT_ONCE: Final = 20
"""Players whose shots are read and valued in one go: what is held of them at a time is bounded."""


@dataclass(frozen=True, eq=False)
class Member:
    """A player of a squad. `held`: the tally, or what brings it each time, where many are kept elsewhere; None while a
    competition round of theirs is open."""

    player: Player
    held: Tally | Callable[[], Tally] | None

    @property
    def tally(self) -> Tally | None:
        """The rounds that count; None while a competition round is open."""
        return self.held() if callable(self.held) else self.held


@dataclass(frozen=True, eq=False)
class AskedOfMany:
    """A question put about several players in one transaction. `marks`: what each log is at this moment, read before
    the records; `locked`: the players who are."""

    connection: Connection
    players: tuple[Player, ...]
    baseline: Baseline
    marks: tuple[tuple[str, str], ...]
    locked: frozenset[str]

    def members(self, kept: Cache | None = None) -> list[Member]:
        """The players with their tallies, in the order given. `kept`: tallies worked out before."""
        free = [player for player in self.players if player.player_id not in self.locked]
        marks = dict(self.marks)
        keys = {one.player_id: (marks.get(one.player_id), self.baseline, scheme_of(one)) for one in free}
        found: dict[str, Tally] = {}
        for player_id, key in keys.items():
            tally = None if kept is None else kept.get((player_id, *key))
            if tally is not None:
                found[player_id] = tally
        lacking = [player for player in free if player.player_id not in found]
        for scheme, part in _alike(lacking):
            for player, tally in zip(part, self._worked_out(part, scheme), strict=True):
                found[player.player_id] = tally
                if kept is not None:
                    kept.put((player.player_id, *keys[player.player_id]), tally)
        return [Member(player, found.get(player.player_id)) for player in self.players]

    def _worked_out(self, players: Sequence[Player], scheme: CategoryScheme) -> list[Tally]:
        read = record_shots(self.connection, [player.player_id for player in players])
        return tallies(read.rounds, valued_record(read.shots, self.baseline, scheme), len(players), scheme.categories)


def asked_of_many(connection: Connection, players: Sequence[Player], baseline: Baseline) -> AskedOfMany:
    """Put a question about these players, in a transaction that the caller holds open."""
    ids = [player.player_id for player in players]
    marks = tuple(log_marks(connection, ids))
    return AskedOfMany(connection, tuple(players), baseline, marks, locked_players(connection, ids))


def _alike(players: Sequence[Player]) -> list[tuple[CategoryScheme, list[Player]]]:
    """The players by their scheme of categories, a few at a time."""
    groups: dict[CategoryScheme, list[Player]] = {}
    for player in players:
        groups.setdefault(scheme_of(player), []).append(player)
    return [
        (scheme, alike[first : first + AT_ONCE])
        for scheme, alike in groups.items()
        for first in range(0, len(alike), AT_ONCE)
    ]


def of_the_field(
    members: Sequence[Member], may_read: Callable[[str], bool], enough: Callable[[Member], bool]
) -> list[Member]:
    """The members who may be reported as a field: all who have enough rounds, where those whom the caller may not read
    are none or `LEAST_UNREAD` at least; else the ones who may be read."""
    fit = [member for member in members if enough(member)]
    unread = sum(not may_read(member.player.player_id) for member in fit)
    return fit if unread >= LEAST_UNREAD else [member for member in fit if may_read(member.player.player_id)]
