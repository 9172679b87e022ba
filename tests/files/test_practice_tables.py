"""Practice sessions and their balls among the season tables, against what was recorded."""

from __future__ import annotations

import pandas as pd
import sqlalchemy as sa

from tests.files.told import told


def test_sessions_of_the_year_with_what_was_counted(season_engine: sa.Engine) -> None:
    found = told(season_engine, "practice_sessions")
    one, empty = found[found["player"] == "Ash"].to_dict("records")
    assert (empty["place"], empty["balls"], empty["closed"]) == ("short_game", 0, False)
    assert pd.isna(empty["note"])
    assert (str(one["practised_on"]), one["place"], one["note"]) == ("2026-05-02", "range", "=mats")
    assert (one["closed"], one["deleted"], one["from_file"]) == (True, False, "range.csv")
    assert (one["balls"], one["putts"], one["clubs"]) == (3, 1, 2)
    earlier = told(season_engine, "practice_sessions", year=2025)
    assert list(earlier["place"]) == ["putting_green"]
    assert list(earlier["balls"]) == [0]


def test_balls_in_their_order_with_nothing_of_a_round(season_engine: sa.Engine) -> None:
    found = told(season_engine, "practice_balls")
    balls = found[found["player"] == "Ash"].reset_index(drop=True)
    assert list(balls["order"]) == [1, 2, 3]
    assert list(balls["club"]) == ["driver", "driver", "putter"]
    assert list(balls["carry_yd"])[:2] == [231.5, 231.5]
    assert list(balls["right_yd"])[:2] == [-12.0, -12.0]
    assert (balls["target_yd"][0], balls["total_yd"][0], balls["strike"][1]) == (240.0, 250.0, "heel")
    assert list(balls["lie"][:2]) == ["fairway", "fairway"]
    assert pd.isna(balls["lie"][2]), "a putt has no lie"
    assert (balls["length_ft"][2], balls["left_ft"][2], balls["holed"][2]) == (8.5, 1.5, False)
    assert balls["session_id"].nunique() == 1
    assert not {"strokes_gained", "lon", "lat", "at"} & set(found.columns)
    shots = told(season_engine, "shots")
    assert set(balls["ball_id"]).isdisjoint(shots["shot_id"])


def test_a_player_alone_has_only_their_own_practice(season_engine: sa.Engine) -> None:
    everybody = told(season_engine, "practice_balls")
    ash = everybody[everybody["player"] == "Ash"]
    (player_id,) = ash["player_id"].unique()
    alone = told(season_engine, "practice_balls", players={player_id})
    pd.testing.assert_frame_equal(alone, ash.reset_index(drop=True))
