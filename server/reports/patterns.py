"""Documents on patterns, shapes and distances of a player's clubs."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Final

from server.analysis.patterns.air import Air
from server.analysis.patterns.club_patterns import patterns
from server.analysis.patterns.distances import GAP_YD, OVERLAP, distances
from server.analysis.patterns.finishes import finishes
from server.analysis.patterns.full_swings import full_swings
from server.analysis.patterns.rows import Ladder, Pattern, PlannedShape
from server.analysis.patterns.shapes import shapes
from server.questions.question import Chosen
from server.reports.heading import OfPlayer, empty_words

Days = tuple[()] | tuple[date | None, date | None]

CAUTION: Final = (
    "A pattern is what these shots did on their days: wind and firmness change distances. It is evidence to talk over, "
    "not advice from a licensed coach."
)


class PatternsDocument(OfPlayer):
    """Patterns and shapes of a player's clubs."""

    empty: Annotated[str | None, "a sentence where the days asked for hold no shot"]
    split: str
    level: Annotated[float, "of every interval"]
    patterns: Annotated[list[Pattern], "longest club first"]
    shapes: list[PlannedShape]
    caution: str


class DistancesDocument(Ladder, OfPlayer):
    """The distance ladder of a player; yards."""

    empty: Annotated[str | None, "a sentence where the days asked for hold no shot"]
    level: Annotated[float, "of every interval"]


def patterns_document(chosen: Chosen, *, split: str, club: str | None) -> PatternsDocument:
    """Patterns and shapes of all clubs or one. LookupError names the clubs there are when `club` has no finish.

    The single finishes are listed of one club alone: those of a whole bag are many, and no picture shows them at once.
    Yards right and long are positive; intervals at 90 %.
    """
    known = finishes(chosen.valued)
    if club is not None:
        labels = sorted({str(label) for label in known["club"]})
        if club not in labels:
            raise LookupError(f"there is no finish of {club!r}; there is {', '.join(labels) or 'none of any club'}")
        known = known[known["club"].eq(club)]
    return {
        "player": chosen.player.name,
        "player_id": chosen.player.player_id,
        "empty": empty_words(chosen.valued, chosen.from_day, chosen.to_day),
        "split": split,
        "level": 0.9,
        "patterns": patterns(known, split, singles=club is not None),
        "shapes": shapes(known),
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
    ladder = distances(full_swings(chosen.valued), gap_yd=gap_yd, overlap=overlap, air=air, on_trial=chosen.on_trial)
    player, empty = chosen.player, empty_words(chosen.valued, chosen.from_day, chosen.to_day)
    return {"player": player.name, "player_id": player.player_id, "empty": empty, "level": 0.9, **ladder}
