"""Two spans of days side by side as a document for people and programs."""

from __future__ import annotations

from typing import Any, Final

import pandas as pd

from server.analysis.evidence.two_spans import compare
from server.analysis.strokes_gained.summaries import Summary
from server.analysis.strokes_gained.summary_intervals import COLUMNS
from server.questions.question import Chosen
from server.reports.heading import heading

SIDE_BY_SIDE: Final = ("club", "category", "lie", "distance", "setup")
"""Groupings that two spans can have in common; rounds, months and holes they have not, or not for the same reason."""


def compared_document(
    first: Chosen,
    second: Chosen,
    by: str,
    *,
    balls: str | None = None,
    only: tuple[pd.Series | None, pd.Series | None] = (None, None),
) -> dict[str, Any]:
    """Strokes gained by one grouping in two spans, and first less second with its interval where it is sound.

    Keys: player, player_id, baseline, by, level, first and second (from, to, rounds, short_rounds: too short to count,
    empty: a sentence where there is no shot, shots), rows (the group, first and second: a row of the summary or null,
    difference: per_shot, per_round, their low and high, `lacking`, the reason where there is no interval, and
    `lacking_per_round`, where there is none by the round), total (the same of all shots), clear (how many groups differ
    beyond their interval), groups (how many have one) and words. ValueError as `summarise`.
    """
    found = compare(first.valued, second.valued, by, balls, level=first.level, only=only)
    rows = [
        {by: row[by]} | {name: _plain(row[name]) for name in ("first", "second", "difference")} for row in found.rows
    ]
    told = [row["difference"] for row in rows if row["difference"]["per_shot_low"] is not None]
    clear = sum(one["per_shot_low"] > 0 or one["per_shot_high"] < 0 for one in told)
    head = heading(first)
    empty = [words for words in (head["empty"], heading(second)["empty"]) if words]
    return {
        **{name: head[name] for name in ("player", "player_id", "baseline")},
        "by": by,
        "level": first.level,
        "first": _span(first, found.first),
        "second": _span(second, found.second),
        "rows": rows,
        "total": {name: _plain(part) for name, part in found.total.items()},
        "groups": len(told),
        "clear": clear,
        "words": " ".join(empty) or _words(len(told), clear, first.level),
    }


def _span(chosen: Chosen, summary: Summary) -> dict[str, Any]:
    head = heading(chosen)
    return {
        "from": head["from"],
        "to": head["to"],
        "rounds": summary.total["rounds"],
        "short_rounds": summary.total["short_rounds"],
        "empty": head["empty"],
        "shots": summary.total["shots"],
    }


def _plain(row: dict[str, Any] | None) -> dict[str, Any] | None:
    """A row with null for what cannot be said."""
    if row is None:
        return None
    floats = {name for name, value in row.items() if isinstance(value, float) or name in COLUMNS}
    return row | {name: None for name in floats if pd.isna(row[name])}


def _words(groups: int, clear: int, level: float) -> str:
    """What the comparison says, and how much of it is chance."""
    if not groups:
        return "Nothing can be compared yet: each group needs 5 shots in 2 rounds of both spans, and no round in both."
    chance = (1 - level) * groups
    many = f"{clear} of {groups} groups differ" if groups > 1 else ("It differs" if clear else "It does not differ")
    usual = f"; with nothing changed at all about {chance:.1f} of {groups} would too" if groups > 1 else ""
    return f"{many} beyond the {100 * level:g} % interval{usual}. Courses, weather and the season differ as well."
