"""A player in a coach's list: the latest rounds in a line, and whether they show a change."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Final, NamedTuple, TypedDict

import numpy as np

from server.analysis.evidence.course_allowance import NOTHING, Allowance, allowance_of_rounds
from server.analysis.evidence.intervals import DEFAULT_LEVEL, Codes, Flags, Floats, ratio_intervals
from server.analysis.evidence.recent import LEAST_ROUNDS, recent_trend, weights_of_halves
from server.analysis.evidence.round_lengths import FULL_ROUND
from server.analysis.evidence.rows import Trend
from server.analysis.evidence.tallies import Tally
from server.records.typed_schemas import Day
from server.store.players import Player
from server.store.rows import LatestNote, LatestRound


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


class RecentPart(TypedDict):
    """A part of the game over the latest rounds that count, of the ball of record."""

    part: Annotated[str, "long_game, short_game or putting"]
    per_round: Annotated[float, "strokes gained for 18 holes"]
    low: Annotated[float | None, "of the 90 % interval; null below two rounds"]
    high: float | None


class ListedPlayer(TypedDict):
    """A player in a coach's list."""

    player_id: str
    name: str
    plays: Annotated[str, "right or left"]
    rounds: Annotated[int | None, "rounds that count; null where strokes gained are left out"]
    short_rounds: Annotated[int | None, "rounds too short to count"]
    last_round: Annotated[LastRound | None, "null without a round"]
    locked: Annotated[str | None, "why strokes gained are left out"]
    recent: Annotated[list[RecentRound], "earliest first"]
    trend: Annotated[Trend, "its words say why where there are no strokes gained"]
    parts: Annotated[list[RecentPart], "of the latest rounds; empty where there are no strokes gained"]
    last_note: Annotated[LatestNote | None, "null without one, and while locked"]


PARTS: Final = {
    "long_game": ("off_the_tee", "approach", "long_game"),
    "short_game": ("around_the_green", "short_game"),
    "putting": ("putting",),
}
"""The parts of the list, and the categories of either scheme that make them up."""


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


class Rounds(NamedTuple):
    """A player's rounds as a list shows them: the latest one, and how many have a shot of any ball."""

    latest: LatestRound | None
    begun: int


def rounds_of(listed: Sequence[LatestRound]) -> Rounds:
    """The same out of all rounds of the player, latest first."""
    return Rounds(listed[0] if listed else None, sum(one["shots"] > 0 for one in listed))


def listed_player(
    player: Player, rounds: Rounds, tally: Tally | None, last: int, *, lock: str | None, lacking: str | None = None
) -> ListedPlayer:
    """A player's line, with the latest `last` of the rounds that count.

    `tally`: of all their rounds, None while locked or lacking; `lock`, `lacking`: why there are no strokes gained. The
    last note is put in by who lists: it is no part of the log.
    """
    counting = np.zeros(0, dtype=np.bool_) if tally is None else tally.chosen()
    recent: list[RecentRound] = [] if tally is None else _recent(tally, counting, last)
    parts = [] if tally is None or not recent else _parts(tally, np.flatnonzero(counting)[-last:])
    strokes, holes = (np.array([one[name] for one in recent], dtype=np.float64) for name in ("strokes_gained", "holes"))
    courses = NOTHING if tally is None or len(recent) < 2 * LEAST_ROUNDS else _courses(tally, counting, holes)
    trend = recent_trend(strokes, holes, DEFAULT_LEVEL, courses)
    count = int(counting.sum())
    return {
        "player_id": player.player_id,
        "name": player.name,
        "plays": player.plays,
        "rounds": None if tally is None else count,
        "short_rounds": None if tally is None else rounds.begun - count,
        "last_round": None if rounds.latest is None else _round(rounds.latest),
        "locked": lock,
        "recent": recent,
        "trend": trend if lacking is None else {**trend, "words": lacking},
        "parts": parts,
        "last_note": None,
    }


def _round(round_: LatestRound) -> LastRound:
    return {
        "round_id": round_["round_id"],
        "kind": round_["kind"],
        "course": round_["course"],
        "closed": round_["closed"],
        "shots": round_["shots"],
        "played_on": round_["played_on"].isoformat(),
    }


def _courses(tally: Tally, counting: Flags, holes: Floats) -> Allowance:
    """What the courses played may add to the later half of the latest rounds beside the earlier half. `holes`: of the
    latest rounds."""
    parts = tally.lengths[counting]
    weights = np.zeros(parts.size)
    weights[parts.size - holes.size :] = weights_of_halves(holes)
    return allowance_of_rounds(tally.places(counting), parts, tally.by_round()[counting], weights)


def _parts(tally: Tally, places: Codes) -> list[RecentPart]:
    """Strokes gained for 18 holes of each part of the game over some rounds, with intervals by round. `places`:
    of the rounds in the tally."""
    strokes = np.zeros((len(PARTS), places.size))
    for part, categories in enumerate(PARTS.values()):
        for category in categories:
            if category in tally.categories:
                strokes[part] += tally.by_round(category)[places]
    lengths = np.tile(tally.lengths[places], (len(PARTS), 1))
    found = ratio_intervals(strokes, lengths, DEFAULT_LEVEL)
    return [
        {
            "part": part,
            "per_round": float(found.mean[place]),
            "low": None if np.isnan(found.low[place]) else float(found.low[place]),
            "high": None if np.isnan(found.high[place]) else float(found.high[place]),
        }
        for place, part in enumerate(PARTS)
    ]


def _recent(tally: Tally, counting: Flags, last: int) -> list[RecentRound]:
    """The latest rounds that count, earliest first."""
    shots = np.bincount(tally.round_, weights=tally.shots.sum(axis=1), minlength=tally.day.size)
    strokes, days = tally.by_round(), tally.day.astype("datetime64[D]")
    return [
        {
            "round_id": str(tally.ids[place]),
            "played_on": str(days[place]),
            "strokes_gained": float(strokes[place]),
            "shots": int(shots[place]),
            "holes": int(tally.holes[place]),
            "per_round": float(strokes[place]) * FULL_ROUND / int(tally.holes[place]),
        }
        for place in np.flatnonzero(counting)[-last:]
    ]
