"""The head of every document of evidence: whose shots, against what, from which days."""

from __future__ import annotations

from datetime import date
from typing import Annotated, TypedDict

import pandas as pd

from server.game.practice import PRACTICE
from server.questions.question import Chosen
from server.records.typed_schemas import Day


class BaselineNamed(TypedDict):
    """Which baseline, and which edition of it."""

    id: str
    version: str


class OfPlayer(TypedDict):
    """Whose shots."""

    player: Annotated[str, "the player's name"]
    player_id: str


Days = TypedDict(
    "Days",
    {
        "from": Annotated[Day | None, "the first day asked for, else the first with a shot"],
        "to": Annotated[Day | None, "the last day asked for, else the last with a shot"],
        "empty": Annotated[str | None, "a sentence where no shot was chosen"],
    },
)
"""From which days."""


class Heading(OfPlayer, Days):
    """Whose shots, against what, from which days."""

    baseline: BaselineNamed
    level: Annotated[float, "chance that an interval contains the true figure"]


def heading(chosen: Chosen) -> Heading:
    """The heading of a document; days as asked for, else the first and last with a shot."""
    days = (chosen.valued if chosen.balls is None or chosen.source != PRACTICE else chosen.balls)["played_on"]
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
