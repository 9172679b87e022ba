"""Rounds with their scores, putts and strokes gained by category, as a document."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, TypedDict

import pandas as pd

from server.analysis.evidence.round_lengths import round_lengths
from server.analysis.strokes_gained.scorecard import hole_scores
from server.questions.question import Chosen
from server.records.typed_schemas import Day
from server.reports.heading import Heading, heading
from server.store.rows import ListedRound


class RoundSums(TypedDict):
    """What a round sums to, of the ball of record."""

    holes: Annotated[int, "with a shot"]
    complete: Annotated[int, "holed out"]
    score: Annotated[int | None, "over the complete holes; null without one"]
    par: Annotated[int | None, "of the complete holes"]
    to_par: int | None
    putts: int
    penalty_strokes: int
    strokes_gained: Annotated[float | None, "null where no shot has a value"]
    categories: Annotated[dict[str, float], "strokes gained by category"]


class ScoredRound(RoundSums):
    """A round with its score."""

    round_id: str
    played_on: Day
    kind: str
    course: str | None
    tees: str | None


class ScoreMeans(TypedDict):
    """Means of the rounds of 18 complete holes."""

    rounds: int
    score: float
    to_par: float
    putts: float
    penalty_strokes: float


class Scores(Heading):
    """Rounds that count, with their scores."""

    rounds: Annotated[list[ScoredRound], "latest first"]
    short_rounds: Annotated[int, "rounds too short to count"]
    means: Annotated[ScoreMeans | None, "null without a round of 18 complete holes"]


def scores_document(chosen: Chosen, rounds: Sequence[ListedRound]) -> Scores:
    """The rounds that were asked for and count (`round_lengths`), latest first, each with its score,
    and their means.

    `rounds`: as `server.store.players.rounds` lists them, latest first; those without a chosen shot are left out.
    All of the ball of record.
    """
    scores = hole_scores(chosen.valued)
    lengths = round_lengths(chosen.valued)
    reported = {
        round_id: one for round_id, one in _by_round(chosen.valued, scores).items() if round_id in lengths.holes
    }
    found: list[ScoredRound] = [
        {
            "round_id": round_["round_id"],
            "kind": round_["kind"],
            "course": round_["course"],
            "tees": round_["tees"],
            "played_on": round_["played_on"].isoformat(),
            **reported[round_["round_id"]],
        }
        for round_ in rounds
        if round_["round_id"] in reported
    ]
    return {**heading(chosen), "rounds": found, "short_rounds": lengths.short, "means": _means(found)}


def _by_round(valued: pd.DataFrame, scores: pd.DataFrame) -> dict[str, RoundSums]:
    """Round id -> its sums."""
    pars = valued.drop_duplicates(["round_id", "hole"]).set_index(["round_id", "hole"])["par"]
    holes = scores.assign(par=[pars.get(place) for place in scores.index])
    gained = valued[valued["ball"].eq(1) & valued["strokes_gained"].notna()]
    groups = gained.groupby([gained["round_id"].astype("object"), gained["category"].astype("object")])
    categories: dict[str, dict[str, float]] = {}
    for (round_id, category), strokes in groups["strokes_gained"].sum().items():
        categories.setdefault(str(round_id), {})[str(category)] = float(strokes)
    found: dict[str, RoundSums] = {}
    for round_id, part in holes.groupby(level="round_id"):
        complete = part[part["complete"]]
        mine = categories.get(str(round_id), {})
        found[str(round_id)] = {
            "holes": len(part),
            "complete": len(complete),
            "score": int(complete["strokes"].sum()) if len(complete) else None,
            "par": _integer_or_none(complete["par"].sum()) if len(complete) else None,
            "to_par": _integer_or_none(complete["strokes"].sum() - complete["par"].sum()) if len(complete) else None,
            "putts": int(part["putts"].sum()),
            "penalty_strokes": int(part["penalty_strokes"].sum()),
            "strokes_gained": float(sum(mine.values())) if mine else None,
            "categories": mine,
        }
    return found


def _integer_or_none(value: Any) -> int | None:
    return None if pd.isna(value) else int(value)


def _means(rounds: list[ScoredRound]) -> ScoreMeans | None:
    """Means of the rounds with 18 complete holes: others would flatter or shame by their length."""
    complete = [
        (round_["score"], round_["to_par"], round_["putts"], round_["penalty_strokes"])
        for round_ in rounds
        if round_["complete"] == 18 and round_["score"] is not None and round_["to_par"] is not None
    ]
    if not complete:
        return None
    score, to_par, putts, penalty_strokes = (sum(column) / len(complete) for column in zip(*complete, strict=True))
    return {
        "rounds": len(complete),
        "score": score,
        "to_par": to_par,
        "putts": putts,
        "penalty_strokes": penalty_strokes,
    }
