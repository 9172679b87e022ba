"""Frames of what players are and where they play: settings, courses with their ratings, what each course adds."""

from __future__ import annotations

import pandas as pd

from server.analysis.evidence.course_ratings import ratings_of
from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.evidence.level import round_rates, stated_level
from server.files.season_tables.seasons import Piece
from server.questions.valued_shots import scheme_of
from server.store.players import courses, every_course
from server.store.squads import squads_of


def player_row(whole: Piece) -> pd.DataFrame:
    """One row: the columns of the table players but the name, the id and the baseline."""
    season, player = whole.season, whole.player
    scheme = scheme_of(player)
    squads = squads_of(season.connection, [player.player_id]) if season.tells_squads else {}
    row = {
        "hand": player.plays,
        "units": player.units,
        "squads": "; ".join(squads.get(player.player_id, ())) or None,
        "usual_baseline": player.baseline,
        "category_scheme": scheme.name,
        "short_game_yd": scheme.short_game_yd,
        "rounds": len(whole.rounds),
    }
    return pd.DataFrame([row])


_TEES = ("course_id", "course", "tees", "holes", "par", "length_yd", "rating", "slope", "difficulty", "rounds")


def course_rows(whole: Piece) -> pd.DataFrame:
    """One row a set of tees, by course and tees: the columns of the table courses but the player's and the
    baseline's. Of tees of one name on a course the first."""
    season = whole.season
    known = every_course(season.connection, whole.player.player_id)
    hard = ratings_of({name: tees for name, _, tees in known}, season.baseline).hardness
    played = whole.rounds.groupby(["course", "tees"]).size()
    rows = [
        {
            "course_id": course_id,
            "course": name,
            "tees": one["name"],
            "holes": len(one["holes"]),
            "par": sum(hole["par"] for hole in one["holes"]),
            "length_yd": float(sum(hole["length_yd"] for hole in one["holes"])),
            "rating": one.get("rating"),
            "slope": one.get("slope"),
            "difficulty": hard.get((name, one["name"])),
            "rounds": int(played.get((name, one["name"]), 0)),
        }
        for name, course_id, tees in known
        for one in tees
    ]
    frame = pd.DataFrame(rows, columns=_TEES).drop_duplicates(["course_id", "tees"])
    numbers = dict.fromkeys(("length_yd", "rating", "difficulty"), "float64") | {"slope": "Int64"}
    return frame.astype(numbers).sort_values(["course", "course_id", "tees"], ignore_index=True)


def course_effect_rows(whole: Piece) -> pd.DataFrame:
    """One row a course, hardest first, as the command level tells it."""
    season = whole.season
    known = {name: tees for name, (_, tees) in courses(season.connection, whole.player.player_id).items()}
    found = stated_level(*round_rates(whole.valued), DEFAULT_LEVEL, ratings_of(known, season.baseline))
    columns = ["course", "rounds", "effect", "low", "high"]
    frame = pd.DataFrame(found["courses"], columns=columns)
    return frame.rename(columns={"effect": "course_effect"}).assign(level=DEFAULT_LEVEL)
