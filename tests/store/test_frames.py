"""Frames out of the store: rows, order, types, setups in force, and what a missing record leaves behind."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import sqlalchemy as sa

from server.analysis.strokes_gained.setups import with_setup
from server.game.lies import LIES
from server.store.engine import reading
from server.store.frames import UNKNOWN_CLUB, Selection, setups_frame, shots_frame
from server.store.log import push
from tests.records.made import Season, change, default_clubs, named, par_four

TYPES = {
    "played_on": "datetime64[s]",
    "kind": "category",
    "hole": "int64",
    "par": "float64",
    "length_yd": "float64",
    "ball": "int64",
    "order": "int64",
    "lie": "category",
    "distance_yd": "float64",
    "club_id": "category",
    "club": "category",
    "holed": "bool",
    "penalty_strokes": "int64",
    "end_lie": "category",
    "end_distance_yd": "float64",
    "picked_up": "bool",
    "provisional": "bool",
    "right_yd": "float64",
    "long_yd": "float64",
    "target_yd": "float64",
}


def store(engine: sa.Engine, *seasons: Season) -> None:
    for season in seasons:
        done = push(engine, season.player_id, "phone", season.changes)
        assert done.quarantined == []


def frame(engine: sa.Engine, **selection: object) -> pd.DataFrame:
    with reading(engine) as connection:
        return shots_frame(connection, Selection(**selection))  # type: ignore[arg-type]


def test_a_frame_without_shots_has_the_columns_and_types_of_a_full_one(engine: sa.Engine) -> None:
    empty = frame(engine)
    season = Season()
    par_four(season, season.round("one"), default_clubs(season))
    store(engine, season)
    full = frame(engine)
    assert (len(empty), len(full)) == (0, 4)
    assert list(empty.columns) == list(full.columns)
    for name, kind in TYPES.items():
        assert (str(empty[name].dtype), str(full[name].dtype)) == (kind, kind), name
    assert list(empty["lie"].cat.categories) == list(full["lie"].cat.categories) == list(LIES)
    with reading(engine) as connection:
        setups = setups_frame(connection, None)
    assert (len(setups), str(setups["since"].dtype)) == (0, "datetime64[s]")


def test_each_shot_is_one_row_in_the_order_of_play(engine: sa.Engine) -> None:
    season = Season()
    clubs = default_clubs(season)
    later = season.round("later", {1: (4, 400.0), 2: (3, 170.0)}, played_on="2026-06-01", kind="casual")
    earlier = season.round("earlier")
    season.shot(later, 2, 1, "tee", 170, clubs["8 iron"], holed=True)
    season.shot(later, 1, 1, "tee", 400, clubs["driver"], right_yd=-12.5, long_yd=3, swing="full")
    season.shot(earlier, 1, 1, "tee", 390, clubs["driver"], ball=2, end_lie="rough", end_distance_yd=120)
    season.shot(earlier, 1, 1, "tee", 400, clubs["driver"], penalty_strokes=1, penalty_reason="lost")
    store(engine, season)
    found = frame(engine)
    assert found["distance_yd"].tolist() == [400, 390, 400, 170]
    assert found["played_on"].dt.strftime("%m-%d").tolist() == ["05-01", "05-01", "06-01", "06-01"]
    assert found["kind"].tolist() == ["practice", "practice", "casual", "casual"]
    assert found["par"].tolist() == [4, 4, 4, 3]
    assert found["club"].tolist() == ["driver", "driver", "driver", "8 iron"]
    assert found["penalty_reason"].tolist()[0] == "lost"
    assert found["end_lie"].tolist()[1] == "rough"
    assert found["end_distance_yd"].tolist()[1] == 120
    assert np.isnan(found["end_distance_yd"].to_numpy()[[0, 2, 3]]).all()
    assert found["right_yd"].tolist()[2] == -12.5
    assert found["player"].tolist() == ["Wren Quillfeather"] * 4


def test_a_selection_takes_days_both_included_kinds_players_and_rounds(engine: sa.Engine) -> None:
    seasons = [Season("Ash"), Season("Birch")]
    for season in seasons:
        club = season.club("driver", "driver")
        for day, kind in (("2026-05-01", "practice"), ("2026-05-02", "casual"), ("2026-05-03", "competition")):
            season.shot(season.round(day, played_on=day, kind=kind), 1, 1, "tee", 400, club, holed=True)
    store(engine, *seasons)
    ash = seasons[0].player_id

    def days(**selection: object) -> list[int]:
        return [day.day for day in frame(engine, **selection)["played_on"]]

    assert days() == [1, 2, 3, 1, 2, 3]
    assert days(player_id=ash) == [1, 2, 3]
    assert days(player_id=ash, from_day=date(2026, 5, 2)) == [2, 3]
    assert days(player_id=ash, to_day=date(2026, 5, 2)) == [1, 2]
    assert days(player_id=ash, from_day=date(2026, 5, 2), to_day=date(2026, 5, 2)) == [2]
    assert days(player_id=ash, kinds=("practice", "competition")) == [1, 3]
    assert days(round_id=named(f"{ash}|2026-05-03")) == [3]
    assert days(player_id=named("nobody")) == []


def test_labels_given_twice_are_told_apart_whatever_else_is_called_so(engine: sa.Engine) -> None:
    season = Season()
    given = ["7 iron", "7 iron", "7 iron (2)", "7 iron"]
    ids = [season.club(label, name=f"club {number}") for number, label in enumerate(given)]
    round_id = season.round("one")
    for order, club_id in enumerate(ids, start=1):
        season.shot(round_id, 1, order, "tee", 400, club_id)
    store(engine, season)
    labels = frame(engine)["club"].tolist()
    assert len(set(labels)) == 4
    assert labels[2] == "7 iron (2)"
    assert {labels[0], labels[1], labels[3]} == {"7 iron", "7 iron (3)", "7 iron (4)"}


def test_what_is_not_known_leaves_gaps_but_loses_no_shot(engine: sa.Engine) -> None:
    season = Season()
    round_id = season.round("one", {1: (4, 400.0)})
    season.shot(round_id, 7, 1, "tee", 380, named("no such club"), holed=True)
    season.changes = season.changes[1:]
    store(engine, season)
    (row,) = frame(engine).to_dict("records")
    assert row["club"] == UNKNOWN_CLUB
    assert np.isnan(row["par"])
    assert pd.isna(row["player"])


def test_a_shot_of_another_players_round_stays_out(engine: sa.Engine) -> None:
    ash, birch = Season("Ash"), Season("Birch")
    round_id = ash.round("one")
    club = birch.club("driver", "driver")
    birch.shot(round_id, 1, 1, "tee", 400, club)
    store(engine, ash, birch)
    assert frame(engine).empty


def test_a_shot_belongs_to_the_setup_in_force_on_the_rounds_day(engine: sa.Engine) -> None:
    season = Season()
    clubs = default_clubs(season)
    for since, note in (("2026-05-02", "soft"), ("2026-05-04", "stiff")):
        season.put("setup", since, {"club_id": clubs["driver"], "since": since, "note": note})
    for day in range(1, 6):
        round_id = season.round(f"day {day}", played_on=f"2026-05-0{day}")
        season.shot(round_id, 1, 1, "tee", 400, clubs["driver"])
        season.shot(round_id, 1, 2, "fairway", 150, clubs["8 iron"])
    store(engine, season)
    with reading(engine) as connection:
        shots = shots_frame(connection, Selection()).sample(frac=1, random_state=1)
        found = with_setup(shots, setups_frame(connection, season.player_id))
    assert found.index.equals(shots.index)
    drives = found[found["club"].eq("driver")].sort_values("played_on")["setup"].fillna("none yet").tolist()
    assert drives == ["none yet", "2026-05-02 soft", "2026-05-02 soft", "2026-05-04 stiff", "2026-05-04 stiff"]
    assert found[found["club"].eq("8 iron")]["setup"].isna().all()
    nothing = with_setup(shots, setups_frame_of_nobody())
    assert nothing["setup"].isna().all()


def setups_frame_of_nobody() -> pd.DataFrame:
    columns = {name: pd.Series(dtype="str") for name in ("setup_id", "club_id", "note")}
    return pd.DataFrame(columns | {"since": pd.Series(dtype="datetime64[s]")})


def test_days_far_off_survive(engine: sa.Engine) -> None:
    season = Season()
    club = season.club("driver", "driver")
    for day in ("0001-01-01", "1969-12-31", "9999-12-31"):
        season.shot(season.round(day, played_on=day), 1, 1, "tee", 400, club)
    store(engine, season)
    assert [str(day.date()) for day in frame(engine)["played_on"]] == ["0001-01-01", "1969-12-31", "9999-12-31"]


def test_a_deleted_round_with_living_shots_keeps_its_day_and_holes(engine: sa.Engine) -> None:
    season = Season()
    club = season.club("driver", "driver")
    round_id = season.round("one", {1: (5, 510.0)}, played_on="2026-05-09")
    season.shot(round_id, 1, 1, "tee", 510, club)
    parent = next(found["change_id"] for found in season.changes if found["record_id"] == round_id)
    season.changes.append(change("round", None, round_id, parents=[parent]))
    store(engine, season)
    (row,) = frame(engine).to_dict("records")
    assert (str(row["played_on"].date()), row["par"], row["length_yd"]) == ("2026-05-09", 5, 510)
