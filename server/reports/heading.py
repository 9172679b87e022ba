"""What every document of evidence says first: whose shots, against what, from which days."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd

from server.questions.question import Chosen


def heading(chosen: Chosen) -> dict[str, Any]:
    """player, player_id, baseline, from, to (days asked for, else the first and last with a shot), level and
    empty (`empty_words`)."""
    days = chosen.valued["played_on"]
    first, last = (None, None) if days.empty else (days.min().date(), days.max().date())
    return {
        "player": chosen.player.name,
        "player_id": chosen.player.player_id,
        "baseline": {"id": chosen.baseline.id, "version": chosen.baseline.version},
        "from": _day(chosen.from_day or first),
        "to": _day(chosen.to_day or last),
        "level": chosen.level,
        "empty": empty_words(chosen.valued, chosen.from_day, chosen.to_day),
    }


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
