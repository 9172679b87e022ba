"""A player in a coach's list: the latest rounds in a line, and whether they tell of a change."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from server.analysis.intervals import USUAL_LEVEL
from server.analysis.recent import recent_trend
from server.store.players import Player


def listed_player(
    player: Player,
    rounds: list[dict[str, Any]],
    valued: pd.DataFrame | None,
    last: int,
    *,
    lock: str | None,
    lacking: str | None = None,
) -> dict[str, Any]:
    """player_id, name, plays, rounds (how many there are), last_round (round_id, played_on, kind, course, closed,
    shots; null without one), locked (`lock`: why strokes gained are left out, or null), recent (the latest `last`
    rounds with a value, earliest first: round_id, played_on, strokes_gained of the ball of record, shots, holes) and
    trend (`recent_trend`; its words are `lacking` where that says why there are no strokes gained).

    `rounds`: all of the player, latest first; `valued`: shots of the latest of them, None while locked or lacking.
    """
    latest = rounds[0] if rounds else None
    recent = [] if valued is None else _recent(valued, last)
    strokes, holes = (np.array([one[name] for one in recent], dtype=np.float64) for name in ("strokes_gained", "holes"))
    trend = recent_trend(strokes, holes, USUAL_LEVEL)
    return {
        "player_id": player.player_id,
        "name": player.name,
        "plays": player.plays,
        "rounds": len(rounds),
        "last_round": None if latest is None else _round(latest),
        "locked": lock,
        "recent": recent,
        "trend": trend if lacking is None else trend | {"words": lacking},
    }


def _round(round_: dict[str, Any]) -> dict[str, Any]:
    names = ("round_id", "kind", "course", "closed", "shots")
    return {name: round_[name] for name in names} | {"played_on": round_["played_on"].isoformat()}


def _recent(valued: pd.DataFrame, last: int) -> list[dict[str, Any]]:
    """The latest rounds with a value, earliest first."""
    counted = valued[valued["ball"].eq(1) & valued["strokes_gained"].notna()]
    groups = counted.groupby(["played_on", counted["round_id"].astype("object")], sort=True)
    sums = groups.agg(sum=("strokes_gained", "sum"), size=("strokes_gained", "size"), holes=("hole", "nunique"))
    return [
        {
            "round_id": str(round_id),
            "played_on": day.date().isoformat(),
            "strokes_gained": float(row["sum"]),
            "shots": int(row["size"]),
            "holes": int(row["holes"]),
        }
        for (day, round_id), row in sums.tail(last).iterrows()
    ]
