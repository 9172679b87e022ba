"""The trend by month: a slope adjusted for courses, its rates, and words where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from server.analysis.evidence.intervals import ALIKE
from server.analysis.evidence.level import MONTH_DAYS, NO_COURSE
from server.analysis.evidence.month_trend import APART, FEW, month_trend, stated_trend
from tests.analysis.made_courses import rates, rounds_frame
from tests.tiers import count

LATE = [0] * 5 + [0, 1] * 5 + [4] * 10
"""A round a week: home, then two courses in turn, then one that is 2 strokes harder."""
HARDER = np.array([0.0, 0, 0, 0, -2])


@pytest.mark.simulation
@pytest.mark.parametrize("a_month", [0.0, 0.5])
def test_the_slope_is_held_and_a_hard_course_late_is_no_worse_form(a_month: float) -> None:
    """Bounds: 87 to 93 % held, at most 7 % called better or worse with nothing changed; three Monte-Carlo errors."""
    seasons, draw = count(200, 2000), np.random.default_rng(6)
    held = called = 0
    for _ in range(seasons):
        made = rates(draw, LATE, HARDER)
        said = stated_trend(made._replace(strokes=made.strokes + a_month * made.month), 0)
        assert said["low"] is not None
        assert said["high"] is not None
        held += int(said["low"] <= a_month <= said["high"])
        called += int(said["words"].startswith(("Better", "Worse")))
    assert held / seasons >= 0.87 - 3 * np.sqrt(0.09 / seasons)
    if not a_month:
        assert called / seasons <= 0.07 + 3 * np.sqrt(0.07 * 0.93 / seasons)


def test_on_one_course_it_is_the_line_of_least_squares() -> None:
    made = rates(np.random.default_rng(1), [0] * 20, HARDER)
    line = stats.linregress(made.month, made.strokes)
    said = stated_trend(made, 0)
    reach = stats.t.ppf(0.95, 18) * line.stderr
    assert said["a_month"] == pytest.approx(line.slope, abs=1e-9)
    assert (said["low"], said["high"]) == pytest.approx((line.slope - reach, line.slope + reach), abs=1e-6)


def test_a_month_is_a_twelfth_of_a_year_and_the_order_of_rounds_does_not_matter() -> None:
    days = ["2025-09-01", "2025-10-01", "2025-12-01", "2026-01-01", "2026-05-01", "2026-09-01"]
    level = [-6.0, -5.6, -4.4, -4.1, -2.1, 0.1]
    said = month_trend(rounds_frame(level, ["North"] * 6, days))
    assert said["months"] == pytest.approx(365 / MONTH_DAYS, abs=1e-9)
    assert said["a_month"] == pytest.approx(0.5, abs=0.02)
    assert said["words"].startswith("Better by 0.5 strokes a round each month")
    turned = month_trend(rounds_frame(level[::-1], ["North"] * 6, days[::-1]))
    for name in ("a_month", "low", "high", "chance_better", "months"):
        assert turned[name] == pytest.approx(said[name], abs=1e-9)  # type: ignore[literal-required]


def test_perhaps_is_reported_between_the_two_levels() -> None:
    made = rates(np.random.default_rng(1), [0] * 20, HARDER)
    line = stats.linregress(made.month, made.strokes)
    flat = made.strokes - line.slope * made.month
    said = stated_trend(made._replace(strokes=flat + 1.9 * line.stderr * made.month), 0)
    assert said["words"].startswith("Perhaps better")
    assert said["chance_better"] == pytest.approx(stats.t.cdf(1.9, 18), abs=1e-6)
    assert stated_trend(made._replace(strokes=flat), 0)["words"].startswith("No clear trend")


@pytest.mark.parametrize(
    ("strokes", "courses", "days", "lacking"),
    [
        ([], [], None, FEW),
        ([1.0, 2, 3, 1, 2], ["North"] * 5, None, FEW),
        ([1.0, 2, 3, 1, 2, 3, 1], ["North"] * 7, None, FEW),
        ([1.0] * 6, [None] * 6, None, NO_COURSE),
        ([1.0] * 6, ["North"] * 6, [f"2026-0{month}-01" for month in range(1, 7)], ALIKE),
        ([1.0, 2, 1, 3, 4, 3], ["North"] * 3 + ["South"] * 3, ["2026-05-01"] * 3 + ["2026-08-01"] * 3, APART),
    ],
)
def test_where_there_is_no_slope_it_says_why(
    strokes: list[float], courses: list[str | None], days: list[str] | None, lacking: str
) -> None:
    said = month_trend(rounds_frame(strokes, courses, days))
    assert said["lacking"] == lacking
    assert (said["a_month"], said["low"], said["high"], said["chance_better"]) == (None, None, None, None)
    assert lacking in said["words"]
