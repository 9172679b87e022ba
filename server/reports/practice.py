"""Practice beside the course, and targets for the next session, as documents."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Annotated, Final

from server.analysis.patterns.distances import distances
from server.analysis.patterns.finishes import finishes
from server.analysis.patterns.full_swings import full_swings
from server.analysis.practice.balls import practice_finishes, practice_full_swings, practice_putts
from server.analysis.practice.differences import club_differences, putting_difference
from server.analysis.practice.rows import PracticeClub, PracticePutting
from server.analysis.practice.targets import Target, Where, candidates, targets
from server.analysis.putting.putts import putts_of
from server.analysis.strokes_gained.summaries import BANDS_YD, summarise
from server.game.practice import BOTH
from server.questions.question import Chosen
from server.reports.heading import Heading, heading
from server.reports.patterns import practised_swings
from server.reports.practice_source import MadeOf, made_of, nothing_chosen, practised

MOST_LOSING: Final = 3
"""Bands of distance that lose strokes, of which targets are drawn more often. A choice of this tool."""
MOST_TARGETS: Final = 200
LARGEST_SEED: Final = 2**31 - 1

PRACTICE_CAUTION: Final = (
    "Range balls, mats, wind and the day make practice differ from the course. A difference is what these balls did; "
    "the cause is not known."
)


class PracticeAgainstCourse(Heading, MadeOf):
    """How practice differs from the course; intervals by sessions and rounds."""

    club: Annotated[str | None, "the club asked for"]
    clubs: Annotated[list[PracticeClub], "full swings, longest club first"]
    putting: PracticePutting
    caution: str


class PracticeTargets(Heading, MadeOf):
    """Targets for a session, the same on every device with the same log and seed."""

    seed: int
    targets: list[Target]
    losing: Annotated[list[str], "bands of distance that lose most strokes"]
    lacking: Annotated[str | None, "why there is no target"]


def practice_against_course(chosen: Chosen, club: str | None = None) -> PracticeAgainstCourse:
    """Practice less course, club by club and for putts. LookupError for a club that the player does not have."""
    club = chosen.known_club(club)
    balls = practised(chosen)
    rows = club_differences(
        finishes(chosen.valued),
        full_swings(chosen.valued),
        practice_finishes(balls),
        practice_full_swings(balls),
        chosen.level,
    )
    return {
        **heading(chosen),
        **made_of(chosen),
        "empty": nothing_chosen(chosen),
        "club": club,
        "clubs": [row for row in rows if club in (None, row["club"])],
        "putting": putting_difference(putts_of(chosen.valued, club), practice_putts(balls, club), chosen.level),
        "caution": PRACTICE_CAUTION,
    }


def practice_targets(chosen: Chosen, seed: int, count: int) -> PracticeTargets:
    """`count` targets out of the ladder of rounds and practice, the gaps in it and the distances that lose strokes."""
    ladder = distances(full_swings(chosen.valued), practice=practised_swings(replace(chosen, source=BOTH)))
    losing = _losing(chosen)
    among = candidates(ladder, [band for _, band in losing])
    lacking = None if among else "No club's distance is known yet: record full swings on the course or on the range."
    return {
        **heading(chosen),
        **made_of(chosen),
        "empty": nothing_chosen(chosen),
        "seed": seed,
        "targets": targets(among, seed, count),
        "losing": [name for name, _ in losing],
        "lacking": lacking,
    }


def _losing(chosen: Chosen) -> list[tuple[str, Where]]:
    """The bands of distance, off the green and within reach of a club, that lose most strokes a round."""
    swings = full_swings(chosen.valued)["along_yd"]
    reach = float(swings.quantile(0.9)) if len(swings) else 0.0
    bands = {f"over {near:g} to {far:g} yd": (float(near), float(far)) for near, far in pairwise(BANDS_YD)}
    rows = [
        (float(row["per_round"]), str(row["distance"]))
        for row in summarise(chosen.valued, "distance").rows.to_dict("records")
        if row["per_round"] < 0 and str(row["distance"]) in bands
    ]
    within = [(name, bands[name]) for _, name in sorted(rows) if bands[name][1] <= reach]
    return within[:MOST_LOSING]
