"""A season to be reported: whose, which year, against which baseline, and in which pieces it is read."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Final

import pandas as pd
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import Baseline
from server.questions.valued_shots import scheme_of, valued_shots
from server.store.frames import Selection
from server.store.players import Player
from server.store.season_rows import (
    clubs_frame,
    counts_of_season,
    days_played,
    holes_frame,
    log_marks,
    players_of_season,
    rounds_frame,
)
from server.store.season_shots import season_shots_frame

SHOTS_AT_ONCE: Final = 10_000
"""Days are read together until they hold so many shots: memory stays flat however long the season is."""


@dataclass(frozen=True, eq=False)
class Season:
    """One year of the players in `players`, read through one connection, so that every table sees one state."""

    connection: sa.Connection
    year: int
    baseline: Baseline
    players: tuple[Player, ...]
    tells_squads: bool = True
    """Whether the squads that players share with are told."""

    @property
    def days(self) -> tuple[date, date]:
        """The first and the last day."""
        return date(self.year, 1, 1), date(self.year, 12, 31)

    def whole(self, player: Player) -> Selection:
        """All of a player's season."""
        return Selection(player.player_id, *self.days)

    def pieces(self, player: Player) -> Iterator[Selection]:
        """A player's season in runs of whole days of about `SHOTS_AT_ONCE` shots."""
        first: date | None = None
        held = 0
        last = None
        for day, shots in days_played(self.connection, player.player_id, *self.days):
            if first is not None and held + shots > SHOTS_AT_ONCE:
                yield Selection(player.player_id, first, last)
                first, held = None, 0
            first, last, held = first or day, day, held + shots
        if first is not None:
            yield Selection(player.player_id, first, last)

    def valued(self, player: Player, selection: Selection) -> pd.DataFrame:
        """The valued shots of a selection of this player."""
        scheme = scheme_of(player)
        valued = valued_shots(self.connection, selection, self.baseline, scheme, season_shots_frame)
        return valued.assign(player=pd.Categorical.from_codes([0] * len(valued), [player.name]))

    def counts(self) -> tuple[int, int]:
        """How many shots there are, and in how many rounds."""
        found = [counts_of_season(self.connection, player.player_id, *self.days) for player in self.players]
        return sum(shots for shots, _ in found), sum(rounds for _, rounds in found)

    def marks(self) -> list[tuple[str, str]]:
        """What the tables depend on in the store: each player's log up to now."""
        return log_marks(self.connection, [player.player_id for player in self.players])


@dataclass(frozen=True, eq=False)
class Piece:
    """Some days of a player's season, or all of it. What several tables need is read and valued once."""

    season: Season
    player: Player
    selection: Selection

    @cached_property
    def valued(self) -> pd.DataFrame:
        """The valued shots."""
        return self.season.valued(self.player, self.selection)

    @cached_property
    def rounds(self) -> pd.DataFrame:
        """The rounds, as `rounds_frame` has them."""
        return rounds_frame(self.season.connection, self.selection)

    @cached_property
    def holes(self) -> pd.DataFrame:
        """The holes that the rounds define."""
        return holes_frame(self.season.connection, self.selection)

    @cached_property
    def clubs(self) -> pd.DataFrame:
        """The player's clubs, with their shots in the whole season."""
        return clubs_frame(self.season.connection, self.player.player_id, *self.season.days)


def open_season(
    connection: sa.Connection,
    year: int,
    baseline: Baseline,
    players: Collection[str] | None = None,
    *,
    tells_squads: bool = True,
) -> Season:
    """The season of the players who have a round in that year; `players`: only these ids (None: everybody)."""
    found = players_of_season(connection, date(year, 1, 1), date(year, 12, 31), players)
    return Season(connection, year, baseline, tuple(found), tells_squads)
