"""The valuation vectors are what the software says now, and a subset of them is what a pencil says."""

from __future__ import annotations

import json
from collections import Counter

import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import BASES, LIE_NOT_IN_BASELINE
from server.game.lies import LIES
from server.game.penalties import REASONS
from tests.vectors.make_valuation import PATH, made_now, score_of_record
from tests.vectors.valuation_cases import PRINTED_YD

VECTORS = json.loads(PATH.read_text(encoding="utf-8"))
CASES = {case["name"]: case for case in VECTORS["cases"]}
AGREEMENT = 1e-9
"""What Python and the browser must agree to."""

# case -> strokes gained in the order of the shots, from printed rows of the tables by hand
BY_HAND = {
    # tee 400 3.99; fairway 150 (2.91 + 2.98) / 2 = 2.945; green 18 ft 1.78 + 0.6 * 0.09 = 1.834; green 2 ft 1.01
    "par 4 in four": [3.99 - 2.945 - 1, 2.945 - 1.834 - 1, 1.834 - 1.01 - 1, 1.01 - 1],
    # tee 172: 2.99 + 0.6 * 0.06
    "par 3 in one": [3.026 - 1],
    "out of bounds off the tee": [-2.0, 4.005 - 1.78 - 1, 0.78],
    "lost in the rough": [-2.0, 3.475 - 1.78 - 1, 0.78],
    # tee 410 4.005, fairway 160 2.98, green 15 ft 1.78
    "out of bounds, fairway drop": [4.005 - 2.98 - 3, 2.98 - 1.78 - 1, 0.78],
    # fairway 200 3.19, rough 81 2.96 + 0.1 * 0.03
    "penalty area, relief": [3.19 - 2.963 - 2, 2.963 - 1.78 - 1, 0.78],
    # sand 22: 2.53 + 0.2 * 0.13
    "unplayable in sand, inside": [2.98 - 2.556 - 2, 2.556 - 1.78 - 1, 0.78],
    # green 27 ft: 1.87 + 0.7 * 0.11
    "general penalty": [2.98 - 1.947 - 3, 1.947 - 1.78 - 1, 0.78],
    "lost, no further shot": [-2.0],
    "penalty area, no further shot": [None],
    "picked up without an end": [4.4425 - 3.767 - 1, None],
    # tee 505 4.41 + 0.25 * 0.13, rough 266 3.74 + 0.3 * 0.09, sand 35 2.66 + 0.5 * 0.16
    "picked up with an end": [4.4425 - 3.767 - 1, 3.767 - 2.74 - 1],
    "a number is missing": [None, 0.56],
    "two shots with one number": [None, None, None, 0.56],
    "a shot after the hole": [3.99 - 2.945 - 1, 2.945 - 1.56 - 1, 0.56, None],
    # scores 4 from tee 389: 3.96 + 0.45 * 0.03 = 3.9735; rough 141 3.154; green 24 ft 1.914; 1.5 ft 1.0075
    "hole written down backwards": [1.0075 - 1, 1.914 - 1.0075 - 1, 3.154 - 1.914 - 1, 3.9735 - 3.154 - 1],
}
SCORES = {
    "par 4 in four": 4,
    "par 3 in one": 1,
    "out of bounds off the tee": 4,
    "out of bounds, fairway drop": 5,
    "general penalty": 5,
    "out of bounds twice": 5,
    "one stroke as ruled, holed": 3,
    "picked up with an end": None,
    "a number is missing": None,
    "two shots with one number": None,
    "a shot after the hole": None,
    "extra balls, written down crosswise": 4,
    "no ball of record": None,
}


def test_file_is_what_would_be_written_now():
    """After a wanted change: python -m tests.vectors.make_valuation"""
    assert PATH.read_text(encoding="utf-8") == made_now()


def test_file_names_the_baseline():
    tour = load_baseline("tour")
    assert VECTORS["baseline"] == {"id": tour.id, "version": tour.version}


@pytest.mark.parametrize("name", BY_HAND)
def test_values_by_hand(name):
    got = [row["strokes_gained"] for row in CASES[name]["expected"]]
    assert got == [wanted if wanted is None else pytest.approx(wanted, abs=AGREEMENT) for wanted in BY_HAND[name]]


@pytest.mark.parametrize("name", SCORES)
def test_scores_by_hand(name):
    assert CASES[name]["score"] == SCORES[name]


def test_vectors_reach_everything():
    shots = [shot for case in VECTORS["cases"] for shot in case["shots"]]
    rows = [row for case in VECTORS["cases"] for row in case["expected"]]
    # the tour baseline has a row for every lie, so that one basis cannot occur with it
    assert {row["basis"] for row in rows} == set(BASES) - {LIE_NOT_IN_BASELINE}
    assert {shot["lie"] for shot in shots} >= set(LIES)
    assert {shot["penalty_reason"] for shot in shots} == {*REASONS, None}
    assert {shot["penalty_strokes"] for shot in shots} == {0, 1, 2}
    assert {case["kind"] for case in VECTORS["cases"]} == {"casual", "practice"}
    starts = Counter((shot["lie"], row["basis"]) for shot, row in zip(shots, rows, strict=True))
    ends = Counter((row["end_lie"], row["basis"]) for row in rows)
    assert all(counts[lie, basis] for counts in (starts, ends) for lie in LIES for basis in ("printed", "extended"))
    assert len(CASES) == len(VECTORS["cases"])


@pytest.mark.parametrize("lie", LIES)
def test_printed_edges_are_in_the_vectors(lie):
    wanted = set(PRINTED_YD[lie])
    starts = {shot["distance_yd"] for case in VECTORS["cases"] for shot in case["shots"] if shot["lie"] == lie}
    ends = {row["end_distance_yd"] for case in VECTORS["cases"] for row in case["expected"] if row["end_lie"] == lie}
    assert wanted <= starts
    assert wanted <= ends
    rows = load_baseline("tour").about.rows["fairway" if lie == "fringe" else lie][0]
    assert (rows[0], rows[-1]) == PRINTED_YD[lie]


def test_holes_with_a_score_telescope():
    tour = load_baseline("tour")
    scored = [case for case in VECTORS["cases"] if case["score"] is not None]
    whole = [case for case in scored if all(row["strokes_gained"] is not None for row in case["expected"])]
    assert len(whole) > 40
    for case in whole:
        first = next(shot for shot in case["shots"] if shot["ball"] == 1 and shot["order"] == 1)
        start = tour.expected(first["lie"], first["distance_yd"])[0]
        assert case["strokes_gained_of_record"] == pytest.approx(start - case["score"], abs=AGREEMENT), case["name"]


def test_score_of_record_counts_strokes_and_penalties():
    shots = [
        {"ball": 2, "order": 1, "holed": True, "penalty_strokes": 2},
        {"ball": 1, "order": 2, "holed": True, "penalty_strokes": 0},
        {"ball": 1, "order": 1, "holed": False, "penalty_strokes": 1},
    ]
    assert score_of_record(shots) == 3
    assert score_of_record(shots[:2]) is None
    assert score_of_record(shots[:1]) is None
    assert score_of_record([]) is None
