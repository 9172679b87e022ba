"""Rounds with their scores, putts and strokes gained by category, as a document."""

from __future__ import annotations

from typing import Any

import pandas as pd

from server.analysis.evidence.round_lengths import round_lengths
from server.analysis.strokes_gained.scorecard import hole_scores
from server.questions.question import Chosen
from server.reports.heading import heading


def scores_document(chosen: Chosen, rounds: list[dict[str, Any]]) -> dict[str, Any]:
    """The rounds that were asked for and count (`round_lengths`), latest first, each with its score,
    and their means.

    `rounds`: as `server.store.players.rounds` lists them, latest first; those without a chosen shot are left out.
    Keys: heading, rounds (round_id, played_on, kind, course, tees, holes: with a shot, complete: holed out holes, score
    and to_par: over complete holes, par: of those holes, putts, penalty_strokes, strokes_gained, categories: category
    -> strokes gained, null where no shot has a value), short_rounds (how many are too short to count) and means
    (rounds: of 18 complete holes, score, to_par, putts, penalty_strokes; null without one). All of the ball of record.
    """
    scores = hole_scores(chosen.valued)
    lengths = round_lengths(chosen.valued)
    told = {round_id: one for round_id, one in _by_round(chosen.valued, scores).items() if round_id in lengths.holes}
    found = [
        {name: round_[name] for name in ("round_id", "kind", "course", "tees")}
        | {"played_on": round_["played_on"].isoformat()}
        | told[round_["round_id"]]
        for round_ in rounds
        if round_["round_id"] in told
    ]
    return heading(chosen) | {"rounds": found, "short_rounds": lengths.short, "means": _means(found)}


def _by_round(valued: pd.DataFrame, scores: pd.DataFrame) -> dict[str, dict[str, Any]]:
    """Round id -> its sums."""
    pars = valued.drop_duplicates(["round_id", "hole"]).set_index(["round_id", "hole"])["par"]
    holes = scores.assign(par=[pars.get(place) for place in scores.index])
    gained = valued[valued["ball"].eq(1) & valued["strokes_gained"].notna()]
    groups = gained.groupby([gained["round_id"].astype("object"), gained["category"].astype("object")])
    categories: dict[str, dict[str, float]] = {}
    for (round_id, category), strokes in groups["strokes_gained"].sum().items():
        categories.setdefault(str(round_id), {})[str(category)] = float(strokes)
    found = {}
    for round_id, part in holes.groupby(level="round_id"):
        whole = part[part["complete"]]
        mine = categories.get(str(round_id), {})
        found[str(round_id)] = {
            "holes": len(part),
            "complete": len(whole),
            "score": int(whole["strokes"].sum()) if len(whole) else None,
            "par": _whole(whole["par"].sum()) if len(whole) else None,
            "to_par": _whole(whole["strokes"].sum() - whole["par"].sum()) if len(whole) else None,
            "putts": int(part["putts"].sum()),
            "penalty_strokes": int(part["penalty_strokes"].sum()),
            "strokes_gained": float(sum(mine.values())) if mine else None,
            "categories": mine,
        }
    return found


def _whole(value: Any) -> int | None:
    return None if pd.isna(value) else int(value)


def _means(rounds: list[dict[str, Any]]) -> dict[str, Any] | None:
    """Means of the rounds with 18 complete holes: others would flatter or shame by their length."""
    whole = [round_ for round_ in rounds if round_["complete"] == 18 and round_["to_par"] is not None]
    if not whole:
        return None
    names = ("score", "to_par", "putts", "penalty_strokes")
    return {"rounds": len(whole)} | {name: sum(one[name] for one in whole) / len(whole) for name in names}
