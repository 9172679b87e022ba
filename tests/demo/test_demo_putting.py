"""What the evidence says of the invented season against its written truth: putting, part swings, priorities."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from demo_rounds.course import load_course
from demo_rounds.generate import CALENDAR, COLUMNS, FOLDER
from demo_rounds.generate import season as played
from demo_rounds.skills import load_truth
from demo_rounds.swings import make_rate
from server.analysis.evidence.priorities import priorities
from server.analysis.expected_strokes.baseline import load_baseline, make_baseline
from server.analysis.expected_strokes.fit import fit_baseline, strokes_to_hole_out
from server.analysis.patterns.part_swings import part_swings
from server.analysis.putting.putts import putting_report
from server.analysis.strokes_gained.attribution import attribute
from tests.demo.conftest import as_frame
from tests.tiers import count

TOUR = load_baseline("tour")
PLAYER = load_truth()


def prepared(season: pd.DataFrame) -> pd.DataFrame:
    """A season as an analysis gets it: no setups, sorts from the clubs' file."""
    sorts = pd.read_csv(FOLDER / "clubs.csv").set_index("label")["sort"]
    return season.assign(
        sort=season["club"].map(sorts),
        setup=None,
        picked_up=season["said"].eq("no"),
        played_on=pd.to_datetime(season["played_on"]),
        swing=season["swing"].replace("", None),
    )


@pytest.fixture(scope="module")
def valued(season: pd.DataFrame) -> pd.DataFrame:
    """The shipped season, valued."""
    return attribute(prepared(season), TOUR)


def other_season(seed: int) -> pd.DataFrame:
    """Another season of the same player, valued."""
    calendar = tomllib.loads(CALENDAR.read_text(encoding="utf-8")) | {"picked_up": []}
    rows = pd.DataFrame(played([PLAYER], load_course(), calendar, seed)).drop(columns=["spot"])
    cells = rows.reindex(columns=COLUMNS).astype("object").where(rows.reindex(columns=COLUMNS).notna(), "")
    return attribute(prepared(as_frame(cells.astype(str))), TOUR)


def test_the_true_make_rate_lies_inside_the_interval_at_every_length(valued: pd.DataFrame):
    report = putting_report(valued)
    assert report["putts"] > 900
    for row in report["curve"]:
        assert row["low"] < make_rate(PLAYER.putting, row["feet"]) < row["high"], row
        assert row["high"] - row["low"] < 0.11


def test_part_swings_lean_as_the_truth_does(valued: pd.DataFrame):
    """Truth: 2.5 % long from 60 yd on, less what mishits lose; a 98 % interval holds what the truth expects of them."""
    full_game = valued[valued["swing"].ne("part") | valued["target_yd"].ge(PLAYER.short_game_below_yd)]
    found = part_swings(full_game, level=0.98)
    tapped = full_game[full_game["swing"].eq("part") & full_game["long_yd"].notna()]
    expected = [
        PLAYER.part_swing(row.club, row.lie, row.target_yd, date(2026, 5, 1)).moments(row.target_yd).long_mean
        for row in tapped.itertuples()
    ]
    total = found["total"]
    assert total["low"] < np.mean(expected) < total["high"]
    assert found["measured"] >= len(tapped) > 80


def by_cell(valued: pd.DataFrame) -> dict[str, float]:
    return {cell["cell"]: cell["per_round"] for cell in priorities(valued, "tour")["cells"]}


@pytest.mark.simulation
def test_priorities_name_what_is_weak_in_truth(valued: pd.DataFrame):
    """The truth is what 16 other seasons of the same skills lose, 480 rounds, to 0.05 strokes a round: priorities are
    the three greatest true losses, the first first, and their sizes are right to a quarter of a stroke."""
    seasons = [by_cell(other_season(seed)) for seed in range(1, count(8, 16) + 1)]
    truth = {cell: float(np.mean([one[cell] for one in seasons])) for cell in seasons[0]}
    greatest = sorted(truth, key=lambda cell: truth[cell])
    named = priorities(valued, "tour")["priorities"]
    assert {one["cell"] for one in named} == set(greatest[:3])
    assert named[0]["cell"] == greatest[0] == "off_the_tee|par 4 and 5"
    for one in named:
        assert one["strokes_a_round"] == pytest.approx(-truth[one["cell"]], abs=0.25)


def test_against_the_own_baseline_nothing_stands_out(season: pd.DataFrame, valued: pd.DataFrame):
    rows = fit_baseline(strokes_to_hole_out(valued), TOUR).rows
    tables = {
        str(lie): (part["distance_yd"].to_numpy(), part["expected"].to_numpy())
        for lie, part in rows.groupby("lie", sort=False)
    }
    again = attribute(prepared(season), make_baseline(replace(TOUR.about, id="own", rows=tables)))
    found = priorities(again, "own")
    assert found["priorities"] == []
    assert found["words"].startswith("Nothing stands out in ")
    ours, theirs = (abs(table[table["ball"].eq(1)]["strokes_gained"].sum()) for table in (again, valued))
    assert ours < theirs / 4
