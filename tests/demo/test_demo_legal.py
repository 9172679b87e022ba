"""Every row of the shipped season keeps the rules of the import and of golf, checked here without the importer."""

import csv
import math
from itertools import pairwise

import numpy as np
import pandas as pd

from demo_rounds.course import load_course
from demo_rounds.generate import COLUMNS, FOLDER

VOCABULARY = {
    "kind": {"practice", "casual", "competition"},
    "lie": {"tee", "fairway", "fringe", "rough", "sand", "recovery", "green"},
    "unit": {"yd", "ft"},
    "said": {"", "yes", "no"},
    "penalty_strokes": {0, 1, 2},
    "penalty_reason": {"", "out_of_bounds", "lost", "penalty_area", "unplayable", "other"},
    "end_lie": {"", "tee", "fairway", "fringe", "rough", "sand", "recovery", "green"},
    "end_unit": {"", "yd", "ft"},
    "swing": {"", "full", "part"},
    "planned_shape": {"", "draw", "straight", "fade"},
    "planned_height": {"", "low", "normal", "high"},
    "actual_shape": {"", "draw", "straight", "fade"},
    "strike": {"", "centre", "heel", "toe", "high", "low", "thin", "fat"},
}


def test_header_has_the_import_columns_in_order():
    expected = (
        "player,played_on,kind,course,tees,ball_label,hole,par,length_yd,ball,shot,lie,distance,unit,club,holed,"
        "penalty_strokes,penalty_reason,end_lie,end_distance,end_unit,swing,planned_shape,planned_height,actual_shape,"
        "target_yd,right_yd,long_yd,strike,note"
    )
    assert (FOLDER / "season_2026.csv").read_text(encoding="utf-8").splitlines()[0] == expected
    assert ",".join(COLUMNS) == expected


def test_every_word_is_one_of_its_vocabulary(season):
    for column, words in VOCABULARY.items():
        strange = set(season[column]) - words
        assert not strange, f"{column}: {strange}"


def test_distances_are_whole_and_in_range(season):
    assert (season.distance % 1 == 0).all()
    assert season.distance_yd.between(0, 700, inclusive="right").all()
    assert (season.distance >= 1).all()
    on_green = season.lie == "green"
    assert (season.distance_yd[on_green] <= 50).all()
    assert (season.unit == np.where(on_green, "ft", "yd")).all()
    ended = season[season.end_lie != ""]
    assert (ended.end_unit == np.where(ended.end_lie == "green", "ft", "yd")).all()
    assert (ended.end_distance >= 1).all()
    assert ((season.end_lie == "") == season.end_distance.isna()).all()
    assert ((season.end_lie == "") == (season.end_unit == "")).all()


def test_every_ball_of_record_starts_on_the_tee_at_the_length_of_the_hole(season):
    first = season[(season.ball == 1) & (season.shot == 1)]
    assert len(first) == 30 * 18
    assert (first.lie == "tee").all()
    assert (first.distance == first.length_yd).all()


def test_shots_and_balls_are_numbered_without_gaps(balls, season):
    for ball in balls:
        assert ball.shot.tolist() == list(range(1, len(ball) + 1))
    for _, hole in season.groupby(["played_on", "hole"]):
        assert sorted(set(hole.ball)) == list(range(1, hole.ball.max() + 1))


def test_only_the_last_shot_of_a_ball_is_holed_or_has_an_end(played):
    for ball in played:
        *before, last = ball
        assert {shot.said for shot in before} <= {""}
        assert {shot.end_lie for shot in before} <= {""}
        assert last.said in {"yes", "no"} or last.end_lie != ""
        assert not (last.said == "yes" and last.end_lie != "")


def test_penalties_have_a_reason_and_lead_where_the_rules_say(played):
    """Rules of Golf 2023: 18.2b (same spot), 17.1d and 19.2 (a drop out of the water, in this season never in sand)."""
    holes = {hole.number: hole for hole in load_course().holes}
    seen = 0
    for ball in played:
        starts = [(shot.lie, shot.distance) for shot in ball]
        last = ball[-1]
        ends = [*starts[1:], (last.end_lie, last.end_distance)]
        for shot, start, end in zip(ball, starts, ends, strict=True):
            assert (shot.penalty_strokes > 0) == (shot.penalty_reason != "")
            if shot.penalty_reason in {"out_of_bounds", "lost"}:
                assert end == start
            elif shot.penalty_reason:
                assert end[0] in {"fairway", "fringe", "rough", "recovery"}
                assert end[1] < start[1]
            if shot.penalty_reason == "penalty_area":
                assert holes[shot.hole].water
            if shot.penalty_reason == "out_of_bounds":
                assert holes[shot.hole].out_of_bounds
            seen += shot.penalty_strokes > 0
    assert seen > 0


def test_the_tee_is_left_for_good_but_for_stroke_and_distance(played):
    for ball in played:
        for before, after in pairwise(ball):
            if after.lie == "tee":
                assert before.penalty_reason in {"out_of_bounds", "lost"}


def test_extra_balls_only_in_practice_and_no_more_than_14_clubs_in_a_counting_round(season):
    """Rules 5.5 and 4.1b."""
    assert set(season[season.ball > 1].kind) == {"practice"}
    for (_, kind), played in season.groupby(["played_on", "kind"]):
        clubs = set(played.club)
        if kind != "practice":
            assert len(clubs) <= 14
            assert len(clubs & {"4 iron A", "4 iron B"}) <= 1


def test_one_round_a_day_from_march_to_october_of_the_stated_kinds(season):
    rounds = season[["player", "played_on", "course", "kind", "tees"]].drop_duplicates()
    assert rounds.played_on.is_unique
    assert rounds.kind.value_counts().to_dict() == {"practice": 16, "casual": 8, "competition": 6}
    days = pd.to_datetime(rounds.played_on)
    assert set(days.dt.year) == {2026}
    assert days.dt.month.min() == 3
    assert days.dt.month.max() == 10
    assert set(rounds.tees) == {"back", "middle"}


def test_par_and_length_are_those_of_the_course(season):
    course = load_course()
    assert sum(hole.par for hole in course.holes) == 72
    for hole in course.holes:
        rows = season[season.hole == hole.number]
        assert set(rows.par) == {hole.par}
        for tees in ("back", "middle"):
            assert set(rows[rows.tees == tees].length_yd) == {hole.length(tees)}


def test_clubs_and_setups_are_those_of_the_bag(season):
    with (FOLDER / "clubs.csv").open(encoding="utf-8") as file:
        bag = list(csv.DictReader(file))
    with (FOLDER / "setups.csv").open(encoding="utf-8") as file:
        setups = list(csv.DictReader(file))
    labels = {club["label"] for club in bag}
    assert set(season.club) == labels
    assert {club["label"] for club in bag if club["on_trial"] == "yes"} == {"4 iron A", "4 iron B"}
    first_day = season.played_on.min()
    for label in labels:
        since = [setup["since"] for setup in setups if setup["club"] == label]
        assert min(since) <= first_day, f"{label} has no setup on the first day"


def test_shapes_and_finishes_stand_with_full_swings(season):
    shaped = season.planned_shape != ""
    assert (shaped == (season.actual_shape != "")).all()
    assert (season.swing[shaped] == "full").all()
    finished = season.right_yd.notna()
    assert (finished == season.long_yd.notna()).all()
    assert season.target_yd[finished].notna().all()
    assert (season.swing[season.club == "putter"] == "").all()
    assert (season.swing[season.club != "putter"] != "").all()
    full = season[(season.swing == "full") & (season.penalty_reason != "lost")]
    assert full.right_yd.notna().mean() > 0.8
    assert (season.swing[season.planned_height != ""] == "full").all()
    assert 0.3 < (season[season.swing == "full"].planned_height != "").mean() < 0.6
    assert 0.2 < (season[season.swing != ""].strike != "").mean() < 0.5


def _moved(played):
    """Shots with a finish and no penalty: (start, end) yards to the hole, along, right, target, swing."""
    for ball in played:
        last = ball[-1]
        end = 0.0 if last.holed else last.end_distance_yd
        ends = [*(shot.distance_yd for shot in ball[1:]), end]
        for shot, stop in zip(ball, ends, strict=True):
            if not math.isnan(shot.right_yd) and not shot.penalty_strokes and not shot.holed and not math.isnan(stop):
                yield shot, stop


def test_no_finish_contradicts_the_distance_of_the_next_shot(played):
    """Triangle inequality: a ball cannot come nearer to the hole, or get farther from it, than it travelled.

    Tolerance: along and right are rounded to 0.5 yd twice (target and long) and once, the end to 0.5 yd: at most 2 yd.
    """
    count = 0
    for shot, stop in _moved(played):
        travelled = math.hypot(shot.target_yd + shot.long_yd, shot.right_yd)
        assert abs(shot.distance_yd - travelled) - 2 <= stop <= shot.distance_yd + travelled + 2
        count += 1
    assert count > 1000


def test_a_chip_at_the_hole_leaves_what_its_finish_says(played):
    """Chips and pitches below 60 yd aim at the hole from a whole number of yards: end = hypot(long, right).

    Tolerance: long and right are each within 0.5 yd, the end too: sqrt(0.5) + 0.5 yd.
    """
    count = 0
    for shot, stop in _moved(played):
        if shot.swing == "part" and shot.target_yd == shot.distance_yd and shot.target_yd < 60:
            ended = max(stop, 1 / 3)
            assert abs(ended - math.hypot(shot.long_yd, shot.right_yd)) <= math.sqrt(0.5) + 0.5 + 1e-9
            count += 1
    assert count > 100
