"""The document on what the player records of shots: strike, planned height and planned shape, and what each costs."""

from __future__ import annotations

from typing import Annotated, Final

from server.analysis.patterns.rows import RecordedClub, RecordedOfAll
from server.analysis.patterns.strikes import recorded_by_club, recorded_of_all
from server.questions.question import Chosen
from server.records.shot_fields import BY_NAME
from server.reports.heading import Heading, heading

FIELDS: Final = {name: BY_NAME[name].one_of for name in ("strike", "planned_height", "planned_shape")}
"""The fields of a strike, with their values in order."""

CAUTION: Final = (
    "A strike recorded only after bad shots looks more frequent and more costly than it is: record it for "
    "every shot, or for none. By chance alone one line in ten that costs nothing stands out at 90 %."
)


class StrikesDocument(Heading):
    """Strike, planned height and planned shape by club: how often, and what each costs in yards and strokes."""

    told: Annotated[list[RecordedOfAll], "of all clubs asked for"]
    clubs: Annotated[list[RecordedClub], "longest club first; those without a record are left out"]
    caution: str


def strikes_document(chosen: Chosen, *, club: str | None = None) -> StrikesDocument:
    """What the player recorded of the shots of all clubs, or of one. LookupError names the clubs there are when the
    player does not have `club`. Yards and strokes are the value less what it is held against."""
    chosen.known_club(club)
    valued = chosen.valued
    if club is not None:
        valued = valued[valued["club"].astype("object").eq(club).to_numpy(dtype=bool)]
    return {
        **heading(chosen),
        "told": recorded_of_all(valued, FIELDS),
        "clubs": recorded_by_club(valued, FIELDS, chosen.level),
        "caution": CAUTION,
    }
