"""Everything that the season is meant to show occurs in it."""

import csv
import tomllib
from itertools import pairwise

import pytest

from demo_rounds import generate
from demo_rounds.course import load_course
from demo_rounds.generate import CALENDAR, FOLDER
from demo_rounds.skills import TRUTH, load_truth
from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute


@pytest.mark.parametrize("reason", ["out_of_bounds", "lost", "penalty_area", "unplayable"])
def test_each_penalty_occurs_on_the_ball_of_record(season, reason):
    record = season[season.ball == 1]
    assert (record.penalty_reason == reason).sum() >= 1
    assert set(season.penalty_strokes) == {0, 1}


def test_a_provisional_ball_becomes_the_ball_of_record(played):
    found = 0
    for ball in played:
        for before, after in pairwise(ball):
            if "provisional" in after.note and before.ball == 1:
                assert before.penalty_reason == "lost"
                assert (after.lie, after.distance) == (before.lie, before.distance)
                found += 1
    assert found >= 1


def test_extra_balls_come_from_the_same_spot_and_from_others_and_some_are_played_on(balls):
    extra = [ball for ball in balls if ball.ball.iloc[0] > 1]
    assert len(extra) > 100
    notes = {ball.note.iloc[0] for ball in extra}
    assert {"same spot, the other iron", "dropped on the fairway", "same spot, up and down again"} <= notes
    assert {len(ball) for ball in extra} == {1, 2}
    ended = [ball for ball in extra if ball.end_lie.iloc[-1] != ""]
    assert len(ended) > 0.8 * len(extra)


def test_the_other_iron_is_hit_from_the_lie_and_distance_of_the_first(season):
    again = season[season.note == "same spot, the other iron"]
    assert len(again) >= 20
    record = season[(season.ball == 1) & (season.swing == "full")]
    for extra in again.itertuples():
        same = record[
            (record.played_on == extra.played_on)
            & (record.hole == extra.hole)
            & (record.lie == extra.lie)
            & (record.distance == extra.distance)
        ]
        other = {"4 iron A": "4 iron B", "4 iron B": "4 iron A"}[extra.club]
        assert other in set(same.club)


def test_two_holes_were_picked_up_one_with_an_end_and_one_without(season):
    entries = tomllib.loads(CALENDAR.read_text(encoding="utf-8"))["picked_up"]
    picked = season[season.said == "no"]
    assert len(picked) == len(entries) == 2
    assert set(picked.ball) == {1}
    for entry in entries:
        row = picked[(picked.played_on == entry["day"].isoformat()) & (picked.hole == entry["hole"])].iloc[0]
        assert row["shot"] == entry["after_shot"]
        assert (row["end_lie"] != "") is entry["end_entered"]
    assert {entry["end_entered"] for entry in entries} == {True, False}


def test_part_swings_strikes_and_every_shape_occur(season):
    part = season[season.swing == "part"]
    assert part.target_yd.notna().all()
    assert (part.target_yd > 100).sum() > 50
    assert set(season.actual_shape) == {"", "draw", "straight", "fade"}
    assert (season.planned_shape != season.actual_shape).sum() > 50
    assert set(season.strike) == {"", "centre", "heel", "toe", "high", "low", "thin", "fat"}
    assert set(season.lie) == {"tee", "fairway", "fringe", "rough", "sand", "recovery", "green"}


def test_the_setup_change_has_a_date_in_both_files_with_rounds_before_and_after(season):
    change = tomllib.loads(TRUTH.read_text(encoding="utf-8"))["setup_change"][0]
    with (FOLDER / "setups.csv").open(encoding="utf-8") as file:
        setups = list(csv.DictReader(file))
    dates = [setup["since"] for setup in setups if setup["club"] == change["club"]]
    assert change["since"].isoformat() in dates
    assert len(dates) == 2
    drives = season[season.club == change["club"]]
    after = drives.played_on >= change["since"].isoformat()
    assert drives[after].played_on.nunique() >= 12
    assert drives[~after].played_on.nunique() >= 12


def test_the_balls_take_turns_and_neither_height_nor_ball_changes_a_shot(season, monkeypatch):
    labels = season.groupby("played_on").ball_label.unique()
    assert labels.map(len).eq(1).all()
    assert list(labels.map(lambda found: found[0])) == ["yellow Marigold", "white Curlew"] * 15
    calendar = tomllib.loads(CALENDAR.read_text(encoding="utf-8"))
    calendar = calendar | {"rounds": calendar["rounds"][:2], "picked_up": []}
    told = generate.season([load_truth()], load_course(), calendar)
    monkeypatch.setattr(generate, "HEIGHT_LOGGED", 0.0)
    untold = generate.season([load_truth()], load_course(), {**calendar, "balls": []})
    assert {row["ball_label"] for row in untold} == {""}
    heights = [row.pop("planned_height", "") for row in told]
    assert set(heights) == {"", "low", "normal", "high"}
    assert [row | {"ball_label": ""} for row in told] == untold


def test_both_irons_on_trial_are_carried_in_practice_and_each_in_half_of_the_counting_rounds(season):
    calendar = tomllib.loads(CALENDAR.read_text(encoding="utf-8"))["rounds"]
    for day, kind, _, irons in calendar:
        used = set(season[season.played_on == day].club) & {"4 iron A", "4 iron B"}
        assert used == ({"4 iron A", "4 iron B"} if irons == "both" else {f"4 iron {irons}"})
        assert (irons == "both") == (kind == "practice")


def test_all_but_the_picked_up_shot_without_an_end_have_a_value(season):
    valued = attribute(season, load_baseline("tour"))
    without = valued[valued.strokes_gained.isna()]
    assert list(without.basis) == ["no_end"]
    assert list(without.said) == ["no"]
