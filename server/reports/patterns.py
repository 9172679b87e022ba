"""Documents on patterns, shapes and distances of a player's clubs."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from typing import Annotated, Final

import pandas as pd

from server.analysis.patterns.air import Air
from server.analysis.patterns.club_patterns import patterns
from server.analysis.patterns.distances import GAP_YD, OVERLAP, Practised, distances
from server.analysis.patterns.finishes import finishes
from server.analysis.patterns.full_swings import full_swings
from server.analysis.patterns.rows import Ladder, Pattern, PlannedShape
from server.analysis.patterns.shapes import shapes
from server.analysis.patterns.spread import Figure, median_figure, session_median
from server.analysis.practice.balls import practice_finishes, practice_full_swings
from server.analysis.practice.of_course import patterns_of_both, pooled_medians
from server.game.practice import BOTH, COURSE, PRACTICE
from server.questions.question import Chosen
from server.reports.heading import OfPlayer
from server.reports.practice_source import MadeOf, made_of, nothing_chosen, practised

Days = tuple[()] | tuple[date | None, date | None]

CAUTION: Final = (
    "A pattern is what these shots did on their days: wind and firmness change distances. It is evidence to talk over, "
    "not advice from a licensed coach."
)


class PatternsDocument(OfPlayer, MadeOf):
    """Patterns and shapes of a player's clubs."""

    empty: Annotated[str | None, "a sentence where the days asked for hold no shot"]
    split: str
    level: Annotated[float, "of every interval"]
    patterns: Annotated[list[Pattern], "longest club first"]
    shapes: list[PlannedShape]
    caution: str


class DistancesDocument(Ladder, OfPlayer, MadeOf):
    """The distance ladder of a player; yards."""

    empty: Annotated[str | None, "a sentence where the days asked for hold no shot"]
    level: Annotated[float, "of every interval"]


def patterns_document(chosen: Chosen, *, split: str, club: str | None) -> PatternsDocument:
    """Patterns and shapes of all clubs or one. LookupError names the clubs there are when `club` has no finish.

    The single finishes are listed of one club alone: those of a full bag are many, and no picture shows them at once.
    Yards right and long are positive; intervals at 90 %.
    """
    course = finishes(chosen.valued if chosen.source != PRACTICE else chosen.valued.iloc[:0])
    practice = None if chosen.source == COURSE else practice_finishes(practised(chosen))
    known = course if practice is None else practice if chosen.source == PRACTICE else None
    if club is not None:
        labels = sorted({str(label) for one in (course, practice) if one is not None for label in one["club"]})
        if club not in labels:
            raise LookupError(f"there is no finish of {club!r}; there is {', '.join(labels) or 'none of any club'}")
    singles = club is not None
    if practice is not None and known is None:
        # practice leans on the other clubs: the one asked for is taken out of all
        found = patterns_of_both(course, practice, split, singles=singles)
        found = [row for row in found if club is None or row["club"] == club]
    else:
        assert known is not None
        found = patterns(known if club is None else known[known["club"].eq(club)], split, singles=singles)
    shaped = practice if practice is not None and chosen.source == PRACTICE else course
    return {
        "player": chosen.player.name,
        "player_id": chosen.player.player_id,
        **made_of(chosen),
        "empty": nothing_chosen(chosen),
        "split": split,
        "level": 0.9,
        "patterns": found,
        "shapes": shapes(shaped if club is None else shaped[shaped["club"].eq(club)]),
        "caution": CAUTION,
    }


def distances_document(
    chosen: Chosen,
    *,
    gap_yd: float = GAP_YD,
    overlap: float = OVERLAP,
    air: Air | None = None,
) -> DistancesDocument:
    """The distance ladder of a player. ValueError for a setting outside its range."""
    swings = full_swings(chosen.valued)
    settled = partial(distances, gap_yd=gap_yd, overlap=overlap, air=air, on_trial=chosen.on_trial)
    if chosen.source == PRACTICE:
        practice = practice_full_swings(practised(chosen))
        ladder = settled(practice, median=session_median)
    else:
        filled_in = practised_swings(chosen) if chosen.source == BOTH else None
        ladder = settled(swings, practice=filled_in)
    player, empty = chosen.player, nothing_chosen(chosen)
    return {
        "player": player.name, "player_id": player.player_id, **made_of(chosen), "empty": empty, "level": 0.9, **ladder
    }  # fmt: skip


def practised_swings(chosen: Chosen) -> Practised:
    """What practice fills in of the ladder."""
    swings = full_swings(chosen.valued)
    practice = practice_full_swings(practised(chosen))

    def medians(frame: pd.DataFrame, make: Callable[[pd.Series, pd.Series], Figure]) -> dict[str, Figure]:
        groups = frame.groupby(frame["club"].astype("object"))
        return {str(club): make(part["along_yd"], part["round_id"]) for club, part in groups}

    return Practised(practice, pooled_medians(medians(swings, median_figure), medians(practice, session_median)))
