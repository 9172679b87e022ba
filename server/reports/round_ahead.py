"""The predicted round, and the check of such forecasts against the rounds that were then played."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.plan.flight import USUAL_DAY, Day
from server.analysis.plan.hole_to_play import HoleToPlay
from server.analysis.round_ahead.checked import ROUNDS_BEFORE, RoundForecast, check_rounds
from server.analysis.round_ahead.counts import interval, mean_and_variance
from server.analysis.round_ahead.form import FULL_ROUND, Form, form_of
from server.analysis.round_ahead.playing import (
    NoClubError,
    PlayedRounds,
    Progress,
    chances_of,
    holes_ahead,
    known_of,
    past_of,
    played_rounds,
)
from server.analysis.round_ahead.score_ahead import score_ahead, unknown_of
from server.analysis.round_ahead.scoring import (
    BINS,
    COVERAGES,
    FEW,
    Forecast,
    band,
    covered,
    crps,
    histogram,
)
from server.game.numbers import signed
from server.reports.plan import CAUTION, PlanError, day_row, hole_to_play, tees_of
from server.reports.round_ahead_rows import (
    CoverageRow,
    ForecastScore,
    HoleChances,
    PredictedRound,
    RoundAheadDocument,
    RoundsCheckedDocument,
    ScoreChance,
    ScoreRange,
)
from server.store.players import Player
from server.store.rows import TeesRow

SHARES: Final = (0.5, 0.8)
MIDDLE: Final = 0.8
LEAST_LISTED: Final = 0.001
CLEAR: Final = 1.645
"""Standard errors beyond which model and naive forecast are called different: 90 %."""

Point = tuple[float, float]
Course = tuple[str, list[TeesRow]]
"""Name and tees."""


@dataclass(frozen=True)
class RoundAsked:
    """The round that is asked for: tees (the first unless named), the first and the last hole, `pins`: hole -> place on
    its map, the middle of the green for the rest, and the day."""

    tees: str | None = None
    first_hole: int | None = None
    last_hole: int | None = None
    pins: Mapping[int, Point] | None = None
    day: Day = USUAL_DAY


def round_to_play(
    course: Course, maps: Mapping[int, str], asked: RoundAsked
) -> tuple[str, list[HoleToPlay], list[int]]:
    """Name of the tees, the holes to be played that have a map, and the numbers of those that have none. PlanError for
    tees, holes or pins that are not there, and when no hole has a map."""
    name, all_tees = course
    tees, defined = tees_of(name, all_tees, asked.tees)
    first = asked.first_hole or min(defined)
    last = asked.last_hole or max(defined)
    if first > last:
        raise PlanError("first_hole", f"{first} is after the last hole, {last}")
    wanted = [number for number in sorted(defined) if first <= number <= last]
    if not wanted:
        raise PlanError("first_hole", f"{name} has no hole from {first} to {last}")
    mapped = [number for number in wanted if number in maps]
    unmapped = [number for number in wanted if number not in maps]
    if not mapped:
        raise PlanError("course_id", f"none of the holes {_numbers(wanted)} of {name} has a map")
    pins = asked.pins or {}
    for number in pins:
        if number not in mapped:
            raise PlanError("pin", f"hole {number} is not one of the holes with a map: {_numbers(mapped)}")
    holes = [hole_to_play(number, defined[number], maps[number], pins.get(number)) for number in mapped]
    return tees, holes, unmapped


def round_ahead_document(
    player: Player,
    valued: pd.DataFrame,
    baseline: Baseline,
    course: Course,
    maps: Mapping[int, str],
    asked: RoundAsked,
    *,
    progress: Progress | None = None,
) -> RoundAheadDocument:
    """The predicted round. `course`: name and tees; `maps`: hole -> features as text. PlanError names what is wrong;
    StoppedError as `progress` raises it."""
    tees, holes, unmapped = round_to_play(course, maps, asked)
    known = known_of(valued, baseline, player.plays)
    try:
        made = holes_ahead(known, holes, day=asked.day, progress=progress)
    except NoClubError as error:
        raise PlanError("player", str(error)) from error
    except ValueError as error:
        raise PlanError("course_id", str(error)) from error
    before = played_rounds(valued, course[0], [hole.number for hole in holes])
    form = form_of(past_of(known, made, holes, before))
    unknown = unknown_of(made, known.rounds)
    score = score_ahead(chances_of(made), form, unknown)
    mean, variance = mean_and_variance(score.round)
    part = len(holes) / FULL_ROUND
    independent = float(np.sqrt(sum(hole.variance for hole in made)))
    counts = len(before.rounds)
    return {
        "player": player.name,
        "player_id": player.player_id,
        "course": course[0],
        "tees": tees,
        "day": day_row(asked.day),
        "baseline": {"id": baseline.id, "version": baseline.version},
        "words": score_words(score.round, len(holes), len(holes) + len(unmapped)),
        "par": sum(hole.par for hole in holes),
        "mean": mean,
        "most_likely": int(np.argmax(score.round)),
        "ranges": [_range(score.round, share) for share in SHARES],
        "scores": _scores(score.round),
        "holes": [
            _hole(hole, one.club, one.solved, chances)
            for hole, one, chances in zip(holes, made, score.holes, strict=True)
        ],
        "unmapped": unmapped,
        "spread": {
            "holes": independent,
            "form": part * form.form_sd,
            "unknown": part * float(np.sqrt(unknown)),
            "whole": float(np.sqrt(variance)),
        },
        "rounds": counts,
        "beyond_plan": part * form.mean,
        "about": _about(counts, part, form, unmapped, before),
        "caution": CAUTION,
    }


def score_words(chances: np.ndarray, holes: int, of: int) -> str:
    """The round in one sentence."""
    low, high, _ = interval(chances, MIDDLE)
    over = "" if holes == of else f"Over {holes} of {of} holes, those with a map: "
    first = f"most likely {int(np.argmax(chances))}"
    if low == high:
        return f"{over}{first if over else first.capitalize()}; 8 rounds in 10 exactly that."
    return f"{over}{first if over else first.capitalize()}; 8 rounds in 10 between {low} and {high}."


def _range(chances: np.ndarray, share: float) -> ScoreRange:
    low, high, chance = interval(chances, share)
    return {"share": share, "low": low, "high": high, "chance": chance}


def _scores(chances: np.ndarray) -> list[ScoreChance]:
    reached = np.minimum(np.cumsum(chances), 1.0)
    return [
        {"strokes": int(strokes), "chance": float(chances[strokes]), "at_most": float(reached[strokes])}
        for strokes in np.flatnonzero(chances >= LEAST_LISTED)
    ]


def _hole(hole: HoleToPlay, club: str, solved: float, chances: np.ndarray) -> HoleChances:
    """One hole; `chances` of 1, 2, ... strokes."""
    of_score = np.concatenate(([0.0], chances))
    low, high, _ = interval(of_score, MIDDLE)
    return {
        "number": hole.number,
        "par": hole.par,
        "length_yd": hole.length_yd,
        "club": club,
        "mean": mean_and_variance(of_score)[0],
        "solved": solved,
        "low": low,
        "high": high,
        "birdie": float(of_score[: hole.par].sum()),
        "par_chance": float(of_score[hole.par : hole.par + 1].sum()),
        "bogey": float(of_score[hole.par + 1 : hole.par + 2].sum()),
        "double": float(of_score[hole.par + 2 :].sum()),
    }


def _about(rounds: int, part: float, form: Form, unmapped: Sequence[int], before: PlayedRounds) -> list[str]:
    """How it was worked out, in sentences."""
    found = [
        "Each hole is solved with your own patterns and simulated, shot by shot, until your own putting "
        "and short game take over."
    ]
    if unmapped:
        found.append(f"Without a map, and left out: {_numbers(unmapped)}.")
    if rounds:
        full_rounds = float(before.rounds["holes"].sum()) / FULL_ROUND
        found.append(
            f"{rounds} round{'' if rounds == 1 else 's'} here ({full_rounds:.1f} of 18 holes) set the level: "
            f"play costs {_over(part * form.mean)} the plan."
        )
    else:
        found.append(
            f"No round on these holes yet: play is assumed to come out {_over(part * form.mean)} the plan, as is usual."
        )
    return found


def _over(strokes: float) -> str:
    """Strokes over or under.

    >>> _over(1.26), _over(-1.0)
    ('1.3 strokes over', '1.0 strokes under')
    """
    return f"{abs(strokes):.1f} strokes {'under' if round(strokes, 1) < 0 else 'over'}"


def rounds_checked_document(
    player: Player,
    valued: pd.DataFrame,
    baseline: Baseline,
    course: Course,
    maps: Mapping[int, str],
    asked: RoundAsked,
    *,
    progress: Progress | None = None,
) -> RoundsCheckedDocument:
    """Every round on a course, predicted from the rounds before it. Errors as `round_ahead_document`."""
    _, holes, _ = round_to_play(course, maps, asked)
    there = {str(one["name"]) for one in course[1]}

    def from_tees(name: str | None) -> list[HoleToPlay]:
        chosen = name if name in there else asked.tees
        return round_to_play(course, maps, RoundAsked(chosen, asked.first_hole, asked.last_hole))[1]

    numbers = [hole.number for hole in holes]
    try:
        found, times = check_rounds(
            valued, course[0], numbers, from_tees, baseline, plays=player.plays, progress=progress
        )
    except ValueError as error:
        if isinstance(error, PlanError):
            raise
        raise PlanError("course_id", str(error)) from error
    forecasts = [one.forecast for one in found]
    ranges = [interval(one.chances, MIDDLE) for one in forecasts]
    hits = sum(low <= one.score <= high for one, (low, high, _) in zip(forecasts, ranges, strict=True))
    skill = _skill(forecasts)
    few = _few(len(found))
    return {
        "player": player.name,
        "player_id": player.player_id,
        "course": course[0],
        "baseline": {"id": baseline.id, "version": baseline.version},
        "count": len(found),
        "few": few,
        "words": few or _checked_words(len(found), hits, sum(chance for *_, chance in ranges), skill),
        "inside": hits,
        "expected_inside": float(sum(chance for *_, chance in ranges)),
        "coverage": [_coverage(forecasts, share) for share in COVERAGES] if found else [],
        "fifths": histogram(forecasts),
        "fifths_band": [len(found) * end for end in band(len(found), 1 / BINS)] if found else [0.0, 0.0],
        "skill": skill,
        "solved": times,
        "rounds": [_predicted(one, low, high) for one, (low, high, _) in zip(found, ranges, strict=True)],
        "caution": CAUTION,
    }


def _few(count: int) -> str | None:
    if count >= FEW:
        return None
    words = {0: "No round", 1: "One round"}.get(count, f"{count} rounds")
    return (
        f"{words} to check by: too few to judge the predictions. {FEW} are needed, each with "
        f"{ROUNDS_BEFORE} rounds here before it and every hole finished."
    )


def _checked_words(count: int, inside_: int, predicted: float, skill: ForecastScore | None) -> str:
    """What the check shows, in two sentences."""
    first = (
        f"Of {count} rounds predicted from earlier rounds {inside_} were within the range of 8 "
        f"rounds in 10; {predicted:.0f} were expected."
    )
    if skill is None or skill["error"] is None:
        return first
    reach = CLEAR * skill["error"]
    gain = f"{signed(skill['difference'], 2)} ± {reach:.2f} strokes a round"
    if skill["difference"] < -reach:
        return f"{first} That is better than the mean and spread of earlier scores alone ({gain})."
    if skill["difference"] > reach:
        return f"{first} The mean and spread of earlier scores alone did better ({gain})."
    return f"{first} No better and no worse, so far, than the mean and spread of earlier scores alone ({gain})."


def _coverage(forecasts: list[Forecast], share: float) -> CoverageRow:
    low, high = band(len(forecasts), share)
    return {"share": share, "observed": covered(forecasts, share), "low": low, "high": high}


def _skill(forecasts: list[Forecast]) -> ForecastScore | None:
    both = [(crps(one.chances, one.score), crps(one.naive, one.score)) for one in forecasts if one.naive is not None]
    if not both:
        return None
    model, naive = np.array(both).T
    apart = model - naive
    return {
        "rounds": len(both),
        "model": float(model.mean()),
        "naive": float(naive.mean()),
        "difference": float(apart.mean()),
        "error": float(apart.std(ddof=1) / np.sqrt(len(both))) if len(both) > 1 else None,
    }


def _predicted(one: RoundForecast, low: int, high: int) -> PredictedRound:
    return {
        "played_on": one.played_on.isoformat(),
        "tees": one.tees,
        "holes": one.holes,
        "par": one.par,
        "score": one.forecast.score,
        "mean": mean_and_variance(one.forecast.chances)[0],
        "low": low,
        "high": high,
        "place": one.forecast.place(0.5),
        "rounds_before": one.rounds_before,
    }


def _numbers(holes: Sequence[int]) -> str:
    return ", ".join(str(number) for number in holes)
