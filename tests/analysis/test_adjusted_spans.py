"""Two spans adjusted for courses: a harder course is not called worse play, and worse play still is."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.evidence.adjusted_spans import (
    FEW,
    NO_COURSE,
    NONE_SHARED,
    Adjusted,
    TwoRates,
    adjusted_difference,
    courses_words,
    is_sure,
    verdict,
)
from server.analysis.evidence.intervals import ALIKE
from server.analysis.evidence.level import round_rates
from server.analysis.evidence.two_spans import SHARED, compare
from tests.analysis.made_courses import rates, rounds_frame
from tests.tiers import count

HARDER = np.array([0.0, 0, 0, 0, -2])
"""Course 4 is 2 strokes harder."""
SPANS = {
    "home, then half of it on the harder course": ([0] * 10 + [4] * 10, [0] * 20),
    "two courses, the harder one oftener": ([0] * 5 + [4] * 15, [0] * 15 + [4] * 5),
    "the harder one in place of another": ([0] * 10 + [4] * 10, [0] * 10 + [1] * 10),
    "six rounds each": ([0] * 3 + [4] * 3, [0] * 6),
    "no course in both": ([0, 4] * 10, [1, 2] * 10),
    "one course each": ([4] * 20, [0] * 20),
    "five courses, the harder one new": ([0, 1, 2, 3] * 3 + [4] * 8, [0, 1, 2, 3] * 5),
}


def said(first: list[int], second: list[int], worse: float, seasons: int) -> tuple[float, float, float]:
    """How often the first span is called better and worse, and how often its interval leaves out the truth, which is
    `worse` strokes a round lost."""
    draw = np.random.default_rng(11)
    better = poorer = missed = 0
    for _ in range(seasons):
        both = TwoRates(rates(draw, first, HARDER, -worse), rates(draw, second, HARDER))
        found = adjusted_difference(both, 0.9)
        if found["adjusted"] is None:
            continue
        assert found["adjusted_low"] is not None
        assert found["adjusted_high"] is not None
        missed += int(not found["adjusted_low"] <= -worse <= found["adjusted_high"])
        better += int(is_sure(found["chance_first_better"]) and found["adjusted"] > 0)
        poorer += int(is_sure(found["chance_first_better"]) and found["adjusted"] < 0)
    return better / seasons, poorer / seasons, missed / seasons


@pytest.mark.simulation
@pytest.mark.parametrize("spans", SPANS)
def test_a_harder_course_is_not_called_worse_play(spans: str) -> None:
    """Nothing changed but the courses: "better" or "worse" in at most 7 % of pairs of spans, both ways together."""
    seasons = count(60, 2000)
    better, poorer, missed = said(*SPANS[spans], 0.0, seasons)
    assert better + poorer <= 0.07 + 2 * np.sqrt(0.07 * 0.93 / seasons)
    assert missed <= 0.14 + 3 * np.sqrt(0.1 * 0.9 / seasons)


@pytest.mark.simulation
def test_worse_play_is_still_seen() -> None:
    """Four strokes a round worse, both spans on the same two courses: said in most pairs of spans."""
    _, poorer, _ = said([0] * 5 + [4] * 15, [0] * 15 + [4] * 5, 4.0, count(60, 1000))
    assert poorer > 0.85


def test_on_the_same_single_course_it_is_students_difference() -> None:
    """One course says nothing of courses: the pooled two-sample t."""
    draw = np.random.default_rng(1)
    both = TwoRates(rates(draw, [0] * 8, HARDER, 1), rates(draw, [0] * 8, HARDER))
    found = adjusted_difference(both, 0.9)
    first, second = both.first.strokes, both.second.strokes
    error = np.sqrt((first.var(ddof=1) + second.var(ddof=1)) / 8)
    assert found["adjusted"] == pytest.approx(first.mean() - second.mean(), abs=1e-6)
    assert found["adjusted_high"] == pytest.approx(first.mean() - second.mean() + 1.761310 * error, abs=1e-4)


def test_far_apart_courses_leave_what_differs_on_the_shared_one() -> None:
    draw = np.random.default_rng(2)
    far = np.array([0.0, 200.0])
    both = TwoRates(rates(draw, [0] * 6 + [1] * 14, far), rates(draw, [0] * 10, far))
    found = adjusted_difference(both, 0.9)
    on_it = both.first.strokes[both.first.course == 0].mean() - both.second.strokes.mean()
    assert found["adjusted"] == pytest.approx(on_it, abs=0.05)


def pair(first: list[str | None], second: list[str | None], day: str | None = None) -> TwoRates:
    made = []
    for place, courses in enumerate((first, second)):
        days = None if day is None else [day] * len(courses)
        frame = rounds_frame([1.0 * number + place for number in range(len(courses))], courses, days)
        made.append(round_rates(frame)[0])
    return TwoRates(*made)


@pytest.mark.parametrize(
    ("first", "second", "day", "lacking"),
    [
        (["North"] * 4, ["South"] * 4, None, NONE_SHARED),
        (["North"] * 4, ["South", "East"] * 2, None, NONE_SHARED),
        (["North"] * 4, [None] * 4, None, NO_COURSE),
        (["North"] * 4, ["North"], None, FEW),
        (["North"] * 4, ["North"] * 4, "2026-05-01", FEW),
        (["North"] * 4, ["North"] * 4, None, None),
    ],
)
def test_why_courses_cannot_be_taken_out(
    first: list[str | None], second: list[str | None], day: str | None, lacking: str | None
) -> None:
    found = adjusted_difference(pair(first, second, day), 0.9)
    assert found["lacking_adjusted"] == lacking
    assert (found["adjusted"] is None) == (lacking is not None)
    assert not (lacking and is_sure(found["chance_first_better"]))
    assert (lacking or "adjusted for courses and days") in verdict(found, 0.9)


@pytest.mark.parametrize(
    ("middle", "low", "high", "chance", "words"),
    [
        (2.04, 0.8, 3.2, 0.99, "Period 2 was better by 2.0 strokes a round"),
        (-2.04, -3.2, -0.8, 0.01, "Period 2 was worse by 2.0 strokes a round"),
        (1.0, 0.1, 1.9, 0.965, "Period 2 was perhaps better by 1.0 strokes a round"),
        (-1.0, -1.9, -0.1, 0.035, "Period 2 was perhaps worse by 1.0 strokes a round"),
        (
            0.3,
            -0.9,
            1.5,
            0.66,
            "No clear difference, adjusted for courses and days (+0.3, 90 % interval -0.9 to +1.5).",
        ),
    ],
)
def test_the_verdict_in_words(middle: float, low: float, high: float, chance: float, words: str) -> None:
    found: Adjusted = {
        "adjusted": middle,
        "adjusted_low": low,
        "adjusted_high": high,
        "chance_first_better": chance,
        "lacking_adjusted": None,
    }
    assert verdict(found, 0.9).startswith(words)
    sure = is_sure(found["chance_first_better"])
    assert sure == words.startswith(("Period 2 was better", "Period 2 was worse"))


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        (["North"] * 4, ["North"] * 4, "Both periods were played on the same course."),
        (["North", "South"] * 2, ["South", "North"] * 2, "Both periods were played on the same 2 courses."),
        (["North", "South"] * 2, ["South"] * 4, "Courses differ between the periods, one course in both: "),
        (["North", "South"] * 2, ["East", "West"] * 2, "No course is in both periods: "),
        (["North"] * 4, ["South"] * 4, f"The difference is not adjusted for courses: {NONE_SHARED}."),
    ],
)
def test_the_courses_in_words(first: list[str | None], second: list[str | None], words: str) -> None:
    assert courses_words(pair(first, second), 0).startswith(words)
    assert courses_words(pair(first, second), 3).endswith(" Rounds left out of it for want of a course: 3.")


def test_rounds_all_alike() -> None:
    frame = [rounds_frame([-2.0] * 4, ["North"] * 4) for _ in range(2)]
    frame[1] = frame[1].assign(round_id="other " + frame[1]["round_id"])
    assert compare(*frame, "club").total.difference["lacking_adjusted"] == ALIKE


def test_in_a_comparison_every_group_and_the_total_have_it() -> None:
    draw = np.random.default_rng(3)
    frames = []
    for name, courses, level in (("new", ["North"] * 4 + ["South"] * 6, -2.0), ("old", ["North"] * 10, 0.0)):
        on = np.array([-2.0 if course == "South" else 0.0 for course in courses])
        made = rounds_frame(list(level + on + draw.normal(0, 1, 10)), courses)
        putter = np.tile(np.arange(18) < 9, 10)
        made = made.assign(club=np.where(putter, "putter", "iron"), round_id=name + made["round_id"])
        made["strokes_gained"] += draw.normal(0, 0.1, 180)
        frames.append(made)
    found = compare(*frames, "club")
    total = found.total.difference
    assert total["per_round"] == pytest.approx(-3.2, abs=1)
    assert total["adjusted"] == pytest.approx(-2, abs=1)
    assert total["adjusted"] > total["per_round"]
    assert [row.difference["lacking_adjusted"] for row in found.rows] == [None, None]
    assert "1 courses" not in found.courses
    assert found.courses.startswith("Courses differ between the periods, one course in both")
    shared = compare(frames[0], frames[0], "club").total.difference
    assert (shared["adjusted"], shared["lacking_adjusted"]) == (None, SHARED)
