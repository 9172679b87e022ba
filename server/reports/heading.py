"""What every document of evidence says first: whose shots, against what, from which days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.expected_strokes.baseline import Baseline
from server.store.players import Player


@dataclass(frozen=True, eq=False)
class Chosen:
    """Shots that were asked for: the player, their valued shots (`valued_shots`), the baseline, the days asked for, the
    clubs that the player has."""

    player: Player
    valued: pd.DataFrame
    baseline: Baseline
    clubs: tuple[str, ...]
    from_day: date | None = None
    to_day: date | None = None
    level: float = DEFAULT_LEVEL

    def heading(self) -> dict[str, Any]:
        """player, player_id, baseline, from, to (days asked for, else the first and last with a shot), level and
        empty (`empty_words`)."""
        days = self.valued["played_on"]
        first, last = (None, None) if days.empty else (days.min().date(), days.max().date())
        return {
            "player": self.player.name,
            "player_id": self.player.player_id,
            "baseline": {"id": self.baseline.id, "version": self.baseline.version},
            "from": _day(self.from_day or first),
            "to": _day(self.to_day or last),
            "level": self.level,
            "empty": empty_words(self.valued, self.from_day, self.to_day),
        }

    def known_club(self, club: str | None) -> str | None:
        """The club itself. LookupError, naming those that there are, for one that the player does not have."""
        if club is None or club in self.clubs:
            return club
        raise LookupError(f"{club!r} is not one of the player's clubs: {', '.join(self.clubs) or 'no club yet'}")


def empty_words(valued: pd.DataFrame, from_day: date | None = None, to_day: date | None = None) -> str | None:
    """A sentence where no shot was chosen, naming the days asked for; None where there is one."""
    if len(valued):
        return None
    days = ""
    if from_day and to_day:
        days = f", from {from_day} to {to_day}"
    elif from_day:
        days = f", from {from_day} on"
    elif to_day:
        days = f", up to {to_day}"
    return f"There is no shot in the rounds asked for{days}."


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
