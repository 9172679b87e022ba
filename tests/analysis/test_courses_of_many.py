"""Rounds and courses of many players at once: the sums of each player alone, and what `stated_level` tells of him."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import brentq
from scipy.special import stdtr

from server.analysis.evidence.course_model import Figure, intervals
from server.analysis.evidence.course_ratings import NONE, Ratings
from server.analysis.evidence.level import MONTH_DAYS, courses_of_many, rates_of_many, round_rates, stated_level
from server.analysis.evidence.round_lengths import has_hole, rounds_of_many
from tests.analysis.made_courses import rounds_frame

TWO, THREE = ["North", "South"], ["North", "South", "East"]


def season(*players: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray]:
    """The shots of players one behind the other, rounds of no two alike, and the place of each shot's player."""
    frames = [frame.assign(round_id=f"{place} " + frame["round_id"]) for place, frame in enumerate(players)]
    together = pd.concat(frames, ignore_index=True)
    whole = together.assign(
        round_id=pd.Categorical(together["round_id"]),
        course=pd.Categorical(together["course"].astype("object")),
    )
    return whole, np.repeat(np.arange(len(players)), [len(frame) for frame in frames])


def players() -> list[pd.DataFrame]:
    """Many rounds on three courses, with conditions, tees, two rounds a day, short rounds, extra balls and gaps; one
    round; one course; no course; equal rounds; nothing valued; two rounds; a course for some rounds, backwards."""
    draw = np.random.default_rng(4)
    days = [f"2026-05-{1 + place // 2:02d}" for place in range(24)]
    many = rounds_frame(draw.normal(0, 3, 24).tolist(), [*THREE, None] * 6, days)
    many["strokes_gained"] += draw.normal(0, 0.3, len(many))
    many["strokes_gained"] = many["strokes_gained"].mask(draw.random(len(many)) < 0.1)
    many["ball"] = np.where(draw.random(len(many)) < 0.1, 2, 1)
    many["category"] = draw.choice(["approach", "putting"], len(many))
    many = many[~(many["round_id"].isin(["round 004", "round 009"]) & many["hole"].gt(8))]
    of_round = many["round_id"].str.slice(6).astype(int)
    many = many.assign(
        tees=of_round.map(lambda place: [None, "white"][place % 2]),
        wind_mph=of_round.astype(float).mask(of_round % 5 == 0),
        firmness=of_round.map(lambda place: ["soft", None, "firm"][place % 3]),
    )
    return [
        many,
        rounds_frame([1.0], ["North"]),
        rounds_frame([1.0, 2.0, -1.0, 0.0], ["South"] * 4),
        rounds_frame([1.0, 2.0, 3.0], [None] * 3),
        rounds_frame([-2.0] * 6, TWO * 3),
        rounds_frame([np.nan] * 4, TWO * 2),
        rounds_frame([3.0, 1.0], TWO),
        rounds_frame(draw.normal(0, 3, 8).tolist(), [None, "East", *TWO, "East", *TWO, "North"]),
        rounds_frame([1.0, 2.0, 4.0], THREE),
    ]


def plain(frame: pd.DataFrame, category: str | None) -> tuple[pd.DataFrame, int]:
    """The same by pandas, round by round: one row a round with a course, and how many have none."""
    record = frame[frame["ball"].eq(1) & frame["strokes_gained"].notna()]
    rows = []
    for round_id in frame["round_id"].unique():
        mine, first = record[record["round_id"].eq(round_id)], frame[frame["round_id"].eq(round_id)].iloc[0]
        holes = mine["hole"].nunique()
        taken = mine if category is None else mine[mine["category"].eq(category)]
        row = first.reindex(["course", "played_on", "tees", "wind_mph", "firmness"]).to_dict()
        if holes >= 9:
            rows.append(row | {"strokes": taken["strokes_gained"].sum() * 18 / holes, "part": holes / 18})
    found = pd.DataFrame(rows, columns=["course", "played_on", "tees", "wind_mph", "firmness", "strokes", "part"])
    return found[found["course"].notna()].reset_index(drop=True), int(found["course"].isna().sum())


def counted(whole: pd.DataFrame, owner: np.ndarray, category: str | None = None) -> list:
    rounds = whole["round_id"].cat.codes.to_numpy()
    many = int(owner.max()) + 1
    lengths = rounds_of_many(owner, rounds, whole["hole"].to_numpy(), has_hole(whole), many)
    return rates_of_many(whole, owner, lengths, category)


@pytest.mark.parametrize("category", [None, "approach"])
def test_rounds_of_many_are_those_of_each_player(category: str | None) -> None:
    frames = players()
    whole, owner = season(*frames)
    found = counted(whole, owner, category)
    for place, (rates, without) in enumerate(found):
        mine = whole[owner == place].reset_index(drop=True)
        expected, lacking = plain(mine, category)
        assert (len(expected), lacking) == (rates.strokes.size, without)
        assert rates.strokes == pytest.approx(expected["strokes"].to_numpy(dtype=float), abs=1e-12)
        assert rates.parts.tolist() == expected["part"].tolist()
        assert [rates.names[code] for code in rates.course] == expected["course"].tolist()
        # courses are numbered as they come
        assert rates.names == list(dict.fromkeys(expected["course"]))
        assert rates.tees == [None if pd.isna(name) else name for name in expected["tees"]]
        days = (pd.to_datetime(expected["played_on"]) - pd.to_datetime(expected["played_on"]).min()).dt.days
        assert rates.month == pytest.approx(days.to_numpy(dtype=float) / MONTH_DAYS)
        assert rates.conditions is not None
        assert rates.conditions[:, 0] == pytest.approx(expected["wind_mph"].to_numpy(dtype=float), nan_ok=True)
        steps = expected["firmness"].map({"soft": -1.0, "firm": 1.0}).to_numpy(dtype=float)
        assert rates.conditions[:, 2] == pytest.approx(steps, nan_ok=True)
        # to the bit, whoever is beside
        alone, alone_without = round_rates(mine, category)
        assert alone_without == without
        for ours, theirs in zip(alone[:5], rates[:5], strict=True):
            assert ours.tolist() == theirs.tolist()
        assert alone[5:7] == rates[5:7]
    assert [rates.strokes.size for rates, _ in found] == [16, 1, 4, 0, 6, 0, 2, 7, 3]


def test_courses_of_many_are_what_the_level_tells_of_each() -> None:
    whole, owner = season(*players())
    found = counted(whole, owner)
    rated = Ratings({("North", "white"): 1.5, ("South", "white"): -1.5}, [])
    ratings = [rated, *[NONE] * (len(found) - 1)]
    told = courses_of_many(zip([rates for rates, _ in found], ratings, strict=True), 0.8)
    for rows, (rates, without), rating in zip(told, found, ratings, strict=True):
        assert rows == stated_level(rates, without, 0.8, rating)["courses"]
    assert [len(rows) for rows in told] == [3, 0, 0, 0, 0, 0, 0, 3, 0]
    assert courses_of_many([]) == []
    with pytest.raises(ValueError, match=r"level: 1\.2"):
        courses_of_many([], 1.2)


def test_ends_of_many_intervals_are_their_quantiles() -> None:
    """Beside a root found by bracketing, for mixtures of one to 120 points, wide, narrow and far apart."""
    draw = np.random.default_rng(1)
    for trial in range(60):
        points = (1, 2, 24, 120)[trial % 4]
        freedom = (1, 2, 3, 10, 59, 500)[trial % 6]
        level = (0.5, 0.9, 0.99)[trial % 3]
        figures = [
            Figure(
                draw.dirichlet(np.full(points, concentration)),
                draw.normal(0, apart, points),
                np.exp(draw.normal(0, spread, points)),
                freedom,
            )
            for concentration, apart, spread in ((1.0, 0.0, 0.01), (1.0, 1.0, 1.0), (0.05, 30.0, 3.0))
        ]
        ends = intervals(figures, level)
        for figure, found in zip(figures, ends, strict=True):
            assert tuple(found) == pytest.approx(figure.interval(level), rel=1e-13, abs=1e-13)
            for end, part in zip(found, ((1 - level) / 2, (1 + level) / 2), strict=True):

                def beyond(value: float, one: Figure = figure, part: float = part) -> float:
                    return float(one.chances @ stdtr(one.freedom, (value - one.middles) / one.errors)) - part

                assert end == pytest.approx(brentq(beyond, -1e6, 1e6, xtol=1e-13), rel=1e-10, abs=1e-10)
    assert intervals([], 0.9).shape == (0, 2)
    one = Figure(np.ones(1), np.zeros(1), np.ones(1), 9)
    assert one.interval(0.9) == pytest.approx((-1.8331129, 1.8331129))
    # players with other degrees of freedom beside each other
    assert intervals([one, replace(one, freedom=1)], 0.9)[1] == pytest.approx([-6.3137515, 6.3137515])


@pytest.mark.parametrize("apart", [1e2, 1e6])
@pytest.mark.parametrize("freedom", [3, 40, 300])
def test_an_end_between_points_far_apart_is_where_its_chance_is(freedom: int, apart: float) -> None:
    """The points on one side have exactly the chance of the tail: between the two sides the chance hardly changes, and
    a step along its slope leads anywhere, to -1e189 once."""
    draw = np.random.default_rng(freedom)
    for level in (0.5, 0.8, 0.9, 0.99):
        tail = (1 - level) / 2
        chances = np.repeat([tail / 60, (1 - tail) / 60], 60)
        middles = np.repeat([0.0, apart], 60) + draw.normal(0, 0.1, 120)
        figure = Figure(chances, middles, np.exp(draw.normal(-1, 0.5, 120)), freedom)
        low, high = figure.interval(level)
        assert middles.min() - 1e3 < low < high < middles.max() + 1e3
        assert figure.chance_below(low) == pytest.approx(tail, rel=1e-9)
        assert figure.chance_below(high) == pytest.approx(1 - tail, rel=1e-9)
