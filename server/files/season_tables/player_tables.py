"""Frames of what players are and where they play: settings, courses with their ratings, what each course adds."""

from __future__ import annotations

from collections import Counter
from itertools import chain
from typing import Any

import numpy as np
import pandas as pd

from server.analysis.evidence.course_ratings import NONE
from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.evidence.level import courses_of_many, rates_of_many
from server.files.season_tables.seasons import Piece, places_of
from server.questions.valued_shots import scheme_of
from server.store.squads import squads_of


def player_rows(full: Piece) -> pd.DataFrame:
    """One row a player: the columns of the table players but the name and the baseline."""
    season, players = full.season, full.players
    squads = squads_of(season.connection, full.selection.named) if season.with_squads else {}
    rounds = np.bincount(places_of(full.rounds["player_id"], players), minlength=len(players))
    schemes = [scheme_of(player) for player in players]
    columns: dict[str, list[str | None]] = {
        "player_id": [player.player_id for player in players],
        "hand": [player.plays for player in players],
        "units": [player.units for player in players],
        "squads": ["; ".join(squads.get(player.player_id, ())) or None for player in players],
        "usual_baseline": [player.baseline for player in players],
        "category_scheme": [scheme.name for scheme in schemes],
    }
    yards = np.array([scheme.short_game_yd for scheme in schemes])
    return pd.DataFrame(columns, dtype="object").assign(short_game_yd=yards, rounds=rounds)


def course_rows(full: Piece) -> pd.DataFrame:
    """One row a set of tees, by player, course and tees: the columns of the table courses but the player's name and
    the baseline. Of tees of one name on a course the first."""
    rounds = full.rounds
    if not full.courses:
        return pd.DataFrame()
    played = Counter(zip(rounds["player_id"], rounds["course"], rounds["tees"], strict=True))
    rows: list[dict[str, Any]] = []
    for player_id, known in full.courses.items():
        hard = full.ratings[player_id].hardness
        first: dict[tuple[str, str, str], dict[str, Any]] = {}
        for name, course_id, tees in known:
            for one in tees:
                row = {
                    "player_id": player_id,
                    "course_id": course_id,
                    "course": name,
                    "tees": one["name"],
                    "holes": len(one["holes"]),
                    "par": sum(hole["par"] for hole in one["holes"]),
                    "length_yd": float(sum(hole["length_yd"] for hole in one["holes"])),
                    "rating": one.get("rating"),
                    "slope": one.get("slope"),
                    "difficulty": hard.get((name, one["name"])),
                    "rounds": played[player_id, name, one["name"]],
                }
                first.setdefault((name, course_id, one["name"]), row)
        rows += [first[tees] for tees in sorted(first)]
    numbers = dict.fromkeys(("rating", "difficulty"), "float64") | {"slope": "Int64"}
    return pd.DataFrame(rows).astype(numbers) if rows else pd.DataFrame()


def course_effect_rows(full: Piece) -> pd.DataFrame:
    """One row a course, by player and hardest first, as the command level tells it."""
    # without a course no round tells of one
    if not full.valued["course"].notna().any():
        return pd.DataFrame()
    rates = [rates for rates, _ in rates_of_many(full.valued, full.owner, full.lengths)]
    ratings = [full.ratings.get(player.player_id, NONE) for player in full.players]
    found = courses_of_many(zip(rates, ratings, strict=True))
    owner = np.repeat(np.arange(len(found)), [len(courses) for courses in found])
    rows = list(chain(*found))
    columns = {name: np.array([row[name] for row in rows]) for name in ("rounds", "low", "high")}
    return pd.DataFrame(
        {
            "player_id": pd.Categorical.from_codes(owner, dtype=full.ids),
            "course": pd.Categorical([row["course"] for row in rows]),
            "course_effect": np.array([row["effect"] for row in rows]),
            "level": DEFAULT_LEVEL,
        }
        | columns
    )
