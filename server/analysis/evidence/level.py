"""A player's level adjusted for courses and days: which truth an interval holds.

Strokes gained are measured against a table that knows lie and distance, not how hard a course is. So a mean over rounds
is about the courses they were played on. There are two levels:

- this season's: the mean over the courses played, each as often as it was. Courses are fixed, the interval is about
  the days (`mixed_model`).
- the lasting one: on an average course, of which those played are a sample (`course_model`). With four courses that
  differ it is far wider, and it is the one to compare players or years by.

Rounds without a course count in neither. Where tees have ratings (`course_ratings`), a course is expected at its
rating, and the lasting level is that on a course as hard for its length as the mean of the rated ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import chain
from typing import Final, NamedTuple, cast

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.linalg import null_space

from server.analysis.evidence.conditions import CONDITIONS, condition_values
from server.analysis.evidence.course_model import NO_SPREAD, Averaged, Figure, averaged, intervals
from server.analysis.evidence.course_ratings import NONE, Ratings
from server.analysis.evidence.intervals import ALIKE, DEFAULT_LEVEL, Codes, Flags, Floats, checked_level
from server.analysis.evidence.mixed_model import fit
from server.analysis.evidence.round_lengths import (
    LEAST_HOLES,
    RoundLengths,
    RoundsOfMany,
    has_hole,
    rounds_of_many,
)
from server.analysis.evidence.rows import CourseLevel, Level, LevelFigure
from server.game.numbers import signed

SEASON: Final = "these courses in this span, each as often as it was played"
RATED: Final = "lasting, on a course as hard for its length as the mean of the rated ones"
LASTING: Final = "lasting, on an average course; the courses played are a sample of courses"

NO_COURSE: Final = "no round that counts has a course"
ONE_COURSE: Final = "all rounds are on one course: its difficulty cannot be separated from the player's level"
ONE_DAY: Final = "all rounds are on one day: the day cannot be separated from the player"
ONE_EACH: Final = "one round on each course: a course cannot be separated from a day"
ONE_DAY_EACH: Final = "each course was played on one day: a course cannot be separated from a day"
FEW: Final = "too few rounds: at least three are needed"
DAYS_UNKNOWN: Final = "too few days with a second round: how far days differ cannot be separated from how far rounds do"

LEAST_ROUNDS: Final = 3
NO_DIFFERENCE: Final = 1e-9
"""Between weights of days, at most 1 for each round of a day: what rounding leaves."""
MONTH_DAYS: Final = 30.436875
"""365.2425 / 12."""


class RoundPlaces(NamedTuple):
    """Where and when each round that counts was played, in the order of `RoundLengths.holes`. `course`: its name, None
    without one; `tees`: their name, None where unknown; `day`: days since 1970; each shape (rounds,). `conditions`: as
    `condition_values` gives them, shape (rounds, 3); None where nothing is known."""

    course: npt.NDArray[np.object_]
    tees: npt.NDArray[np.object_]
    day: npt.NDArray[np.int64]
    conditions: Floats | None = None

    def taken(self, which: Flags | slice) -> RoundPlaces:
        """Some of the rounds."""
        known = None if self.conditions is None else self.conditions[which]
        return RoundPlaces(self.course[which], self.tees[which], self.day[which], known)


class Rates(NamedTuple):
    """Rounds with a course: strokes gained for 18 holes, length as a part of 18 holes, codes of course and day, months
    since the first of them; shape (rounds,). `names`: of the courses; `tees`: of each round, None where unknown;
    `conditions`: as `condition_values` gives them, None where nothing is known."""

    strokes: Floats
    parts: Floats
    course: Codes
    day: Codes
    month: Floats
    names: list[str]
    tees: list[str | None]
    conditions: Floats | None = None


OF_ROUNDS: Final = ("course", "played_on", "tees", *(condition.name for condition in CONDITIONS))
"""The columns of shots that say where and when a round was played, and how it was there."""


def round_places(valued: pd.DataFrame, lengths: RoundLengths) -> RoundPlaces:
    """Course and day of each round that counts. `valued`: as `attribute` returns it, with `course`, `played_on` where
    they are known; without `played_on` each round is a day of its own."""
    asked = [name for name in ("round_id", *OF_ROUNDS) if name in valued]
    first = valued[asked].drop_duplicates("round_id").set_index("round_id")
    first = first.set_axis(first.index.astype("object")).reindex(lengths.holes.index)
    return _places_of(first)


def _places_of(first: pd.DataFrame) -> RoundPlaces:
    """Course and day of each round, out of a shot of each."""
    day = np.arange(len(first))
    if "played_on" in first:
        day = first["played_on"].to_numpy(dtype="datetime64[D]").astype(np.int64)
    return RoundPlaces(_names(first, "course"), _names(first, "tees"), day, condition_values(first))


def _names(first: pd.DataFrame, column: str) -> npt.NDArray[np.object_]:
    """A column of names, None where there is none or no such column."""
    names = np.full(len(first), None, dtype=object)
    if column in first:
        known = first[column].notna().to_numpy(dtype=bool)
        names[known] = first[column].to_numpy(dtype=object)[known]
    return names


def round_rates(valued: pd.DataFrame, category: str | None = None) -> tuple[Rates, int]:
    """The rates of rounds with a course, by all strokes gained or by those of one category, and how many that count
    have no course."""
    round_, alone = pd.factorize(valued["round_id"])[0], np.zeros(len(valued), dtype=np.int64)
    lengths = rounds_of_many(alone, round_, valued["hole"].to_numpy(dtype=np.int64), has_hole(valued), 1)
    return rates_of_many(valued, alone, lengths, category)[0]


def rates_of_many(
    valued: pd.DataFrame, owner: Codes, lengths: RoundsOfMany, category: str | None = None
) -> list[tuple[Rates, int]]:
    """The same of several players, by place. `owner`: the place of each shot's player, ascending, shape (shots,);
    `lengths`: as `rounds_of_many` finds them."""
    players, most = lengths.holes.shape
    counts = lengths.counting >= 0
    cell = owner * most + lengths.counting
    mine = counts & has_hole(valued)
    if category is not None:
        mine &= valued["category"].astype("object").eq(category).to_numpy(dtype=bool)
    gained = valued["strokes_gained"].to_numpy(dtype=np.float64)[mine]
    strokes = np.bincount(cell[mine], weights=gained, minlength=players * most).astype(np.float64)
    first = np.zeros(players * most, dtype=np.int64)
    first[cell[counts][::-1]] = np.flatnonzero(counts)[::-1]
    there = lengths.holes > 0
    asked = [name for name in OF_ROUNDS if name in valued]
    places = _places_of(valued[asked].iloc[first[there.ravel()]])
    ends = np.cumsum([0, *there.sum(axis=1)])
    strokes, parts = strokes[there.ravel()], lengths.parts[there]
    rows = [slice(*ends[place : place + 2]) for place in range(players)]
    return [rates_of(strokes[mine], parts[mine], places.taken(mine)) for mine in rows]


def rates_of(strokes: Floats, parts: Floats, places: RoundPlaces) -> tuple[Rates, int]:
    """Rates out of sums: `strokes`, `parts` of rounds in the order of `places`; rounds of no length are left out. With
    them the number of rounds without a course. Courses are numbered in the order in which they come in `places`."""
    codes, names = pd.factorize(places.course)
    has_course = codes >= 0
    taken = (parts > 0) & has_course
    used, course = np.unique(codes[taken], return_inverse=True)
    _, tees, played_on, conditions = places.taken(taken)
    days, day = np.unique(played_on, return_inverse=True)
    month = (days[day] - days.min(initial=np.iinfo(np.int64).max)) / MONTH_DAYS
    gained = strokes[taken] / parts[taken]
    rates = Rates(gained, parts[taken], course, day, month, [*names[used]], [*tees], conditions)
    return rates, int(((parts > 0) & ~has_course).sum())


def level_of(valued: pd.DataFrame, level: float = DEFAULT_LEVEL, ratings: Ratings = NONE) -> Level:
    """The player's level this season and lasting, in strokes gained for 18 holes.

    `valued`: a frame that `attribute` returned, with `course`, `tees` and `played_on`. ValueError for a level outside
    its range.
    """
    return stated_level(*round_rates(valued), level, ratings)


def stated_level(rates: Rates, without_course: int, level: float = DEFAULT_LEVEL, ratings: Ratings = NONE) -> Level:
    """The same out of rounds. `without_course`: how many were left out."""
    checked_level(level)
    rounds, courses = rates.strokes.size, len(rates.names)
    fitted = _fitted(rates, ratings)
    season = _season(rates, level, fitted.inseparable)
    lasting = _figure(RATED if fitted.hard.any() else LASTING, fitted.found, level, fitted.lacking)
    return {
        "rounds": rounds,
        "days": fitted.days,
        "without_course": without_course,
        "season": season,
        "lasting": lasting,
        "course_sd": fitted.found.course_sd if fitted.found is not None and fitted.separable else None,
        "courses": _courses([fitted], level)[0],
        "ratings_ignored": ratings.absurd,
        "words": _words(season, lasting, (rounds, courses, without_course), level, ratings.absurd),
    }


def courses_of_many(players: Iterable[tuple[Rates, Ratings]], level: float = DEFAULT_LEVEL) -> list[list[CourseLevel]]:
    """The courses of several players as `stated_level` tells them, hardest first, by player. ValueError for a level
    outside its range."""
    checked_level(level)
    return _courses([_fitted(rates, ratings) for rates, ratings in players], level)


class _Fitted(NamedTuple):
    """A player's rounds with courses as random. `days`: how many; `hard`: as `hardness_of` gives it; `inseparable`: why
    courses cannot be separated from days, or nothing be said at all; `lacking`: why there is no lasting level, and
    `found` is None."""

    rates: Rates
    days: int
    hard: Floats
    inseparable: str | None
    lacking: str | None
    found: Averaged | None

    @property
    def separable(self) -> bool:
        """Whether courses can be separated from days."""
        return self.found is not None and self.inseparable is None


def _inseparable(rates: Rates) -> str | None:
    """Why courses cannot be separated from days; None where they can: no two days of a course show what a day is."""
    rounds, courses = rates.strokes.size, len(rates.names)
    if rounds == courses:
        return ONE_EACH
    days = np.unique(np.column_stack([rates.course, rates.day]), axis=0)
    if days.shape[0] == courses:
        return ONE_DAY_EACH
    return DAYS_UNKNOWN if int(rates.day.max()) + 1 < rounds and not _days_known(rates) else None


def _days_known(rates: Rates) -> bool:
    """Whether what the courses leave of the rounds shows how far days differ: it does where days weigh more in some
    contrasts of the rounds than in others. Where they weigh the same in all, the restricted likelihood depends on the
    sum of both variances alone."""
    root = np.sqrt(rates.parts)[:, None]
    contrasts = null_space((root * (rates.course[:, None] == np.arange(len(rates.names)))).T)
    days = contrasts.T @ (root * (rates.day[:, None] == np.arange(rates.day.max() + 1)))
    return bool(np.ptp(np.linalg.eigvalsh(days @ days.T)) > NO_DIFFERENCE)


def _fitted(rates: Rates, ratings: Ratings) -> _Fitted:
    rounds, courses = rates.strokes.size, len(rates.names)
    days = int(rates.day.max()) + 1 if rounds else 0
    unsaid = NO_COURSE if not rounds else FEW if rounds < LEAST_ROUNDS else ONE_DAY if days == 1 else None
    hard = hardness_of(rates, ratings)
    found = None if unsaid or courses < 2 else averaged(rates.strokes + hard, _ones(rates), *rates[2:4], rates.parts)
    lacking = unsaid or (ONE_COURSE if courses < 2 else ALIKE if found is None else None)
    return _Fitted(rates, days, hard, unsaid or _inseparable(rates), lacking, found)


def hardness_of(rates: Rates, ratings: Ratings) -> Floats:
    """What the rating of each round's tees adds to them, 0 where there is none, shape (rounds,)."""
    if not ratings.hardness:
        return np.zeros(rates.strokes.size)
    where = zip(rates.course, rates.tees, strict=True)
    found = [ratings.hardness.get((rates.names[code], name or ""), 0.0) for code, name in where]
    return np.array(found, dtype=np.float64)


def _ones(rates: Rates) -> Floats:
    return np.ones((rates.strokes.size, 1))


def _season(rates: Rates, level: float, lacking: str | None) -> LevelFigure:
    """The mean over the courses as played; days are what varies."""
    blank: LevelFigure = {"mean": None, "low": None, "high": None, "about": SEASON, "lacking": lacking}
    if lacking:
        return blank
    courses = len(rates.names)
    design = (rates.course[:, None] == np.arange(courses)).astype(np.float64)
    shares = np.bincount(rates.course, weights=rates.parts, minlength=courses) / rates.parts.sum()
    repeated = 1 < int(rates.day.max()) + 1 < rates.strokes.size
    fitted = fit(rates.strokes, design, [rates.day] if repeated else [], weights=rates.parts)
    if fitted.residual < NO_SPREAD**2:
        return {**blank, "lacking": ALIKE}
    found = fitted.contrast(shares)
    low, high = found.interval(level)
    return {**blank, "mean": found.estimate, "low": low, "high": high}


def _figure(about: str, found: Averaged | None, level: float, lacking: str | None) -> LevelFigure:
    if found is None or lacking:
        return {"mean": None, "low": None, "high": None, "about": about, "lacking": lacking}
    level_mean = found.contrast([1.0])
    low, high = level_mean.interval(level)
    return {"mean": level_mean.mean, "low": low, "high": high, "about": about, "lacking": None}


def _courses(players: Sequence[_Fitted], level: float) -> list[list[CourseLevel]]:
    """The courses of each player, hardest first; none where they cannot be separated from days."""
    figures = [
        [one.found.course(place) for place in range(len(one.rates.names))] if one.found and one.separable else []
        for one in players
    ]
    ends = iter(intervals(list(chain(*figures)), level).tolist())
    return [
        sorted(
            (_course(one, place, effect, next(ends)) for place, effect in enumerate(effects)),
            key=lambda row: row["effect"],
        )
        for one, effects in zip(players, figures, strict=True)
    ]


def _course(one: _Fitted, place: int, effect: Figure, ends: tuple[float, float]) -> CourseLevel:
    mine = one.rates.course == place
    less = float(np.average(one.hard[mine], weights=one.rates.parts[mine])) if one.hard.any() else 0.0
    told = {"effect": effect.mean - less, "low": ends[0] - less, "high": ends[1] - less}
    return cast(CourseLevel, {"course": one.rates.names[place], "rounds": int(mine.sum()), **told})


def _words(
    season: LevelFigure, lasting: LevelFigure, counts: tuple[int, int, int], level: float, absurd: list[str]
) -> str:
    """What can be stated, what cannot, and why."""
    rounds, courses, without = counts
    many = f"{rounds} rounds on {courses} courses" if courses != 1 else f"{rounds} rounds on one course"
    named = f"{100 * level:g} % interval"
    parts = []
    these = "On these courses" if courses > 1 else "On this course"
    for figure, words in ((season, these), (lasting, "In the long run, on an average course,")):
        if figure["mean"] is None or figure["low"] is None or figure["high"] is None:
            parts.append(f"{words} no result ({figure['lacking']}).")
        else:
            ends = f"{signed(figure['low'], 1)} to {signed(figure['high'], 1)}"
            parts.append(f"{words} {signed(figure['mean'], 1)} strokes gained a round ({named} {ends}).")
    if without:
        parts.append(f"Left out for want of a course: {without} of the rounds of {LEAST_HOLES} holes or more.")
    if lasting["about"] == RATED:
        parts.append("Courses are expected at their ratings.")
    if absurd:
        parts.append(f"Ratings too far from the others to be right are ignored: {'; '.join(absurd)}.")
    return " ".join([f"{many}.", *parts])
