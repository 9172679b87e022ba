"""Documents for people and programs: the summary of a selection, the scorecard of a round."""

from __future__ import annotations

from typing import Annotated, Any, Final, TypedDict, cast

import pandas as pd

from server.analysis.evidence.rows import MonthTrend
from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.lengths.rows import ShotLengths
from server.analysis.lengths.strokes_moved import shot_lengths
from server.analysis.strokes_gained.attribution import BASES
from server.analysis.strokes_gained.rows import SummaryRow, SummaryTotal
from server.analysis.strokes_gained.scorecard import hole_scores
from server.analysis.strokes_gained.summaries import Summary, summarise
from server.analysis.strokes_gained.summary_intervals import COLUMNS
from server.game.closings import is_complete, opened_again
from server.game.numbers import signed
from server.game.order_of_play import COMPETITION
from server.game.units import METRE, YARD
from server.questions.question import Chosen
from server.reports.heading import BaselineNamed, Heading, heading
from server.reports.scorecard_rows import Closing, OpenedAgain, RoundProblem, Scorecard, ScorecardHole
from server.store.players import Player
from server.store.rows import HoleRow, RoundRow, RoundWithHoles

MONTH: Final = "month"
CATEGORY: Final = "category"
NOT_FINISHED: Final = "not holed: picked up or not finished"


class IncompleteHole(TypedDict):
    """A hole whose score or strokes gained are not whole."""

    round_id: str
    round: Annotated[str, "day, course and kind"]
    hole: int
    reason: str


class Beside(TypedDict):
    """The same shots by a second reference: the player's own baseline, or the usual one beside that."""

    baseline: BaselineNamed
    own: Annotated[bool, "this reference is the player's own baseline"]
    total: SummaryTotal
    words: Annotated[str, "a sentence"]


class SummaryDocument(Heading):
    """Strokes gained by one grouping. Strokes, unrounded."""

    by: str
    rows: Annotated[list[SummaryRow], "best first; months in order of time"]
    total: SummaryTotal
    trend: Annotated[MonthTrend | None, "by month alone"]
    incomplete: list[IncompleteHole]
    beside: Annotated[Beside | None, "null where the player has no baseline of their own"]
    lengths: Annotated[ShotLengths | None, "how lengths were taken and what errors would move; by category alone"]


def summary_document(
    chosen: Chosen,
    by: str,
    *,
    balls: str | None = None,
    only: pd.Series | None = None,
    beside: Chosen | None = None,
) -> SummaryDocument:
    """Strokes gained of a player's shots by one grouping, best first, with the total and what is incomplete.

    `beside`: the same shots by the second reference. `only` and ValueError as in `summarise`.
    """
    summary = summarise(chosen.valued, by, balls, level=chosen.level, only=only)
    second = None if beside is None else summarise(beside.valued, by, balls, level=beside.level, only=only).total
    return {
        **heading(chosen),
        "by": by,
        "rows": _rows(summary, chosen.valued),
        "total": summary.total,
        "trend": _trend(_told(chosen.valued, only), chosen.level) if by == MONTH else None,
        "incomplete": incomplete_holes(chosen.valued),
        "beside": None if beside is None or second is None else _beside(beside, second),
        "lengths": _lengths(chosen) if by == CATEGORY and only is None else None,
    }


def _lengths(chosen: Chosen) -> ShotLengths:
    unit = METRE if chosen.player.units == "metres" else YARD
    return shot_lengths(chosen.valued, chosen.baseline, unit, chosen.level)


def _trend(valued: pd.DataFrame, level: float) -> MonthTrend:
    """The trend over months, whose model brings libraries that no other summary needs: loaded when it is asked for."""
    from server.analysis.evidence.month_trend import month_trend  # noqa: PLC0415

    return month_trend(valued, level)


def _beside(chosen: Chosen, total: SummaryTotal) -> Beside:
    baseline = chosen.baseline
    own = baseline.about.about.get("players") == [chosen.player.player_id]
    whose = f"{'the own baseline' if own else 'the baseline'} {baseline.id} {baseline.version}"
    mean, low, high = total["per_round"], total["per_round_low"], total["per_round_high"]
    stated = "too few rounds to say" if mean is None else f"{signed(mean, 2)} a round"
    if mean is not None and low is not None and high is not None:
        stated += f" ({signed(low, 2)} to {signed(high, 2)})"
    return {
        "baseline": {"id": baseline.id, "version": baseline.version},
        "own": own,
        "total": total,
        "words": f"By {whose}: {stated}{', near 0 over the rounds it was made from' if own else ''}.",
    }


def _told(valued: pd.DataFrame, only: pd.Series | None) -> pd.DataFrame:
    """The shots with a value only where they are told of: every round still counts, with what they gained in it."""
    if only is None:
        return valued
    gained = valued["strokes_gained"].where(only | valued["strokes_gained"].isna(), 0.0)
    return valued.assign(strokes_gained=gained)


def _rows(summary: Summary, valued: pd.DataFrame) -> list[SummaryRow]:
    rows: list[dict[str, object]] = summary.rows.to_dict("records")
    for row in rows:
        row |= {name: None for name in COLUMNS if name in row and pd.isna(row[name])}
        row[summary.by] = _plain(row[summary.by])
    if summary.by == "round":
        names = round_names(valued)
        heads = [{"round": names[str(row["round"])], "round_id": row.pop("round")} for row in rows]
        rows = [{**head, **row} for head, row in zip(heads, rows, strict=True)]
    if summary.by == MONTH:
        rows.sort(key=lambda row: str(row[MONTH]))
    return cast(list[SummaryRow], rows)


def _plain(value: Any) -> Any:
    return value if isinstance(value, str | int) else getattr(value, "item", lambda: str(value))()


def round_names(valued: pd.DataFrame) -> dict[str, str]:
    """Round id -> "day course kind"."""
    once = valued.drop_duplicates("round_id")
    return {
        row.round_id: " ".join(str(word) for word in (row.played_on.date(), row.course, row.kind) if pd.notna(word))
        for row in once[["round_id", "played_on", "course", "kind"]].itertuples(index=False)
    }


def incomplete_holes(valued: pd.DataFrame) -> list[IncompleteHole]:
    """Holes whose score or strokes gained are not whole, each with the reason."""
    scores = hole_scores(valued)
    lacking = scores[~scores["complete"] | scores["unvalued"].gt(0)]
    if lacking.empty:
        return []
    names = round_names(valued)
    reasons = _reasons(valued)
    return [
        {
            "round_id": round_id,
            "round": names[round_id],
            "hole": int(hole),
            "reason": reasons.get((round_id, int(hole)), NOT_FINISHED),
        }
        for round_id, hole in lacking.index
    ]


def _reasons(valued: pd.DataFrame) -> dict[tuple[str, int], str]:
    """Why the first shot without a value of each hole's ball of record has none."""
    lacking = valued[valued["ball"].eq(1) & valued["strokes_gained"].isna()]
    first = lacking.sort_values("order").drop_duplicates(["round_id", "hole"])
    rows = first[["round_id", "hole", "order", "basis"]].itertuples(index=False)
    return {(row.round_id, int(row.hole)): f"shot {row.order}: {BASES[row.basis]}" for row in rows}


def scorecard_document(
    player: Player,
    round_: RoundWithHoles,
    valued: pd.DataFrame,
    baseline: Baseline,
    problems: list[RoundProblem],
    lock: str | None,
) -> Scorecard:
    """The scorecard of one round: every hole that the round defines, its score where complete, strokes gained, totals.

    `lock`: why strokes gained are left out (`server.questions.competition_lock`), so that the card holds the score
    alone, or None.
    """
    locked = lock is not None
    scores = hole_scores(valued)
    holes = [_hole(hole, scores, round_["round_id"], locked) for hole in round_["holes"]]
    played = [(hole["par"], hole["score"]) for hole in holes if hole["score"] is not None]
    score = sum(strokes for _, strokes in played)
    par = sum(each for each, _ in played)
    begun = sum(hole["shots"] > 0 for hole in holes)
    complete = is_complete(len(holes), begun, len(played), round_["holes_meant"])
    gained = [hole["strokes_gained"] for hole in holes if hole["strokes_gained"] is not None]
    return {
        "player": player.name,
        "round_id": round_["round_id"],
        "played_on": round_["played_on"].isoformat(),
        "kind": round_["kind"],
        "course": round_["course"],
        "tees": round_["tees"],
        "closed": round_["closed"],
        "closings": closings_shown(round_),
        "opened_again": opened_again_words(round_),
        "holes_meant": round_["holes_meant"],
        "stopped": round_["stopped"],
        "baseline": {"id": baseline.id, "version": baseline.version},
        "holes": holes,
        "total": {
            "par": par if complete else sum(hole["par"] for hole in holes),
            "score": score if complete else None,
            "score_of_complete_holes": score,
            "to_par": score - par,
            "holes_complete": len(played),
            "complete": complete,
            "strokes_gained": sum(gained) if gained else None,
        },
        "locked": lock,
        "problems": problems,
    }


OPENED_AGAIN: Final = (
    "This competition round was finished and reopened: strokes gained, evidence and plans could be seen in between "
    "(Rules of Golf, rule 4.3a)."
)


def closings_shown(round_: RoundRow) -> list[Closing]:
    """The closings without what a device may have noted besides."""
    return [{"closed_at": one["closed_at"], "reopened_at": one["reopened_at"]} for one in round_["closings"]]


def opened_again_words(round_: RoundRow) -> OpenedAgain | None:
    """What a competition round that was opened again says of it; None for other rounds."""
    between = opened_again(round_["closed"], round_["closings"])
    if round_["kind"] != COMPETITION or not between:
        return None
    return {"words": OPENED_AGAIN, "between": between}


def _hole(hole: HoleRow, scores: pd.DataFrame, round_id: str, locked: bool) -> ScorecardHole:
    found: ScorecardHole = {
        "number": hole["number"],
        "par": hole["par"],
        "length_yd": hole["length_yd"],
        "shots": 0,
        "score": None,
        "to_par": None,
        "putts": None,
        "penalty_strokes": None,
        "strokes_gained": None,
        "unvalued": 0,
        "complete": False,
    }
    if (round_id, hole["number"]) not in scores.index:
        return found
    row = scores.loc[(round_id, hole["number"])]
    score = int(row["strokes"])
    complete = bool(row["complete"])
    valued_any = row["unvalued"] < score - row["penalty_strokes"]
    return {
        **found,
        "shots": score - int(row["penalty_strokes"]),
        "score": score if complete else None,
        "to_par": score - hole["par"] if complete else None,
        "putts": int(row["putts"]),
        "penalty_strokes": int(row["penalty_strokes"]),
        "strokes_gained": float(row["strokes_gained"]) if valued_any and not locked else None,
        "unvalued": int(row["unvalued"]),
        "complete": complete,
    }
