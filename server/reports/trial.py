"""The trial of two clubs or setups as a document for people and programs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL, Flags
from server.analysis.evidence.trial_words import length_words, playable_words, verdict
from server.analysis.evidence.trials import MINIMUM_EFFECT, Trial, run_trial
from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.putting.putters import compare_putters
from server.analysis.putting.putts import putts_of
from server.analysis.strokes_gained.summaries import NO_SETUP
from server.reports.heading import empty_words
from server.store.players import Player


class SideError(ValueError):
    """A side that is not known, or two sides that are the same. `field`: "a" or "b"."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True)
class Side:
    """One side of a trial: a club, or with `setup` (as the summary by setup names it) one setup of it."""

    name: str
    club: str
    setup: str | None = None

    def of(self, valued: pd.DataFrame) -> Flags:
        """Which shots of a valued frame are this side's, shape (rows,)."""
        mine = valued["club"].astype("object").eq(self.club)
        if self.setup is not None:
            mine &= valued["setup"].astype("object").fillna(NO_SETUP).eq(self.setup)
        return np.asarray(mine, dtype=np.bool_)


def known_sides(clubs: dict[str, str], setups: pd.DataFrame) -> dict[str, list[str]]:
    """The clubs, sorted, each with the names of its setups, earliest first.

    `clubs`: label -> id; `setups`: club_id, since (datetime), note.
    """
    names = setups["since"].dt.strftime("%Y-%m-%d") + " " + setups["note"]
    return {label: names[setups["club_id"].eq(club_id)].tolist() for label, club_id in sorted(clubs.items())}


def find_sides(a: str, b: str, known: dict[str, list[str]]) -> tuple[Side, Side]:
    """The two sides that were named. Raises SideError.

    A side is a club's label; a setup is `club@day` with the day on which it began (or `club@as it was` for the time
    before the first), or its name in the summary by setup.
    """
    sides = (find_side("a", a, known), find_side("b", b, known))
    if sides[0].club == sides[1].club and (None in (sides[0].setup, sides[1].setup) or sides[0] == sides[1]):
        both = f"{a!r} and {b!r} hold the same shots"
        raise SideError("b", f"{both}: a trial needs two clubs, or two setups of one club such as driver@2026-06-22")
    return sides


def find_side(field: str, words: str, known: dict[str, list[str]]) -> Side:
    """The club or setup that was named in a field, as in `find_sides`. Raises SideError."""
    words = words.strip()
    if words in known:
        return Side(words, words)
    for club, setups in known.items():
        for setup in [*setups, NO_SETUP]:
            if words in (f"{club}@{setup}", f"{club}, {setup}", f"{club}@{setup[:10]}"):
                since = f"{club} {NO_SETUP}" if setup == NO_SETUP else f"{club} since {setup[:10]}"
                return Side(since, club, setup)
    club, _, day = words.rpartition("@")
    if club in known:
        began = ", ".join(setup[:10] for setup in known[club]) or "no setup"
        raise SideError(field, f"{club} has no setup that began on {day!r}; it has {began}")
    clubs = ", ".join(known) or "no club yet"
    raise SideError(field, f"{words!r} is not one of the player's clubs: {clubs}")


def trial_document(
    player: Player,
    valued: pd.DataFrame,
    baseline: Baseline,
    sides: tuple[Side, Side],
    *,
    from_day: date | None = None,
    to_day: date | None = None,
    level: float = DEFAULT_LEVEL,
    minimum_effect: float = MINIMUM_EFFECT,
) -> dict[str, Any]:
    """A trial of two sides. Differences are A less B in strokes gained; what cannot be said is null, with the reason in
    the verdict. ValueError as `run_trial`.

    Keys: player, player_id, baseline, from, to, level, empty (`empty_words`), minimum_effect, rounds, short_rounds
    (too short to count), a, b (name, club, setup, shots, matched_shots, matched_rounds), difference (per_shot, low,
    high, standard_error, shots_a_round, per_round, per_round_low, per_round_high, or null), chance_a_better,
    chance_b_better, shots_needed, shots_missing, design_effect, verdict (code, side, words), length, playable (null
    between putters), make_rate (between putters alone: as `compare_putters`, with words), places (lie, distance,
    shots_a, shots_b, mean_a, mean_b, weight).
    """
    a, b = sides
    found = run_trial(valued, a.of(valued), b.of(valued), level=level, minimum_effect=minimum_effect)
    matched = found.matched
    decided = verdict(found, a.name, b.name)
    days = valued["played_on"]
    first, last = (None, None) if days.empty else (days.min().date(), days.max().date())
    return {
        "player": player.name,
        "player_id": player.player_id,
        "baseline": {"id": baseline.id, "version": baseline.version},
        "from": _day(from_day or first),
        "to": _day(to_day or last),
        "level": level,
        "empty": empty_words(valued, from_day, to_day),
        "minimum_effect": minimum_effect,
        "rounds": found.rounds,
        "short_rounds": found.short_rounds,
        "a": _side_document(a, found.shots_a, matched.used_a, matched.rounds_a),
        "b": _side_document(b, found.shots_b, matched.used_b, matched.rounds_b),
        "difference": _difference(found),
        "chance_a_better": matched.chance,
        "chance_b_better": None if matched.chance is None else 1 - matched.chance,
        "shots_needed": found.shots_needed,
        "shots_missing": found.shots_missing,
        "design_effect": found.design,
        "verdict": decided._asdict(),
        "length": _length(found, a, b),
        "playable": _playable(found, a, b),
        "make_rate": _make_rate(valued, a, b, level),
        "places": found.strata.to_dict("records"),
    }


def _make_rate(valued: pd.DataFrame, a: Side, b: Side, level: float) -> dict[str, Any] | None:
    """The sharper measure between putters: how often putts fall over the player's own mix of lengths."""
    sides = [valued[side.of(valued)] for side in (a, b)]
    if not all(len(side) and side["sort"].astype("object").eq("putter").all() for side in sides):
        return None
    compared = compare_putters(putts_of(sides[0]), putts_of(sides[1]), (a.name, b.name), level)
    return compared | {"words": compared["verdict"]["words"]}


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _side_document(side: Side, shots: int, matched: int, rounds: int) -> dict[str, Any]:
    return {
        "name": side.name,
        "club": side.club,
        "setup": side.setup,
        "shots": shots,
        "matched_shots": matched,
        "matched_rounds": rounds,
    }


def _difference(found: Trial) -> dict[str, float] | None:
    matched, often = found.matched, found.shots_a_typical_round
    if matched.difference is None or matched.low is None or matched.high is None or matched.standard_error is None:
        return None
    return {
        "per_shot": matched.difference,
        "low": matched.low,
        "high": matched.high,
        "standard_error": matched.standard_error,
        "shots_a_round": often,
        "per_round": matched.difference * often,
        "per_round_low": matched.low * often,
        "per_round_high": matched.high * often,
    }


def _length(found: Trial, a: Side, b: Side) -> dict[str, Any] | None:
    length = found.length
    if length is None:
        return None
    test = length.test
    return {
        "shots_a": length.shots_a,
        "shots_b": length.shots_b,
        "typical_a_yd": None if test is None else test.typical_a,
        "typical_b_yd": None if test is None else test.typical_b,
        "statistic": None if test is None else test.statistic,
        "p": None if test is None else test.p,
        "words": length_words(length, a.name, b.name, found.level),
    }


def _playable(found: Trial, a: Side, b: Side) -> dict[str, Any] | None:
    playable = found.playable
    if playable is None:
        return None
    names = ("share_a", "share_b", "difference", "low", "high")
    shares: dict[str, Any] = dict.fromkeys(names) if playable.shares is None else playable.shares._asdict()
    return {
        "shots_a": playable.shots_a,
        "shots_b": playable.shots_b,
        **shares,
        "shots_needed": playable.shots_needed,
        "words": playable_words(playable, a.name, b.name, found.level),
    }
