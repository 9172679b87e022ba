"""A player in a coach's list: the latest rounds in a line, and whether they tell of a change."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from server.analysis.intervals import USUAL_LEVEL
from server.analysis.recent import recent_trend
from server.season.documents import LOCK, is_locked
from server.store.players import Player


def listed_player(
    player: Player, rounds: list[dict[str, Any]], valued: pd.DataFrame | None, last: int
) -> dict[str, Any]:
    """player_id, name, plays, rounds (how many there are), last_round (round_id, played_on, kind, course, closed,
    shots; null without one), locked (why strokes gained are hidden, or null), recent (the latest `last` rounds with a
    value, earliest first: round_id, played_on, strokes_gained of the ball of record, shots) and trend (`recent_trend`).

    `rounds`: all of the player, latest first; `valued`: shots of the latest of them, None while locked.
    """
    latest = rounds[0] if rounds else None
    recent = [] if valued is None else _recent(valued, last)
    strokes = np.array([one["strokes_gained"] for one in recent], dtype=np.float64)
    return {
        "player_id": player.player_id,
        "name": player.name,
        "plays": player.plays,
        "rounds": len(rounds),
        "last_round": None if latest is None else _round(latest),
        "locked": LOCK if any(is_locked(round_) for round_ in rounds) else None,
        "recent": recent,
        "trend": recent_trend(strokes, USUAL_LEVEL),
    }


def _round(round_: dict[str, Any]) -> dict[str, Any]:
    names = ("round_id", "kind", "course", "closed", "shots")
    return {name: round_[name] for name in names} | {"played_on": round_["played_on"].isoformat()}


def _recent(valued: pd.DataFrame, last: int) -> list[dict[str, Any]]:
    """The latest rounds with a value, earliest first."""
    counted = valued[valued["ball"].eq(1) & valued["strokes_gained"].notna()]
    groups = counted.groupby(["played_on", counted["round_id"].astype("object")], sort=True)
    sums = groups["strokes_gained"].agg(["sum", "size"]).tail(last)
    return [
        {
            "round_id": str(round_id),
            "played_on": day.date().isoformat(),
            "strokes_gained": float(row["sum"]),
            "shots": int(row["size"]),
        }
        for (day, round_id), row in sums.iterrows()
    ]
