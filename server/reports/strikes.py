"""The document on what the player tells of shots: strike, planned height and planned shape, and what each costs."""

from __future__ import annotations

from typing import Annotated, Final

from server.analysis.patterns.rows import ToldClub, ToldOfAll
from server.analysis.patterns.strikes import told_by_club, told_of_all
from server.questions.question import Chosen
from server.records.shot_fields import BY_NAME
from server.reports.heading import Heading, heading

FIELDS: Final = {name: BY_NAME[name].one_of for name in ("strike", "planned_height", "planned_shape")}
"""The fields that are told, with their values in order."""

CAUTION: Final = (
    "A strike recorded only after bad shots looks more frequent and more costly than it is: record it for "
    "every shot, or for none. By chance alone one line in ten that costs nothing stands out at 90 %."
)


class StrikesDocument(Heading):
    """Strike, planned height and planned shape by club: how often, and what each costs in yards and strokes."""

    told: Annotated[list[ToldOfAll], "of all clubs asked for"]
    clubs: Annotated[list[ToldClub], "longest club first; those of which nothing was told are left out"]
    caution: str


def strikes_document(chosen: Chosen, *, club: str | None = None) -> StrikesDocument:
    """What the player told of the shots of all clubs, or of one. LookupError, naming the clubs there are, for one that
    the player does not have. Yards and strokes are the value less what it is held against."""
    chosen.known_club(club)
    valued = chosen.valued
    if club is not None:
        valued = valued[valued["club"].astype("object").eq(club).to_numpy(dtype=bool)]
    return {
        **heading(chosen),
        "told": told_of_all(valued, FIELDS),
        "clubs": told_by_club(valued, FIELDS, chosen.level),
        "caution": CAUTION,
    }
