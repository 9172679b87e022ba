"""What an answer is made of: rounds, practice sessions, or both."""

from __future__ import annotations

from typing import Annotated, TypedDict

import pandas as pd

from server.game.practice import COURSE, PRACTICE
from server.questions.question import Chosen
from server.reports.heading import empty_words


class MadeOf(TypedDict):
    """Which balls an answer is made of."""

    source: Annotated[str, "course, practice or both"]
    practice_balls: Annotated[int, "of practice sessions in these days; 0 where they do not count"]
    practice_sessions: int


def made_of(chosen: Chosen) -> MadeOf:
    """Which balls the answer is made of."""
    balls = practised(chosen)
    return {
        "source": chosen.source,
        "practice_balls": len(balls),
        "practice_sessions": int(balls["round_id"].nunique()) if len(balls) else 0,
    }


def practised(chosen: Chosen) -> pd.DataFrame:
    """The practice balls that count; no row where practice does not."""
    return pd.DataFrame() if chosen.balls is None else chosen.balls


def nothing_chosen(chosen: Chosen) -> str | None:
    """A sentence where neither a shot nor a practice ball was chosen; None where there is one."""
    if chosen.source == COURSE:
        return empty_words(chosen.valued, chosen.from_day, chosen.to_day)
    if len(practised(chosen)) or (chosen.source != PRACTICE and len(chosen.valued)):
        return None
    return "There is no practice ball in the days asked for."
