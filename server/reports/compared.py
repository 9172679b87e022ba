"""Two spans of days side by side as a document for people and programs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Final, NotRequired, TypedDict, cast

import pandas as pd

from server.analysis.evidence.adjusted_spans import verdict
from server.analysis.evidence.course_ratings import ratings_of
from server.analysis.evidence.rows import ConditionCost, SpanDifference
from server.analysis.evidence.two_spans import compare
from server.analysis.strokes_gained.rows import SummaryRow, SummaryTotal
from server.analysis.strokes_gained.summaries import Summary
from server.analysis.strokes_gained.summary_intervals import COLUMNS
from server.questions.question import Chosen
from server.reports.heading import BaselineNamed, Days, OfPlayer, heading
from server.store.rows import TeesRow

SIDE_BY_SIDE: Final = ("club", "category", "lie", "distance", "setup")
"""Groupings that two spans can have in common; rounds, months and holes they have not, or not for the same reason."""


class ComparedSpan(Days):
    """One of two spans of days."""

    rounds: int
    short_rounds: Annotated[int, "rounds too short to count"]
    shots: int


class ComparedRow(TypedDict):
    """A group in both spans. It has the key that it is grouped by, and no other one of them."""

    club: NotRequired[str]
    category: NotRequired[str]
    lie: NotRequired[str]
    distance: NotRequired[str]
    setup: NotRequired[str]
    first: Annotated[SummaryRow | None, "null without a shot"]
    second: Annotated[SummaryRow | None, "null without a shot"]
    difference: SpanDifference


class ComparedTotal(TypedDict):
    """All shots in both spans."""

    first: SummaryTotal
    second: SummaryTotal
    difference: SpanDifference


class Compared(OfPlayer):
    """Two spans of days side by side."""

    baseline: BaselineNamed
    by: str
    level: Annotated[float, "chance that an interval contains the true figure"]
    first: ComparedSpan
    second: ComparedSpan
    rows: list[ComparedRow]
    total: ComparedTotal
    groups: Annotated[int, "groups that have an interval"]
    clear: Annotated[int, "groups that differ beyond it"]
    groups_adjusted: Annotated[int, "groups that have one adjusted for courses and days"]
    clear_adjusted: Annotated[int, "groups that differ beyond that"]
    courses: Annotated[str, "on which courses the periods were played, and what follows"]
    conditions: Annotated[list[ConditionCost], "conditions that are taken out of the total's difference as well"]
    verdict: Annotated[
        str,
        "whether period 2 (from, to) was better than period 1 (beside_from, beside_to), adjusted for courses and days",
    ]
    words: str


def compared_document(
    first: Chosen,
    second: Chosen,
    by: str,
    *,
    balls: str | None = None,
    only: tuple[pd.Series | None, pd.Series | None] = (None, None),
    tees: Mapping[str, Sequence[TeesRow]] | None = None,
) -> Compared:
    """Strokes gained by one grouping in two spans, and first less second with its interval where it is sound.

    `tees`: of the player's courses, for their ratings. ValueError as `summarise`.
    """
    ratings = ratings_of(tees or {}, first.baseline)
    found = compare(first.valued, second.valued, by, balls, level=first.level, only=only, ratings=ratings)
    rows = [
        {by: row.group, "first": _plain(row.first), "second": _plain(row.second), "difference": row.difference}
        for row in found.rows
    ]
    reported = [(one["per_shot_low"], one["per_shot_high"]) for one in (row.difference for row in found.rows)]
    intervals = [(low, high) for low, high in reported if low is not None and high is not None]
    clear = sum(low > 0 or high < 0 for low, high in intervals)
    taken_out = [(one["adjusted_low"], one["adjusted_high"]) for one in (row.difference for row in found.rows)]
    adjusted = [(low, high) for low, high in taken_out if low is not None and high is not None]
    clear_adjusted = sum(low > 0 or high < 0 for low, high in adjusted)
    counts = (len(adjusted), clear_adjusted) if adjusted else (len(intervals), clear)
    head, total = heading(first), found.total
    empty = [words for words in (head["empty"], heading(second)["empty"]) if words]
    return {
        "player": head["player"],
        "player_id": head["player_id"],
        "baseline": head["baseline"],
        "by": by,
        "level": first.level,
        "first": _span(first, found.first),
        "second": _span(second, found.second),
        "rows": cast(list[ComparedRow], rows),
        "total": {"first": total.first, "second": total.second, "difference": total.difference},
        "groups": len(intervals),
        "clear": clear,
        "groups_adjusted": len(adjusted),
        "clear_adjusted": clear_adjusted,
        "courses": found.courses,
        "conditions": found.conditions,
        "verdict": verdict(total.difference, first.level),
        "words": " ".join(empty)
        or _words(*counts, first.level, adjusted=bool(adjusted), conditions=bool(found.conditions)),
    }


def _span(chosen: Chosen, summary: Summary) -> ComparedSpan:
    head = heading(chosen)
    return {
        "from": head["from"],
        "to": head["to"],
        "rounds": summary.total["rounds"],
        "short_rounds": summary.total["short_rounds"],
        "empty": head["empty"],
        "shots": summary.total["shots"],
    }


def _plain(row: Mapping[str, Any] | None) -> SummaryRow | None:
    """A row with null for what cannot be stated."""
    if row is None:
        return None
    floats = {name for name, value in row.items() if isinstance(value, float) or name in COLUMNS}
    return cast(SummaryRow, {**row, **{name: None for name in floats if pd.isna(row[name])}})


def _words(groups: int, clear: int, level: float, *, adjusted: bool, conditions: bool) -> str:
    """What the comparison shows, and how much of it is chance."""
    if not groups:
        return (
            "Nothing can be compared yet: each group needs 5 shots in 2 rounds of both periods, and no round in both."
        )
    chance = (1 - level) * groups
    many = (
        f"{clear} of {groups} groups differ{'s' if clear == 1 else ''}"
        if groups > 1
        else ("It differs" if clear else "It does not differ")
    )
    usual = f"; by chance alone about {chance:.1f} of {groups} would too" if groups > 1 else ""
    rest = "a round, adjusted for courses and days" if adjusted else "a shot, not adjusted for courses"
    also = "Weather and the season differ" if adjusted else "Courses, weather and the season differ"
    if adjusted and conditions:
        also = "The season differs"
    return f"{many} beyond the {100 * level:g} % interval {rest}{usual}. {also} as well."
