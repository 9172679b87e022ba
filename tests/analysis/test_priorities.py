"""Priorities: none for a player like the baseline, the planted weakness for another, plain sentences for too little."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.multitest import multipletests

from server.analysis.evidence.priorities import LEAST_ROUNDS, WORTH_A_ROUND, cell_words, discoveries, priorities
from server.analysis.evidence.priority_words import next_step
from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.game.categories import CategoryScheme
from tests.analysis.fair_player import fair_rounds
from tests.tiers import count, some

TOUR = load_baseline("tour")
SEASONS = 200


@pytest.fixture(scope="module")
def fair() -> pd.DataFrame:
    """Rounds of a player whose true expected strokes are the tour table."""
    return attribute(fair_rounds(2, 12 * SEASONS, TOUR), TOUR)


def season(valued: pd.DataFrame, number: int, rounds: int) -> pd.DataFrame:
    first = valued["round_id"].searchsorted([number * rounds, (number + 1) * rounds])
    return valued.iloc[first[0] : first[1]]


def test_the_fair_player_is_fair(fair: pd.DataFrame):
    """Mean strokes gained of every category within 3.5 standard errors of 0, and shots of every category."""
    for _, part in fair.groupby("category", observed=True)["strokes_gained"]:
        assert len(part) > 5000
        assert abs(part.mean()) < 3.5 * part.std() / np.sqrt(len(part))
    assert 0.5 < fair["strokes_gained"].std() < 0.7
    scores = fair.groupby("round_id").size()
    assert 60 < scores.mean() < 78


@pytest.mark.simulation
@pytest.mark.parametrize(("rounds", "seasons"), some([(6, 200), (12, 200), (40, 60)], 1))
def test_a_player_equal_to_the_baseline_gets_no_priority_in_nine_seasons_of_ten(
    fair: pd.DataFrame, rounds: int, seasons: int
):
    named = [
        len(priorities(season(fair, number, rounds), "tour")["priorities"])
        for number in range(count(seasons // 4, seasons))
    ]
    assert np.mean(np.array(named) > 0) <= 0.10


COURSES = {"one hard course": ["hard"], "half on it": ["hard", "fair"], "a third on it": ["hard", "fair", "too"]}


@pytest.mark.simulation
@pytest.mark.parametrize("courses", COURSES)
@pytest.mark.parametrize(("rounds", "seasons"), some([(6, 400), (12, 200), (40, 60)], 1))
def test_a_course_2_strokes_harder_is_no_weakness(fair: pd.DataFrame, courses: str, rounds: int, seasons: int) -> None:
    """A player equal to the baseline, rounds on courses in turn, one of them 2 strokes harder in all shots alike: at
    most 12 % of seasons name anything, and two Monte-Carlo errors."""
    names = np.array(COURSES[courses])[fair["round_id"].to_numpy() % len(COURSES[courses])]
    lost = np.where(names == "hard", 2 / (len(fair) / fair["round_id"].nunique()), 0.0)
    days = pd.Timestamp("2026-01-01") + pd.to_timedelta(fair["round_id"], "D")
    harder = fair.assign(course=names, played_on=days, strokes_gained=fair["strokes_gained"] - lost)
    taken = min(count(seasons // 8, seasons), len(np.unique(fair["round_id"])) // rounds)
    named = [len(priorities(season(harder, number, rounds), "tour")["priorities"]) for number in range(taken)]
    assert np.mean(np.array(named) > 0) <= 0.12 + 2 * np.sqrt(0.12 * 0.88 / taken)


def test_courses_are_allowed_for_in_words_and_figures(fair: pd.DataFrame) -> None:
    part = season(fair, 1, 12)
    worse = part.assign(strokes_gained=part["strokes_gained"] - 0.3, course="North")
    found = priorities(worse, "tour")
    assert found["courses"] is not None
    assert found["courses"].startswith("Played on one course: ")
    assert "the intervals allow for some 2.5 strokes a round" in found["courses"]
    for cell in found["priorities"]:
        assert cell["adjusted"] == pytest.approx(cell["per_round"], abs=1e-12)
        assert cell["adjusted_low"] < cell["low"] < cell["high"] < cell["adjusted_high"]  # type: ignore[operator]
        assert "with courses allowed for" in cell["words"]
    mixed = worse.assign(
        course=np.where(worse["round_id"] % 4 == 0, "North", "South"),
        played_on=pd.Timestamp("2026-01-01") + pd.to_timedelta(worse["round_id"], "D"),
    )
    mixed["strokes_gained"] += np.where(mixed["course"] == "South", -0.1, 0.0)
    cells = priorities(mixed, "tour")["cells"]
    # most rounds were on the hard course, so that the average course costs less
    assert sum(cell["adjusted"] or 0.0 for cell in cells) > sum(cell["per_round"] for cell in cells) + 0.5


WEAK_SEASONS = count(20, 60)


@pytest.mark.simulation
def test_a_planted_weakness_is_named_first(fair: pd.DataFrame):
    """Putts of 15 to 30 ft lose 0.35 a shot more, about 1.3 strokes a round: named first in nearly every season of 20
    rounds."""
    far = fair["category"].eq("putting") & fair["distance_yd"].between(5.001, 10)
    worse = fair.assign(strokes_gained=fair["strokes_gained"] - 0.35 * far)
    shots_a_round = far.sum() / fair["round_id"].nunique()
    found = [priorities(season(worse, number, 20), "tour")["priorities"] for number in range(WEAK_SEASONS)]
    first = [named[0]["cell"] if named else "" for named in found]
    assert first.count("putting|15 to 30 ft") >= 0.9 * WEAK_SEASONS
    sizes = [named[0]["strokes_a_round"] for named in found if named]
    # shrunk towards the player's other cells, so a little less than what was planted
    assert 0.5 * 0.35 * shots_a_round < np.mean(sizes) < 1.1 * 0.35 * shots_a_round


def test_cells_sum_to_the_round(fair: pd.DataFrame):
    part = season(fair, 0, 12)
    found = priorities(part, "tour")
    assert sum(cell["per_round"] for cell in found["cells"]) == pytest.approx(
        part["strokes_gained"].sum() / 12, abs=1e-9
    )
    assert sum(cell["shots"] for cell in found["cells"]) == len(part)
    assert found["cells"] == sorted(found["cells"], key=lambda cell: cell["per_round"])


def test_at_most_three_are_named_and_each_says_what_it_must(fair: pd.DataFrame):
    part = season(fair, 1, 12)
    worse = part.assign(strokes_gained=part["strokes_gained"] - 0.3)
    found = priorities(worse, "tour")
    assert len(found["priorities"]) == 3
    assert sum(cell["named"] for cell in found["cells"]) > 3
    for named in found["priorities"]:
        assert named["strokes_a_round"] >= WORTH_A_ROUND
        assert named["words"].startswith(named["what"])
        for words in ("strokes a round against tour", "90 % interval", "rounds", "in 100", "Next: "):
            assert words in named["words"]
        assert "nan" not in named["words"]
    assert [named["strokes_a_round"] for named in found["priorities"]] == sorted(
        (named["strokes_a_round"] for named in found["priorities"]), reverse=True
    )


def test_other_categories_have_their_cells_too(fair: pd.DataFrame):
    shots = fair_rounds(5, 8, TOUR)
    found = priorities(attribute(shots, TOUR, CategoryScheme("three_part")), "tour")
    assert {cell["category"] for cell in found["cells"]} == {"long_game", "short_game", "putting"}
    for cell in found["cells"]:
        assert cell_words(cell["category"], cell["distance"]).split()[0] in ("Tee", "Shots", "Putts")


@pytest.mark.parametrize(
    ("rounds", "words"),
    [(0, "No round with strokes gained"), (1, "One round with"), (4, "4 rounds with strokes gained")],
)
def test_too_few_rounds_are_a_sentence(fair: pd.DataFrame, rounds: int, words: str):
    part = fair[fair["round_id"] < rounds]
    found = priorities(part, "tour")
    assert found["priorities"] == found["cells"] == []
    assert found["words"].startswith(words)
    assert str(LEAST_ROUNDS) in found["words"]


def test_all_shots_equal_names_nothing(fair: pd.DataFrame):
    """No spread, no judgement: never a division by it."""
    part = season(fair, 0, 12)
    found = priorities(part.assign(strokes_gained=-0.5 * part["order"].eq(1)), "tour")
    assert all(cell["chance_of_loss"] is None or 0 <= cell["chance_of_loss"] <= 1 for cell in found["cells"])
    assert found["words"]


def test_discoveries_agree_with_statsmodels():
    draw = np.random.default_rng(3)
    for size in (1, 2, 7, 15):
        for _ in range(20):
            p = np.where(draw.random(size) < 0.4, draw.random(size) * 0.05, draw.random(size))
            theirs = multipletests(p, alpha=0.1, method="fdr_bh")[0]
            assert discoveries(p, 0.1).tolist() == theirs.tolist()
    assert discoveries(np.array([]), 0.1).tolist() == []


def test_words_of_cells():
    assert cell_words("off_the_tee", "par 4 and 5") == "Tee shots on par 4 and 5"
    assert cell_words("approach", "150 to 200 yd") == "Approach shots from over 150 to 200 yd"
    assert cell_words("approach", "200 to 700 yd") == "Approach shots from over 200 yd"
    assert cell_words("putting", "0 to 3 ft") == "Putts up to 3 ft"
    assert cell_words("putting", "30 to 150 ft") == "Putts from over 30 ft"


def approaches(right: list[float], long: list[float]) -> pd.DataFrame:
    size = len(right)
    return pd.DataFrame(
        {"right_yd": right, "long_yd": long, "penalty_strokes": [0] * size, "end_lie": ["green"] * size}
    )


def test_the_next_step_follows_from_the_shots():
    shots = approaches([np.nan] * 15 + [1.0] * 5, [np.nan] * 15 + [1.0] * 5)
    assert "log the finish" in next_step("approach", "150 to 200 yd", shots)
    assert "5 of 20" in next_step("approach", "150 to 200 yd", shots)
    spread = [-9.0, 7.0, -3.0, 4.0, -6.0, 8.0, -2.0, 1.0, -5.0, 5.0]
    assert "look at the spread" in next_step("approach", "150 to 200 yd", approaches(spread, spread))
    # a few bad ones pull the mean clearly short, as the patterns say: so nothing is said to have no bias
    pulled = [5.0, -5.0] * 90 + [-60.0] * 20
    assert np.mean(pulled) < -2 * np.std(pulled, ddof=1) / np.sqrt(len(pulled))
    said = next_step("approach", "150 to 200 yd", approaches([4.0, -4.0] * 100, pulled))
    assert "misses go both ways" in said
    assert "no bias" not in said
    short = next_step("approach", "150 to 200 yd", approaches(spread, [value - 20 for value in spread]))
    assert "20 yd short of the target on average (100 of 100 short)" in short
    right = next_step("off_the_tee", "par 4 and 5", approaches([value + 15 for value in spread], spread))
    assert "15 yd right of the target" in right
    assert "aim and planned shape" in right
