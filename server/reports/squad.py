"""A player in a coach's list: the latest rounds in a line, and whether they tell of a change."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.evidence.recent import recent_trend
from server.analysis.evidence.round_lengths import WHOLE_ROUND, RoundLengths, round_lengths
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
    """player_id, name, plays, rounds and short_rounds (how many count, and how many are too short to:
    `round_lengths`; null where there are no strokes gained to tell), last_round (round_id, played_on,
    kind, course, closed, shots; null without one), locked (`lock`: why strokes gained are left out, or null), recent
    (the latest `last` of the rounds that count, earliest first: round_id, played_on, strokes_gained of the ball of
    record, shots, holes with a value, per_round: for 18 holes) and trend (`recent_trend`; its words are `lacking` where
    that says why there are no strokes gained).

    `rounds`: all of the player, latest first; `valued`: all their shots, None while locked or lacking.
    """
    latest = rounds[0] if rounds else None
    lengths = None if valued is None else round_lengths(valued)
    recent = [] if valued is None or lengths is None else _recent(valued, lengths, last)
    strokes, holes = (np.array([one[name] for one in recent], dtype=np.float64) for name in ("strokes_gained", "holes"))
    trend = recent_trend(strokes, holes, DEFAULT_LEVEL)
    return {
        "player_id": player.player_id,
        "name": player.name,
        "plays": player.plays,
        "rounds": None if lengths is None else lengths.rounds,
        "short_rounds": None if lengths is None else lengths.short,
        "last_round": None if latest is None else _round(latest),
        "locked": lock,
        "recent": recent,
        "trend": trend if lacking is None else trend | {"words": lacking},
    }


def _round(round_: dict[str, Any]) -> dict[str, Any]:
    names = ("round_id", "kind", "course", "closed", "shots")
    return {name: round_[name] for name in names} | {"played_on": round_["played_on"].isoformat()}


def _recent(valued: pd.DataFrame, lengths: RoundLengths, last: int) -> list[dict[str, Any]]:
    """The latest rounds that count, earliest first."""
    of_record = valued["ball"].eq(1) & valued["strokes_gained"].notna()
    counted = valued[of_record.to_numpy(dtype=bool) & (lengths.places(valued["round_id"]) >= 0)]
    groups = counted.groupby(["played_on", counted["round_id"].astype("object")], sort=True)
    sums = groups.agg(sum=("strokes_gained", "sum"), size=("strokes_gained", "size"), holes=("hole", "nunique"))
    return [
        {
            "round_id": str(round_id),
            "played_on": day.date().isoformat(),
            "strokes_gained": float(row["sum"]),
            "shots": int(row["size"]),
            "holes": int(row["holes"]),
            "per_round": float(row["sum"]) * WHOLE_ROUND / int(row["holes"]),
        }
        for (day, round_id), row in sums.tail(last).iterrows()
    ]
