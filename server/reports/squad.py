"""A player in a coach's list: the latest rounds in a line, and whether they tell of a change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypedDict

import numpy as np
import pandas as pd

from server.analysis.evidence.course_allowance import NOTHING, Allowance, allowance
from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.evidence.recent import LEAST_ROUNDS, recent_trend, weights_of_halves
from server.analysis.evidence.round_lengths import WHOLE_ROUND, RoundLengths, round_lengths
from server.analysis.evidence.rows import Trend
from server.records.typed_schemas import Day
from server.store.players import Player
from server.store.rows import ListedRound


class LastRound(TypedDict):
    """The latest round."""

    round_id: str
    played_on: Day
    kind: str
    course: str | None
    closed: bool
    shots: int


class RecentRound(TypedDict):
    """One of the latest rounds that count, of the ball of record."""

    round_id: str
    played_on: Day
    strokes_gained: float
    shots: Annotated[int, "with a value"]
    holes: Annotated[int, "with a value"]
    per_round: Annotated[float, "strokes gained for 18 holes"]


class ListedPlayer(TypedDict):
    """A player in a coach's list."""

    player_id: str
    name: str
    plays: Annotated[str, "right or left"]
    rounds: Annotated[int | None, "rounds that count; null where there are no strokes gained to tell"]
    short_rounds: Annotated[int | None, "rounds too short to count"]
    last_round: Annotated[LastRound | None, "null without a round"]
    locked: Annotated[str | None, "why strokes gained are left out"]
    recent: Annotated[list[RecentRound], "earliest first"]
    trend: Annotated[Trend, "its words say why where there are no strokes gained"]


class SquadDocument(TypedDict):
    """The players that may be read, a page of them."""

    players: list[ListedPlayer]
    next: Annotated[str | None, "the address of the next page"]


class SetupChoice(TypedDict):
    """A setup as a query names it."""

    setup: Annotated[str, "such as driver@2026-06-22"]
    club: str
    since: Day
    note: str


class Choices(TypedDict):
    """What a player's shots can be filtered by."""

    first_day: Annotated[Day | None, "the first with a round"]
    last_day: Day | None
    days: Annotated[list[Day], "of rounds"]
    courses: list[str]
    kinds: list[str]
    clubs: list[str]
    setups: list[SetupChoice]
    balls: Annotated[list[str], "labels of the balls that rounds were played with, the latest used first"]


def listed_player(
    player: Player,
    rounds: Sequence[ListedRound],
    valued: pd.DataFrame | None,
    last: int,
    *,
    lock: str | None,
    lacking: str | None = None,
) -> ListedPlayer:
    """A player's line, with the latest `last` of the rounds that count.

    `rounds`: all of the player, latest first; `valued`: all their shots, None while locked or lacking; `lock`,
    `lacking`: why there are no strokes gained.
    """
    latest = rounds[0] if rounds else None
    lengths = None if valued is None else round_lengths(valued)
    recent: list[RecentRound] = []
    courses = NOTHING
    if valued is not None and lengths is not None:
        sums = _sums(valued, lengths)
        recent = _recent(sums, last)
        courses = _courses(valued, lengths, sums, recent)
    strokes, holes = (np.array([one[name] for one in recent], dtype=np.float64) for name in ("strokes_gained", "holes"))
    trend = recent_trend(strokes, holes, DEFAULT_LEVEL, courses)
    return {
        "player_id": player.player_id,
        "name": player.name,
        "plays": player.plays,
        "rounds": None if lengths is None else lengths.rounds,
        "short_rounds": None if lengths is None else lengths.short,
        "last_round": None if latest is None else _round(latest),
        "locked": lock,
        "recent": recent,
        "trend": trend if lacking is None else {**trend, "words": lacking},
    }


def _round(round_: ListedRound) -> LastRound:
    return {
        "round_id": round_["round_id"],
        "kind": round_["kind"],
        "course": round_["course"],
        "closed": round_["closed"],
        "shots": round_["shots"],
        "played_on": round_["played_on"].isoformat(),
    }


def _sums(valued: pd.DataFrame, lengths: RoundLengths) -> pd.DataFrame:
    """Strokes gained, shots and holes of the ball of record by day and round, earliest first."""
    of_record = valued["ball"].eq(1) & valued["strokes_gained"].notna()
    counted = valued[of_record.to_numpy(dtype=bool) & (lengths.places(valued["round_id"]) >= 0)]
    groups = counted.groupby(["played_on", counted["round_id"].astype("object")], sort=True)
    found: pd.DataFrame = groups.agg(
        sum=("strokes_gained", "sum"), size=("strokes_gained", "size"), holes=("hole", "nunique")
    )
    return found


def _courses(
    valued: pd.DataFrame, lengths: RoundLengths, sums: pd.DataFrame, recent: Sequence[RecentRound]
) -> Allowance:
    """What the courses played may add to the later half of the latest rounds beside the earlier half."""
    if len(recent) < 2 * LEAST_ROUNDS:
        return NOTHING
    strokes = sums["sum"].droplevel(0).reindex(lengths.holes.index)
    holes = np.array([one["holes"] for one in recent], dtype=np.float64)
    weights = pd.Series(weights_of_halves(holes), index=[one["round_id"] for one in recent])
    weights = weights.reindex(lengths.holes.index, fill_value=0.0)
    return allowance(valued, lengths, strokes.to_numpy(dtype=np.float64), weights.to_numpy(dtype=np.float64))


def _recent(sums: pd.DataFrame, last: int) -> list[RecentRound]:
    """The latest rounds that count, earliest first."""
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
