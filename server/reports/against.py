"""A player beside the squad or the field, as a document for people and programs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Annotated, Final, TypedDict

from server.analysis.evidence.against_others import (
    BETTER,
    CANNOT_SAY,
    NOT_SEPARATED,
    PERHAPS_BETTER,
    PERHAPS_WORSE,
    WORSE,
    Entered,
    against_parts,
    few_others,
)
from server.analysis.evidence.rows import AgainstPart
from server.analysis.evidence.tallies import TOTAL
from server.analysis.expected_strokes.baseline import Baseline
from server.game import numbers
from server.questions.question import Span
from server.questions.ranked import FEW, LOCKED, UnrankedPlayer
from server.questions.squads import LEAST_UNREAD, Member, of_the_field
from server.reports.heading import BaselineNamed, OfPlayer

SQUAD: Final = "squad"
FIELD: Final = "field"
REFERENCES: Final = (SQUAD, FIELD)
LEAST_OTHERS: Final = {SQUAD: 2, FIELD: 5}
"""Players beside the one asked about below whom there is no mean to be beside; of two players the pair is asked. Stated
choices."""


class AgainstDocument(OfPlayer):
    """A player beside the mean of others, none of the player's own shots in it. Strokes for 18 holes, unrounded."""

    reference: Annotated[str, "squad or field"]
    baseline: BaselineNamed
    level: Annotated[float, "chance that an interval contains the true figure, one row at a time"]
    rounds: Annotated[int, "of the player, that count and have a course"]
    others: Annotated[int, "players whose mean it is"]
    rounds_of_others: int
    courses: Annotated[int, "taken out"]
    least_others: Annotated[int, "below which nothing is stated"]
    parts: Annotated[list[AgainstPart], "all strokes, then the categories"]
    left_out: Annotated[list[UnrankedPlayer], "of a squad; the field names nobody"]
    lacking: Annotated[str | None, "why there is no figure"]
    words: str


class Asking(TypedDict):
    """What is asked: which reference, against which baseline, at which level, in which rounds."""

    reference: str
    baseline: Baseline
    level: float
    span: Span


def against_document(
    player: Member, others: Sequence[Member], asking: Asking, may_read: Callable[[str], bool]
) -> AgainstDocument:
    """The player beside the mean of the others. `others`: whoever may be in the reference, locked ones too; of the
    field those whom the caller may not read (`may_read`) as well. ValueError for a level outside its range, or a player
    who is locked."""
    if player.tally is None:
        raise ValueError(f"player: {player.player.name} is locked")
    reference, span = asking["reference"], asking["span"]
    # of the field all rounds: see `squads`
    within = span if reference == SQUAD else Span()
    entered = [(one, _entered(one, within)) for one in others]
    fit = {one.player.player_id: found for one, found in entered if found is not None and found.enough}
    if reference == FIELD:
        counted = of_the_field([one for one, _ in entered], may_read, lambda one: one.player.player_id in fit)
        fit = {one.player.player_id: fit[one.player.player_id] for one in counted}
    mine = _entered(player, span)
    assert mine is not None
    found = against_parts(mine, list(fit.values()), LEAST_OTHERS[reference], asking["level"])
    lacking = found.lacking
    if reference == FIELD and lacking == few_others(len(fit), LEAST_OTHERS[FIELD]):
        lacking = FEW_IN_THE_FIELD
    left_out: list[UnrankedPlayer] = [
        {"player_id": one.player.player_id, "name": one.player.name, "why": LOCKED if one.tally is None else FEW}
        for one, _ in entered
        if reference == SQUAD and one.player.player_id not in fit
    ]
    document: AgainstDocument = {
        "player": player.player.name,
        "player_id": player.player.player_id,
        "reference": reference,
        "baseline": {"id": asking["baseline"].id, "version": asking["baseline"].version},
        "level": asking["level"],
        "rounds": mine.rounds,
        # a number below the least would single somebody out
        "others": len(fit) if reference == SQUAD or lacking is None else 0,
        "rounds_of_others": sum(one.rounds for one in fit.values()) if reference == SQUAD or lacking is None else 0,
        "courses": 0 if lacking else found.courses,
        "least_others": LEAST_OTHERS[reference],
        "parts": [{**part, "lacking": lacking} if lacking else part for part in found.parts],
        "left_out": left_out,
        "lacking": lacking,
        "words": "",
    }
    return {**document, "words": _words(document)}


FEW_IN_THE_FIELD: Final = (
    f"the field has too few players with rounds to be shown: {LEAST_OTHERS[FIELD]} at least, and {LEAST_UNREAD} at "
    "least of those you cannot see one by one"
)


def part_words(part: str) -> str:
    """A part of the game in words."""
    return "all strokes" if part == TOTAL else part.replace("_", " ")


def _entered(member: Member, span: Span) -> Entered | None:
    tally = member.tally
    return None if tally is None else Entered(tally, tally.chosen(span.first, span.last, span.kinds))


def _words(document: AgainstDocument) -> str:
    """What is clear, what is not, and how it was judged."""
    named, reference = document["player"], document["reference"]
    if document["lacking"]:
        return f"{named} cannot be compared with the {reference}: {document['lacking']}."
    whose = f"the mean of {document['others']} others of the {reference}"
    total = document["parts"][0]
    sentences = []
    if total["difference"] is not None and total["low"] is not None and total["high"] is not None:
        ends = f"{numbers.signed(total['low'], 1)} to {numbers.signed(total['high'], 1)}"
        sentences.append(
            f"{named} compared with {whose}: {numbers.signed(total['difference'], 1)} strokes gained a round in all "
            f"({100 * document['level']:g} % interval {ends})."
        )
    for verdict in (BETTER, WORSE, PERHAPS_BETTER, PERHAPS_WORSE):
        parts = [part_words(one["part"]) for one in document["parts"] if one["verdict"] == verdict]
        if parts:
            unsure = "" if verdict in (BETTER, WORSE) else ", not clear enough"
            sentences.append(f"{verdict.capitalize()} than that mean{unsure}: {', '.join(parts)}.")
    judged = [one for one in document["parts"] if one["verdict"] != CANNOT_SAY]
    unclear = [part_words(one["part"]) for one in judged if one["verdict"] == NOT_SEPARATED]
    if unclear:
        where = " in anything" if len(unclear) == len(judged) else f": {', '.join(unclear)}"
        sentences.append(f"Not separated from it{where}.")
    return " ".join(sentences or [f"{named} cannot be compared with the {reference}."])
