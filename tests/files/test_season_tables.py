"""What the season tables say is what summaries and scorecards say."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest
import sqlalchemy as sa

from server.files.season_tables import seasons
from server.game.categories import SCHEMES
from server.questions.question import Asked, Question, Span
from server.questions.valued_shots import scheme_of, valued_shots
from server.reports.summary import scorecard_document, summary_document
from server.store.engine import reading
from server.store.frames import Selection, shots_frame
from server.store.players import Player, players, round_by_id
from tests.files.told import TOUR, YEAR, told, written
from tests.records.made import named
from tests.tiers import some

EXACT = 1e-9
"""Sums of the same numbers in another order."""

NAMES = ["Ash", "Wren Quillfeather"]


def player_of(engine: sa.Engine, name: str) -> Player:
    with reading(engine) as connection:
        return next(player for player in players(connection) if player.name == name)


def document(engine: sa.Engine, name: str, by: str) -> dict[str, Any]:
    """The summary of the season as commands and addresses give it."""
    player = player_of(engine, name)
    year = Span(date(YEAR, 1, 1), date(YEAR, 12, 31))
    with reading(engine) as connection:
        chosen = Asked(connection, player, Question((year,))).snapshot().chosen
    return summary_document(chosen, by)


def same(found: Any, expected: Any) -> bool:
    """Equal words, numbers equal to rounding, a gap equal to None."""
    if expected is None or (isinstance(expected, float) and np.isnan(expected)):
        return bool(pd.isna(found))
    if isinstance(expected, float):
        return bool(abs(found - expected) <= EXACT)
    return bool(found == expected)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("by", ["club", "category"])
def test_summaries_are_those_of_the_documents_in_their_order(season_engine: sa.Engine, name: str, by: str) -> None:
    table = told(season_engine, f"{by}_summary")
    rows = table[table["player"].eq(name)].to_dict("records")
    expected = document(season_engine, name, by)
    assert len(rows) == len(expected["rows"]) > 1
    for row, meant in zip(rows, expected["rows"], strict=True):
        for key, value in meant.items():
            assert same(row[key], value or None if key == "too_few" else value), f"{row[by]}: {key}"
        assert (row["level"], row["baseline"]) == (expected["level"], f"{TOUR.id} {TOUR.version}")
    if by == "category":
        player = player_of(season_engine, name)
        assert {row["category_scheme"] for row in rows} == {player.category_scheme}
        assert {row["category"] for row in rows} <= set(SCHEMES[player.category_scheme])


@pytest.mark.parametrize("name", NAMES)
def test_shots_grouped_by_hand_are_the_summaries(season_engine: sa.Engine, name: str) -> None:
    shots = told(season_engine, "shots")
    own = shots[shots["player"].eq(name)]
    for by, balls in (("club", own), ("category", own[own["ball"].eq(1)])):
        expected = {row[by]: row for row in document(season_engine, name, by)["rows"]}
        grouped = balls.dropna(subset="strokes_gained").groupby(by)["strokes_gained"].agg(["size", "sum"])
        assert set(grouped.index) == set(expected)
        for key, row in grouped.iterrows():
            assert same(row["sum"], expected[key]["strokes_gained"])
            assert row["size"] == expected[key]["shots"]


@pytest.mark.parametrize("name", NAMES)
def test_rounds_and_holes_are_those_of_the_scorecards(season_engine: sa.Engine, name: str) -> None:
    rounds, holes = told(season_engine, "rounds"), told(season_engine, "holes")
    player = player_of(season_engine, name)
    by_round = {row["round_id"]: row for row in document(season_engine, name, "round")["rows"]}
    own = rounds[rounds["player"].eq(name)]
    assert own["played_on"].is_monotonic_increasing
    assert set(by_round) <= set(own["round_id"])
    for row in own.to_dict("records"):
        with reading(season_engine) as connection:
            found = round_by_id(connection, player.player_id, row["round_id"])
            assert found is not None
            selection = Selection(player.player_id, round_id=row["round_id"])
            valued = valued_shots(connection, selection, TOUR, scheme_of(player))
        card = scorecard_document(player, found, valued, TOUR, [], None)
        total = card["total"]
        for key in ("par", "score", "score_of_complete_holes", "to_par", "holes_complete", "strokes_gained"):
            assert same(row[key], total[key]), f"{row['played_on']}: {key}"
        summed = by_round.get(row["round_id"], {"shots": 0, "extended": 0})
        assert (row["shots"], row["extended"]) == (summed["shots"], summed["extended"])
        assert row["extra_shots"] == valued["ball"].ne(1).sum()
        assert row["bag_clubs"] == len(found["bag"])
        for key in ("kind", "course", "tees", "closed", "wind_mph", "firmness", "note", "lengths_taken"):
            assert same(row[key], found[key])
        lines = holes[holes["round_id"].eq(row["round_id"])].to_dict("records")
        assert [line["hole"] for line in lines] == [hole["number"] for hole in card["holes"]]
        for line, hole in zip(lines, card["holes"], strict=True):
            for key in ("par", "length_yd", "shots", "score", "to_par", "strokes_gained", "unvalued", "complete"):
                assert same(line[key], hole[key]), f"{row['played_on']}, hole {line['hole']}: {key}"
            if hole["putts"] is not None:
                assert (line["putts"], line["penalty_strokes"]) == (hole["putts"], hole["penalty_strokes"])


def test_the_round_made_by_hand(season_engine: sa.Engine) -> None:
    """Hole 1: 4 strokes. Hole 2: lost, again from the tee, holed from 18 ft: 4. Hole 3 picked up, hole 4 not played."""
    rounds = told(season_engine, "rounds")
    row = rounds[rounds["player"].eq("Ash")].iloc[0]
    assert row["played_on"] == date(2026, 5, 1)
    assert (row["holes"], row["holes_complete"], row["par"], row["score_of_complete_holes"]) == (4, 2, 16, 8)
    assert pd.isna(row["score"])
    assert (row["to_par"], row["putts"], row["penalty_strokes"]) == (0, 3, 1)
    assert (row["shots"], row["unvalued"], row["extra_shots"]) == (7, 1, 1)
    by_hand = 3.99 - 4 + float(TOUR.expected("tee", 380.0)[0]) - 4
    assert row["strokes_gained"] == pytest.approx(by_hand, abs=EXACT)


def test_a_shot_carries_the_conditions_of_its_round_and_how_lengths_were_taken(season_engine: sa.Engine) -> None:
    with reading(season_engine) as connection:
        frame = shots_frame(connection, Selection())
    mine = frame[frame["player"].eq("Ash") & frame["played_on"].eq("2026-05-01")]
    assert set(map(tuple, mine[["wind_mph", "firmness", "lengths_taken"]].to_numpy())) == {(12.0, "firm", "paced")}
    assert mine["temperature_c"].isna().all()
    others = frame[frame["player"].eq("Ash") & frame["played_on"].ne("2026-05-01")]
    assert others[["wind_mph", "firmness", "lengths_taken"]].isna().all(axis=None)


def test_holes_carry_their_conditions_and_wind_goes_on(season_engine: sa.Engine) -> None:
    holes = told(season_engine, "holes")
    mine = holes[holes["player"].eq("Ash") & holes["played_on"].eq(date(2026, 5, 1))]
    names = ["hole", "wind", "wind_from_deg", "pin_depth"]
    rows = [[None if pd.isna(cell) else cell for cell in row] for row in mine[names].to_numpy()]
    assert rows == [
        [1, None, None, None],
        [2, "fresh", 90.0, None],
        [3, "fresh", 90.0, "front"],
        [4, "fresh", 90.0, None],
    ]
    others = holes.drop(mine.index)
    assert others[["wind", "wind_from_deg", "pin_depth", "pin_side"]].isna().all(axis=None)
    rounds = told(season_engine, "rounds")
    speeds = rounds.loc[rounds["player"].eq("Ash"), "green_speed_ft"]
    assert speeds.dropna().tolist() == [10.5]


def test_a_round_without_shots_is_listed_and_one_of_another_year_is_not(season_engine: sa.Engine) -> None:
    rounds = told(season_engine, "rounds")
    own = rounds[rounds["player"].eq("Ash")]
    assert [str(day) for day in own["played_on"]] == ["2026-05-01", "2026-07-01", "2026-08-01"]
    empty = own.iloc[2]
    assert (empty["shots"], empty["holes"], empty["par"]) == (0, 1, 4)
    assert pd.isna(empty["strokes_gained"])
    assert pd.isna(empty["score"])
    before = told(season_engine, "rounds", year=2025)
    assert [str(day) for day in before["played_on"]] == ["2025-08-01"]


def test_clubs_of_the_season(season_engine: sa.Engine) -> None:
    clubs = told(season_engine, "clubs")
    own = clubs[clubs["player"].eq("Ash")]
    assert list(zip(own["club"], own["shots"], strict=True)) == [
        ("8 iron", 3),
        ("driver", 5),
        ("late iron", 0),
        ("putter", 5),
    ]
    assert str(own.set_index("club")["retired_on"]["late iron"]) == "2026-03-01"
    assert "old iron" in set(told(season_engine, "clubs", year=2025)["club"])


def test_setups_that_were_in_force(season_engine: sa.Engine) -> None:
    setups = told(season_engine, "setups")
    own = setups[setups["player"].eq("Ash")]
    assert [(str(row.since), str(row.until), row.note, row.club) for row in own.itertuples()] == [
        ("2025-06-01", "2026-05-31", "=second", "driver"),
        ("2026-06-01", "None", "third", "driver"),
    ]
    shots = told(season_engine, "shots")
    drives = shots[shots["player"].eq("Ash") & shots["club"].eq("driver")]
    assert set(drives["setup"]) == set(own["setup"]) == {"2025-06-01 =second", "2026-06-01 third"}
    assert set(drives["club_id"]) == set(own["club_id"])


def test_ids_join_the_tables(season_engine: sa.Engine) -> None:
    shots, rounds, clubs = (told(season_engine, name) for name in ("shots", "rounds", "clubs"))
    assert set(shots["round_id"]) <= set(rounds["round_id"])
    assert set(shots["club_id"]) <= set(clubs["club_id"])
    for name, key in (("shots", ["shot_id"]), ("holes", ["round_id", "hole"]), ("club_summary", ["player_id", "club"])):
        assert not told(season_engine, name).duplicated(key).any()


@pytest.mark.parametrize("name", some(["shots", "holes", "rounds"], 0, 2))
def test_the_size_of_the_pieces_changes_nothing(
    season_engine: sa.Engine, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    whole = written(season_engine, name, "csv")
    monkeypatch.setattr(seasons, "SHOTS_AT_ONCE", 150)
    assert written(season_engine, name, "csv") == whole


def test_only_the_players_that_may_be_read_are_exported(season_engine: sa.Engine) -> None:
    for name in ("shots", "rounds", "clubs", "setups", "club_summary"):
        assert set(told(season_engine, name)["player"]) == set(NAMES)
        assert set(told(season_engine, name, players={named("Ash")})["player"]) == {"Ash"}
        assert len(told(season_engine, name, players=set())) == 0
