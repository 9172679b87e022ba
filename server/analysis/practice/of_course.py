"""Patterns and the ladder of both sources: the course's figures, and where rounds do not give one yet, practice's.

What has no interval of its own (quantiles, ellipses, groups, the robust fit, the single finishes) is of the course
alone: of practice it would show nothing of the next shot on the course.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.patterns.club_patterns import pattern, patterns
from server.analysis.patterns.rows import Direction, FigureRow, GroupPattern, Pattern
from server.analysis.patterns.spread import Figure
from server.analysis.practice.pooling import LOG, LOGIT, PLAIN, Scale, pooled, proportional, shift_of

DIRECTIONS: Final = ("right", "long", "offline_deg")
SHARES: Final = ("short", "long", "left", "right")
Key = tuple[str, str, str]


def figure(row: FigureRow) -> Figure:
    """The figure of a row."""
    return Figure(row["value"], row["low"], row["high"], row["n"])


def patterns_of_both(
    course: pd.DataFrame, practice: pd.DataFrame, split: str = "club", *, singles: bool = False
) -> list[Pattern]:
    """The patterns of the course, with practice where rounds do not give a figure yet.

    `course`: as `finishes` returns it, `practice`: as `practice_finishes`. `split`, `singles`: as in `patterns`.
    ValueError for another `split`.
    """
    found = {_key(row): row for row in patterns(course, split, singles=singles)}
    beside = {_key(row): row for row in patterns(practice, split)}
    empty = course.iloc[:0]
    for key, row in beside.items():
        if key not in found:
            club, swing, group = key
            bare = pattern(empty, singles=singles)
            found[key] = {"club": club, "swing": swing, "split": split, "group": group, **bare}
            found[key]["target_yd"] = row["target_yd"]
    shifts = {name: _shifts(found, beside, of) for name, of in _FIGURES.items()}
    made = {key: _of_both(key, row, beside.get(key), shifts) for key, row in found.items()}
    reach = {key[0]: row["target_yd"] or 0.0 for key, row in made.items() if key[1] == "full"}
    return sorted(
        made.values(), key=lambda row: (-reach.get(row["club"], 0.0), row["club"], row["swing"], row["group"])
    )


def _key(row: Pattern) -> Key:
    return row["club"], row["swing"], row["group"]


Reader = Callable[[GroupPattern], tuple[Figure, Scale]]


def _of_direction(name: str, part: str) -> Reader:
    def read(row: GroupPattern) -> tuple[Figure, Scale]:
        direction: Direction = row[name]  # type: ignore[literal-required]
        row_figure: FigureRow = direction[part]  # type: ignore[literal-required]
        size = row["target_yd"] or 0.0
        centre = PLAIN if name == "offline_deg" or size <= 0 else proportional(size)
        return figure(row_figure), LOG if part == "spread" else centre

    return read


def _of_share(name: str) -> Reader:
    def read(row: GroupPattern) -> tuple[Figure, Scale]:
        return figure(row["shares"][name]), LOGIT  # type: ignore[literal-required]

    return read


_FIGURES: Final[dict[tuple[str, str], Reader]] = {
    (name, part): _of_direction(name, part) for name in DIRECTIONS for part in ("centre", "spread")
} | {("shares", name): _of_share(name) for name in SHARES}


def _shifts(found: Mapping[Key, Pattern], beside: Mapping[Key, Pattern], read: Reader) -> dict[Key, float]:
    """Practice less course of one figure, of every pattern for which both give it."""
    shifts = {}
    for key, row in beside.items():
        course, scale = read(found[key])
        shift = shift_of(course, read(row)[0], scale)
        if shift is not None:
            shifts[key] = shift
    return shifts


def _others(shifts: Mapping[Key, float], key: Key) -> list[float]:
    """One shift a club, of the other clubs with the same kind of swing: where one is split, the mean of its parts."""
    clubs: dict[str, list[float]] = {}
    for other, shift in shifts.items():
        if other[0] != key[0] and other[1] == key[1]:
            clubs.setdefault(other[0], []).append(shift)
    return [float(np.mean(parts)) for parts in clubs.values()]


def _of_both(
    key: Key, row: Pattern, practice: Pattern | None, shifts: Mapping[tuple[str, str], Mapping[Key, float]]
) -> Pattern:
    if practice is None:
        return row
    made: Pattern = {**row, "shares": {**row["shares"]}, "warnings": list(row["warnings"])}
    leaned = False
    for (name, part), read in _FIGURES.items():
        course, scale = read(row)
        both = pooled(course, read(practice)[0], _others(shifts[name, part], key), scale)
        leaned |= both is not course
        if name == "shares":
            made["shares"][part] = both.as_dict()  # type: ignore[literal-required]
        else:
            made[name] = {**made[name], part: both.as_dict()}  # type: ignore[literal-required]
    balls = f"{practice['shots']} practice ball{'' if practice['shots'] == 1 else 's'}"
    if leaned:
        words = "fill in what the rounds not clear yet, allowing for how practice differs with the other clubs"
        made["warnings"].append(f"{balls} {words}")
    return made


def pooled_medians(course: Mapping[str, Figure], practice: Mapping[str, Figure]) -> dict[str, Figure]:
    """How far each club goes, by club: the course's median, else practice's with the shifts of the other clubs. Clubs
    for which neither gives a length on the course have practice's median without an interval."""
    none = Figure(None, None, None, 0)
    shifts = {club: shift_of(course.get(club, none), practised, LOG) for club, practised in practice.items()}
    made = dict(course)
    for club, practised in practice.items():
        own = course.get(club, none)
        others: Sequence[float] = [shift for name, shift in shifts.items() if name != club and shift is not None]
        found = pooled(own, practised, others, LOG)
        made[club] = Figure(practised.value, None, None, practised.n) if found.value is None else found
    return made
