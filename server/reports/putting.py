"""Putting, part swings and priorities as documents for people and programs."""

from __future__ import annotations

from typing import Annotated

import pandas as pd

from server.analysis.evidence.priorities import priorities
from server.analysis.evidence.rows import PrioritiesFound
from server.analysis.evidence.trial_words import verdict
from server.analysis.patterns.part_swings import LEAST_FULL, part_swings, part_swings_of
from server.analysis.patterns.rows import PartSwings
from server.analysis.practice.balls import practice_full_swings, practice_part_swings, practice_putts
from server.analysis.practice.part_swings import part_swings_of_both
from server.analysis.putting.player_curve import LEAST_PUTTS
from server.analysis.putting.putters import compare_putters
from server.analysis.putting.putts import FAR_FT, putting_report, putts_of
from server.analysis.putting.rows import PutterComparison, PuttingReport
from server.game.numbers import plain
from server.game.practice import COURSE, PRACTICE
from server.questions.question import Chosen
from server.questions.sides import Side
from server.reports.heading import Heading, heading
from server.reports.practice_source import MadeOf, made_of, nothing_chosen, practised
from server.reports.trial import trial_of, verdict_row
from server.reports.trial_rows import TrialVerdict


class PutterPairError(ValueError):
    """Two putters that cannot be compared: one is missing, or both are the same."""


class PuttingDocument(Heading, PuttingReport, MadeOf):
    """Putting of a player or of one putter. Feet; shares 0 to 1."""

    club: Annotated[str | None, "the putter asked for"]
    comparison: Annotated[PutterComparison | None, "where another putter was named"]
    verdict: Annotated[TrialVerdict | None, "where another putter was named: that of their trial"]
    words: Annotated[list[str], "sentences"]


class PartSwingsDocument(Heading, PartSwings, MadeOf):
    """Part swings of a player or of one club."""

    club: Annotated[str | None, "the club asked for"]


class PrioritiesDocument(Heading, PrioritiesFound):
    """Where the strokes go."""


def putting_document(chosen: Chosen, club: str | None = None, against: str | None = None) -> PuttingDocument:
    """Putting of a player or of one putter, and with `against` two putters compared.

    LookupError for a club that the player does not have, PutterPairError for one against itself.
    """
    club, against = chosen.known_club(club), chosen.known_club(against)
    if against is not None and club is None:
        raise PutterPairError("name the club to compare as well")
    if against is not None and club == against:
        raise PutterPairError(f"{club!r} cannot be compared with itself")
    alone = chosen.source == PRACTICE
    practice = None if chosen.source == COURSE else practice_putts(practised(chosen), club)
    valued = chosen.valued.iloc[:0] if alone else chosen.valued
    found = putting_report(valued, club, chosen.level, practised=practice, practice_alone=alone)
    comparison, decided = None, None
    if club is not None and against is not None:
        sides = (putts_of(chosen.valued, club), putts_of(chosen.valued, against))
        comparison = compare_putters(*sides, (club, against), chosen.level)
        trial = trial_of(chosen, Side(club, club), Side(against, against))
        decided = verdict_row(verdict(trial, club, against, comparison))
    words = [*putting_words(found, chosen.level, practice=alone), *_practice_words(practice, alone)]
    if comparison and decided:
        words = [*words, decided["words"], comparison["words"]]
    return {
        **heading(chosen), **made_of(chosen), "empty": nothing_chosen(chosen), "club": club, **found,
        "comparison": comparison, "verdict": decided, "words": words,
    }  # fmt: skip


def _practice_words(putts: pd.DataFrame | None, alone: bool) -> list[str]:
    """What practice does to the answer, in sentences."""
    if putts is None or putts.empty:
        return []
    worth = float(putts["worth"].iloc[0])
    found = []
    if worth < 1:
        found.append(
            "Make-rates differ from session to session by more than chance: "
            f"{len(putts)} practice putts count as much as {plain(worth * len(putts), 0)} of one day."
        )
    if not alone and len(putts) >= LEAST_PUTTS:
        found.append(
            f"The curve is for the course and starts from {len(putts)} practice putts instead of the tour; "
            "all other figures are for the course only."
        )
    return found


def _feet(length: float | None) -> str:
    """7 and 7.5: a length in words has no empty decimal."""
    return "-" if length is None else f"{round(length, 1):g}"


def _half_interval(found: PuttingReport, level: float) -> str:
    low, high = found["half_low_ft"], found["half_high_ft"]
    if low is None or high is None:
        return ""
    return f" ({100 * level:g} % interval {_feet(low)} to {_feet(high)})"


def putting_words(found: PuttingReport, level: float, *, practice: bool = False) -> list[str]:
    """A putting report in plain sentences. `practice`: its putts are of practice sessions."""
    if found["lacking"] is not None:
        return [found["lacking"]]
    putts, where = ("practice putts", "session") if practice else ("putts", "round")
    eight = next(row for row in found["curve"] if row["feet"] == 8)
    percent = f"{100 * level:g} % interval {plain(100 * eight['low'], 0)} to {plain(100 * eight['high'], 0)}"
    words = [
        f"{found['putts']} {putts} in {found['rounds']} {where}{'' if found['rounds'] == 1 else 's'}. From 8 ft "
        f"you hole {plain(100 * eight['rate'], 0)} of 100 ({percent}); the tour holes {plain(100 * eight['tour'], 0)}."
    ]
    if found["half_ft"] is not None:
        words.append(
            f"You hole half your putts from {_feet(found['half_ft'])} ft{_half_interval(found, level)}; "
            f"tour players from {_feet(found['tour_half_ft'])} ft."
        )
    leaning = [row["feet"] for row in found["curve"] if row["leans_on_tour"]]
    if leaning:
        lengths = ", ".join(str(length) for length in leaning)
        words.append(f"Few putts were near {lengths} ft: there the curve is mostly the tour's.")
    three = found["three_putts"]
    low, high = three["low"], three["high"]
    if three["lacking"] is not None and not practice:
        words.append(f"Three putts: {three['lacking'][0].lower() + three['lacking'][1:]}")
    elif low is not None and high is not None:
        interval = f"{100 * level:g} % interval {100 * low:.1f} to {100 * high:.1f} %"
        words.append(f"Three putts or more on {three['three_putts']} of {three['holes']} holes ({interval}).")
    far = found["speed"]["far"]
    if far["median_ft"] is not None and far["close"] is not None:
        words.append(
            f"Misses from {FAR_FT:g} ft and more leave {far['median_ft']:.1f} ft (median); "
            f"{plain(100 * far['close'], 0)} of 100 stop within 3 ft."
        )
    reported = found["speed"]["told"]
    if reported:
        words.append(f"Of {reported} misses with a tapped finish {found['speed']['short']} stopped short.")
    return [*words, *found["lengths"]["words"]]


def part_swings_document(chosen: Chosen, club: str | None = None) -> PartSwingsDocument:
    """Part swings of a player or of one club. LookupError as above."""
    club = chosen.known_club(club)
    course_alone = chosen.source == COURSE
    found = part_swings(chosen.valued, club, chosen.level) if course_alone else _with_practice(chosen, club)
    return {**heading(chosen), **made_of(chosen), "empty": nothing_chosen(chosen), "club": club, **found}


def _with_practice(chosen: Chosen, club: str | None) -> PartSwings:
    """Part swings of practice, or of both: the course's, and practice's where the course has not enough data."""
    balls = practised(chosen)
    lengths = practice_full_swings(balls)
    full = {
        str(name): float(part.median())
        for name, part in lengths.groupby(lengths["club"].astype("object"))["along_yd"]
        if len(part) >= LEAST_FULL
    }
    practice = part_swings_of(practice_part_swings(balls, club), full, chosen.level)
    if chosen.source == PRACTICE:
        return practice
    return part_swings_of_both(part_swings(chosen.valued, club, chosen.level), practice, chosen.level)


def priorities_document(chosen: Chosen) -> PrioritiesDocument:
    """At most three priorities."""
    return {**heading(chosen), **priorities(chosen.valued, chosen.baseline.id, chosen.level)}
