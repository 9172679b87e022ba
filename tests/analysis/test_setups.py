"""The setup in force on a round's day."""

from __future__ import annotations

import pandas as pd
from pandas.testing import assert_frame_equal

from server.analysis.strokes_gained.setups import with_setup

SETUPS = pd.DataFrame(
    {
        "player_id": ["wren", "wren", "wren"],
        "club_id": ["iron", "wood", "iron"],
        "since": pd.to_datetime(["2026-05-01", "2026-01-01", "2026-03-01"]),
        "note": ["new shaft", "as bought", "bent 1 degree"],
    }
)
SHOTS = pd.DataFrame(
    {
        "player_id": ["wren"] * 6,
        "club_id": ["iron", "putter", "iron", "wood", "iron", "iron"],
        "played_on": pd.to_datetime(
            ["2026-06-30", "2026-06-30", "2026-02-28", "2026-01-01", "2026-03-01", "2026-04-30"]
        ),
    },
    index=[9, 9, 3, 2, 1, 0],
)


def test_latest_setup_that_is_not_after_the_day():
    table = with_setup(SHOTS, SETUPS)
    assert table["setup"].astype(object).where(table["setup"].notna(), None).tolist() == [
        "2026-05-01 new shaft",
        None,
        None,
        "2026-01-01 as bought",
        "2026-03-01 bent 1 degree",
        "2026-03-01 bent 1 degree",
    ]


def test_rows_index_and_input_stay():
    before = SHOTS.copy(deep=True)
    table = with_setup(SHOTS, SETUPS.iloc[::-1])
    assert_frame_equal(table.drop(columns="setup"), SHOTS)
    assert_frame_equal(SHOTS, before)


def test_nothing_to_join():
    assert with_setup(SHOTS, SETUPS.iloc[:0])["setup"].isna().tolist() == [True] * 6
    assert with_setup(SHOTS.iloc[:0], SETUPS)["setup"].tolist() == []


def test_another_players_setup_of_a_club_is_none():
    theirs = SETUPS.assign(player_id="hollis")
    assert with_setup(SHOTS, theirs)["setup"].isna().all()
    assert_frame_equal(with_setup(SHOTS, pd.concat([theirs, SETUPS])), with_setup(SHOTS, SETUPS))
