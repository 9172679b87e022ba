"""The player's level: the lasting one is held at its rate, the season's is another truth, and what cannot be told is
said in words."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.evidence.course_model import averaged
from server.analysis.evidence.intervals import ALIKE, RoundSums, per_round
from server.analysis.evidence.level import (
    DAYS_UNKNOWN,
    FEW,
    NO_COURSE,
    ONE_COURSE,
    ONE_DAY,
    ONE_DAY_EACH,
    ONE_EACH,
    Rates,
    level_of,
    stated_level,
)
from server.analysis.evidence.mixed_model import fit
from tests.analysis.made_courses import rates, rounds_frame
from tests.tiers import count, some

COURSE_SD = 3.6
"""0.05 a shot over 72 shots."""
EVEN = {20: [0, 1, 2, 3] * 5, 40: [0, 1, 2, 3] * 10}
HOME = {20: [0] * 12 + [1] * 3 + [2] * 3 + [3] * 2, 40: [0] * 24 + [1] * 6 + [2] * 5 + [3] * 5}
"""Four courses alike, and most rounds at home."""
PAIRS = ["2026-05-01", "2026-05-01", "2026-05-08", "2026-05-08", "2026-05-15", "2026-05-15"]
"""Three days of two rounds."""


def shares(played: list[int], course_sd: float, seasons: int) -> dict[str, float]:
    """How often the lasting interval, the season's and that of rounds alone hold the lasting
    level of 0, and the season's its own."""
    draw = np.random.default_rng(len(played) + 7)
    held = {"lasting": 0, "season": 0, "season_of_lasting": 0, "rounds": 0}
    for _ in range(seasons):
        effects = draw.normal(0, course_sd, 4)
        made = rates(draw, played, effects)
        said = stated_level(made, 0)
        own = effects[played].mean()
        plain = per_round(RoundSums(np.full((1, len(played)), 72.0), made.strokes[None, :]))
        for name, low, high, truth in (
            ("lasting", said["lasting"]["low"], said["lasting"]["high"], 0.0),
            ("season", said["season"]["low"], said["season"]["high"], own),
            ("season_of_lasting", said["season"]["low"], said["season"]["high"], 0.0),
            ("rounds", plain.low[0], plain.high[0], 0.0),
        ):
            assert low is not None
            assert high is not None
            held[name] += int(low <= truth <= high)
    return {name: number / seasons for name, number in held.items()}


@pytest.mark.simulation
@pytest.mark.parametrize("rounds", some([20, 40], 0))
@pytest.mark.parametrize("played", [EVEN, HOME], ids=["even", "home"])
def test_the_lasting_level_is_held_in_nine_seasons_of_ten(played: dict[int, list[int]], rounds: int) -> None:
    """Four courses of SD 3.6 strokes: rounds taken as independent hold the lasting level far too seldom, and the
    season's interval holds its own truth, not this one. Bounds: 87 to 93 % and three Monte-Carlo errors."""
    seasons = count(70, 2000)
    found = shares(played[rounds], COURSE_SD, seasons)
    more = 3 * np.sqrt(0.09 / seasons)
    assert 0.87 - more <= found["lasting"] <= 0.93 + more
    assert 0.87 - more <= found["season"] <= 0.93 + more
    assert found["rounds"] < 0.75
    assert found["season_of_lasting"] < 0.6


@pytest.mark.simulation
@pytest.mark.parametrize("course_sd", [0.0, 1.5])
def test_alike_courses_make_it_wider_never_too_sure(course_sd: float) -> None:
    seasons = count(60, 2000)
    found = shares(EVEN[20], course_sd, seasons)
    assert found["lasting"] >= 0.87 - 3 * np.sqrt(0.09 / seasons)


def test_the_lasting_mean_weighs_courses_not_rounds() -> None:
    """Twelve rounds at home and two on each of three others, courses far apart: nearly the mean of the four means."""
    played = [0] * 12 + [1, 1, 2, 2, 3, 3]
    made = rates(np.random.default_rng(2), played, np.array([0.0, 20, 40, 60]), -5.0)
    said = stated_level(made, 0)
    means = [made.strokes[made.course == code].mean() for code in range(4)]
    assert said["lasting"]["mean"] == pytest.approx(np.mean(means), abs=0.3)
    assert said["season"]["mean"] == pytest.approx(made.strokes.mean(), abs=1e-9)
    assert [row["course"] for row in said["courses"]] == [f"course {code}" for code in range(4)]
    assert [row["rounds"] for row in said["courses"]] == [12, 2, 2, 2]
    assert said["course_sd"] == pytest.approx(np.std(means, ddof=1), rel=0.5)


def test_with_many_courses_it_is_what_reml_says() -> None:
    """40 courses by 4 rounds settle their spread: mean, interval and effects as of the fitted model."""
    draw = np.random.default_rng(3)
    played = np.repeat(np.arange(40), 4)
    made = rates(draw, list(played), draw.normal(0, 2, 40), -3)
    fitted = fit(made.strokes, np.ones((160, 1)), [made.course])
    found = averaged(made.strokes, np.ones((160, 1)), made.course, made.day, made.parts)
    assert found is not None
    said = fitted.contrast([1.0])
    assert found.contrast([1.0]).mean == pytest.approx(said.estimate, abs=0.01)
    assert found.contrast([1.0]).interval(0.9) == pytest.approx(said.interval(0.9), abs=0.05)
    assert [found.course(place).mean for place in range(40)] == pytest.approx(list(fitted.effects[0]), abs=0.15)
    assert found.course_sd == pytest.approx(np.sqrt(fitted.variances[0]), rel=0.1)


def test_two_rounds_of_a_day_are_one_day() -> None:
    """Ten days of two rounds that share a strong effect of the day: nearly as wide as ten rounds, not twenty.
    The lasting level of two courses is wide for the courses, and wider for the days."""
    draw = np.random.default_rng(4)
    day = np.repeat(np.arange(10), 2)
    strokes = draw.normal(0, 4, 10)[day] + draw.normal(0, 0.5, 20)
    course = day % 2
    two = Rates(strokes, np.ones(20), course, day, day / 30, ["North", "South"], [None] * 20)
    apart = two._replace(day=np.arange(20))
    for name, factor in (("season", 1.3), ("lasting", 1.0)):
        said = [stated_level(one, 0)[name] for one in (two, apart)]  # type: ignore[literal-required]
        width = [one["high"] - one["low"] for one in said]
        assert width[0] > factor * width[1]


def test_nine_holes_weigh_half() -> None:
    made = rates(np.random.default_rng(5), [0] * 6, np.zeros(1))
    halves = made._replace(parts=np.array([1.0, 1, 1, 0.5, 0.5, 0.5]))
    said = stated_level(halves, 0)["season"]["mean"]
    assert said == pytest.approx(np.average(made.strokes, weights=halves.parts), abs=1e-9)


@pytest.mark.parametrize(
    ("courses", "days", "season", "lasting"),
    [
        ([None] * 6, None, NO_COURSE, NO_COURSE),
        (["North"] * 2, None, FEW, FEW),
        (["North", "South"] * 3, ["2026-05-01"] * 6, ONE_DAY, ONE_DAY),
        (["North"] * 6, None, None, ONE_COURSE),
        (["North", "South", "East"], None, ONE_EACH, None),
        (["North", "North", "South", "South", "East", "East"], PAIRS, ONE_DAY_EACH, None),
        (["North", "South", "North"], PAIRS[:3], DAYS_UNKNOWN, None),
        (["North", "North", "North", "South", "South", "South"], PAIRS[:2] + PAIRS[-1:] * 4, None, None),
        (["North", "South"] * 3, None, None, None),
    ],
)
def test_what_cannot_be_answered_is_words_and_no_number(
    courses: list[str | None], days: list[str] | None, season: str | None, lasting: str | None
) -> None:
    strokes = [-3.0, -1.0, -4.5, 0.5, -2.0, -6.0][: len(courses)]
    said = level_of(rounds_frame(strokes, courses, days))
    for figure, lacking in ((said["season"], season), (said["lasting"], lasting)):
        assert figure["lacking"] == lacking
        assert (figure["mean"] is None) == (lacking is not None)
        assert (figure["low"] is None) == (figure["high"] is None) == (lacking is not None)
        if lacking:
            assert lacking in said["words"]
    if lasting or season:
        assert said["courses"] == []
        assert said["course_sd"] is None
    assert "nan" not in said["words"]


def test_rounds_without_a_course_are_left_out_and_counted() -> None:
    said = level_of(rounds_frame([-3.0, -1, -4, 0, 30], ["North", "North", "South", "South", None]))
    assert (said["rounds"], said["without_course"]) == (4, 1)
    assert said["season"]["mean"] == pytest.approx(-2, abs=1e-9)
    assert "1 of the rounds" in said["words"]


def test_rounds_all_alike_have_no_spread() -> None:
    said = level_of(rounds_frame([-2.0] * 6, ["North", "South"] * 3))
    assert (said["season"]["lacking"], said["lasting"]["lacking"]) == (ALIKE, ALIKE)


def test_the_words_say_both_truths() -> None:
    words = level_of(rounds_frame([-3.0, -1.2, -4.5, 0.5, -2.0, -6.0], ["North", "South"] * 3))["words"]
    assert words.startswith("6 rounds on 2 courses. On these courses ")
    assert "In the long run, on an average course, " in words
    assert words.count("90 % interval") == 2


def test_a_level_outside_its_range_is_refused() -> None:
    with pytest.raises(ValueError, match=r"level: 1\.2 is outside"):
        level_of(rounds_frame([1.0, 2, 3], ["North"] * 3), 1.2)
