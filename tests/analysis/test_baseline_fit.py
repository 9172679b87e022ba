"""Own baselines: a planted offset is found, held-out rounds are predicted better, little data changes nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import multivariate_normal

from server.analysis.expected_strokes import fit
from server.analysis.expected_strokes.baseline import Baseline, load_baseline, make_baseline
from server.analysis.expected_strokes.fit import (
    LEAST_ROUNDS,
    LEAST_STARTS,
    TooFewShotsError,
    fit_baseline,
    rising,
    strokes_to_hole_out,
)
from server.analysis.expected_strokes.own_table import CARRIED, DATA, KNOWN, LEVELLED, NEAR_STARTS, PUBLISHED
from server.analysis.strokes_gained.attribution import attribute
from server.game.lies import lie_codes
from tests.analysis.fair_player import fair_rounds
from tests.analysis.played import feet, frame, shot
from tests.tiers import count, some

TOUR = load_baseline("tour")


def shifted(offset: Any) -> Baseline:
    """The tour table with an offset in strokes, a function of lie and yards."""
    rows = {lie: (yards, expected + offset(lie, yards)) for lie, (yards, expected) in TOUR.about.rows.items()}
    return make_baseline(replace(TOUR.about, id="shifted", rows=rows))


def weaker(lie: str, yards: Any) -> Any:
    """A weaker player: most from 150 to 250 yd, a little on the green between 5 and 30 ft."""
    if lie == "green":
        return 0.10 * np.exp(-0.5 * (np.log(yards * 3 / 11) / 0.6) ** 2)
    return 0.12 + 0.30 * np.exp(-0.5 * (np.log(yards / 230) / 0.7) ** 2) + (0.1 if lie in ("rough", "recovery") else 0)


WEAKER = shifted(weaker)


def starts_of(seed: int, rounds: int, table: Baseline) -> pd.DataFrame:
    return strokes_to_hole_out(attribute(fair_rounds(seed, rounds, table), TOUR))


def test_strokes_to_hole_out_by_hand():
    holed = frame(
        [
            shot("tee", 400, penalty_strokes=1, penalty_reason="lost"),
            shot("tee", 400),
            shot("fringe", 4),
            shot("green", feet(3), holed=True),
        ]
    )
    picked = frame([shot("tee", 170), shot("green", feet(9))], hole=2, par=3)
    extra = frame([shot("tee", 400, ball=2), shot("green", feet(9), ball=2, holed=True)])
    found = strokes_to_hole_out(attribute(pd.concat([holed, picked, extra], ignore_index=True), TOUR))
    assert found["remaining"].tolist() == [5, 3, 2, 1]
    assert found["lie"].tolist() == ["tee", "tee", "fairway", "green"]
    assert found["hole"].tolist() == [1, 1, 1, 1]


@pytest.mark.simulation
@pytest.mark.parametrize("seed", some([1, 2, 3], 0))
def test_a_planted_offset_is_recovered(seed: int):
    """60 rounds: where the row says data it comes at least twice as near to the truth as the published table."""
    starts = starts_of(seed, 60, WEAKER)
    rows = fit_baseline(starts, TOUR).rows
    told = rows[rows["known"].eq(DATA)]
    truth = np.array(
        [WEAKER.expected(lie, yards)[0] for lie, yards in zip(told["lie"], told["distance_yd"], strict=True)]
    )
    ours = np.sqrt(np.mean((told["expected"] - truth) ** 2))
    theirs = np.sqrt(np.mean((told["published"] - truth) ** 2))
    assert ours < theirs / 2, (ours, theirs)
    assert len(told) > 80


def made(table: Any) -> Baseline:
    """A fitted table as a baseline."""
    rows = {
        str(lie): (part["distance_yd"].to_numpy(), part["expected"].to_numpy())
        for lie, part in table.rows.groupby("lie", sort=False)
    }
    return make_baseline(replace(TOUR.about, id="own", rows=rows))


@pytest.mark.simulation
@pytest.mark.parametrize("seed", some([11, 12, 13, 14], 0))
def test_held_out_rounds_are_predicted_better(seed: int):
    """Fitted to 30 rounds, compared on 200 others: the squared error of strokes to hole out falls."""
    own = made(fit_baseline(starts_of(seed, 30, WEAKER), TOUR))
    fresh = starts_of(seed + 100, 200, WEAKER)
    errors = [
        np.mean((fresh["remaining"] - table.expected(fresh["lie"], fresh["distance_yd"])) ** 2)
        for table in (own, TOUR, WEAKER)
    ]
    assert errors[0] < errors[1]
    # of what the truth itself would save, at least two thirds
    assert errors[1] - errors[0] > (errors[1] - errors[2]) * 2 / 3


@pytest.mark.simulation
def test_a_player_like_the_published_ones_keeps_the_published_table():
    """10 and 40 rounds: the mean offset stays within a twentieth of a stroke, which is near what noise alone gives."""
    for seed, rounds in ((21, 10), (22, 40), (23, 40)):
        rows = fit_baseline(starts_of(seed, rounds, TOUR), TOUR).rows
        assert np.abs(rows["expected"] - rows["published"]).mean() < 0.05


def test_far_from_data_the_published_row_stays_and_says_so():
    starts = starts_of(31, 30, WEAKER)
    near = starts[~starts["lie"].eq("sand") & ~(starts["lie"].eq("rough") & starts["distance_yd"].gt(200))]
    rows = fit_baseline(near, TOUR).rows
    sand = rows[rows["lie"].eq("sand")]
    # the published sand falls by 0.03 from 80 to 120 yd
    assert set(sand["known"]) == {PUBLISHED, LEVELLED}
    assert (sand["expected"] - sand["published"]).abs().max() < 0.03
    far = rows[rows["lie"].eq("rough") & rows["distance_yd"].gt(200 * 1.36)]
    assert set(far["known"]) <= {PUBLISHED, LEVELLED}
    published = rows[rows["known"].eq(PUBLISHED)]
    assert published["expected"].tolist() == published["published"].tolist()
    assert rows[rows["known"].eq(DATA)]["expected"].ge(1).all()


def test_a_row_says_data_where_ten_starts_are_near_and_not_where_nine_are():
    starts = starts_of(31, 30, WEAKER)
    others = starts[~starts["lie"].eq("fairway") | ~starts["distance_yd"].between(80, 122)]
    at_100 = starts.head(NEAR_STARTS).assign(lie="fairway", distance_yd=[91.0, 109.0] * (NEAR_STARTS // 2))

    def row(more: pd.DataFrame) -> Any:
        rows = fit_baseline(pd.concat([others, more], ignore_index=True), TOUR).rows
        return rows[rows["lie"].eq("fairway") & rows["distance_yd"].eq(100)].iloc[0]

    assert (row(at_100)["near"], row(at_100)["known"]) == (NEAR_STARTS, DATA)
    assert (row(at_100.head(9))["near"], row(at_100.head(9))["known"]) == (9, CARRIED)
    # a start at 89 yd is more than a tenth away
    assert row(at_100.assign(distance_yd=[89.0, *at_100["distance_yd"][1:]]))["near"] == 9


@pytest.mark.parametrize("seed", some([31, 32], 0))
def test_no_lie_falls_with_distance_and_every_row_has_an_interval(seed: int):
    rows = fit_baseline(starts_of(seed, 12, WEAKER), TOUR).rows
    for name in ("expected", "low", "high"):
        assert rows.groupby("lie")[name].apply(lambda column: column.diff().min()).ge(-1e-12).all(), name
    assert (rows["low"] <= rows["expected"]).all()
    assert (rows["expected"] < rows["high"]).all()
    assert rows["low"].ge(1).all()
    assert set(rows["known"]) <= set(KNOWN)


def test_falling_rows_take_their_weighted_mean():
    """By hand: 3.2 (weight 1) and 3.0 (weight 3) become 3.05; a lie does not reach into the next."""
    lie = np.array([0, 0, 0, 1, 1], dtype=np.int8)
    risen = rising(lie, np.array([2.8, 3.2, 3.0, 2.0, 2.5]), np.array([1.0, 1, 3, 1, 1]))
    assert risen == pytest.approx([2.8, 3.05, 3.05, 2.0, 2.5], abs=1e-12)


def test_a_level_outside_its_range_is_named():
    with pytest.raises(ValueError, match=r"level: 1\.2 is outside 0\.5 to 0\.99"):
        fit_baseline(starts_of(51, 12, TOUR), TOUR, level=1.2)


@pytest.mark.simulation
def test_intervals_hold_the_truth():
    """90 % intervals of rows that say data. Measured over 60 players like `WEAKER`: at 10, 30 and 60 rounds they held
    the truth in 93.1, 90.7 and 92.9 % of rows (each +- 1.4); over 60 players with offsets drawn at random, in 91.4,
    88.5 and 91.9 % (+- 2.0, 2.4, 1.2). A player exactly like the published ones is held in over 99 %."""
    held = []
    for seed in range(count(3, 60)):
        for rounds in (10, 30, 60):
            rows = fit_baseline(starts_of(2000 + seed, rounds, WEAKER), TOUR).rows
            told = rows[rows["known"].eq(DATA)]
            truth = np.array(
                [WEAKER.expected(lie, yards)[0] for lie, yards in zip(told["lie"], told["distance_yd"], strict=True)]
            )
            held.append(np.mean((told["low"] <= truth) & (truth <= told["high"])))
    error = float(np.std(held, ddof=1)) / len(held) ** 0.5
    assert 0.87 - 2 * error < np.mean(held) < 0.93 + 2 * error, (np.mean(held), error)


def test_sums_telescope_against_an_own_baseline():
    shots = fair_rounds(41, 5, WEAKER)
    own = made(fit_baseline(starts_of(40, 20, WEAKER), TOUR))
    valued = attribute(shots, own)
    first = valued[valued["order"].eq(1)]
    for (round_id, hole), part in list(valued.groupby(["round_id", "hole"]))[:30]:
        start = first[first["round_id"].eq(round_id) & first["hole"].eq(hole)].iloc[0]
        expected = own.expected(str(start["lie"]), start["distance_yd"])[0]
        assert part["strokes_gained"].sum() == pytest.approx(expected - len(part), abs=1e-9)


def test_twenty_shots_are_refused_in_words():
    starts = starts_of(51, 1, TOUR).head(20)
    with pytest.raises(
        TooFewShotsError, match=f"20 shots on finished holes of 1 round are too few.*{LEAST_STARTS} shots"
    ):
        fit_baseline(starts, TOUR)
    with pytest.raises(TooFewShotsError, match="0 shots on finished holes of 0 rounds"):
        fit_baseline(starts.head(0), TOUR)
    many = pd.concat([starts_of(51, 4, TOUR)] * 2)
    with pytest.raises(TooFewShotsError, match=f"of 4 rounds.*{LEAST_ROUNDS} rounds"):
        fit_baseline(many, TOUR)


def test_a_lie_that_the_table_lacks_is_passed_over():
    rows = {lie: pair for lie, pair in TOUR.about.rows.items() if lie != "recovery"}
    table = make_baseline(replace(TOUR.about, rows=rows))
    found = fit_baseline(starts_of(61, 20, TOUR), table).rows
    assert "recovery" not in set(found["lie"])
    assert np.isfinite(found["expected"]).all()


def test_inputs_are_not_changed():
    starts = starts_of(71, 6, TOUR)
    before = starts.copy()
    fit_baseline(starts, TOUR)
    pd.testing.assert_frame_equal(starts, before)


def test_every_size_is_weighted_and_read_as_scipys_normal_has_it():
    """The one eigendecomposition against `scipy.stats.multivariate_normal` and a solved system for each size."""
    published = load_baseline("tour")
    starts = starts_of(3, 12, published)
    rows = fit._printed_rows(published)
    at = fit._Places(lie_codes(rows["lie"]), np.log(rows["distance_yd"].to_numpy()))
    yards, remaining = (starts[name].to_numpy(float) for name in ("distance_yd", "remaining"))
    cells = fit._cells(fit._Starts(lie_codes(starts["lie"]), yards, remaining), published)
    found, offset = fit._by_size(cells, at), fit._offset(cells, at)
    across, likely, learnt = fit._alike(at, cells), [], []
    for number, size in enumerate(fit.SIZES):
        covariance = size**2 * fit._alike(cells, cells) + np.diag(cells.variance)
        likely.append(multivariate_normal(cov=covariance).logpdf(cells.mean))
        smoother = np.linalg.solve(covariance, size**2 * across.T)
        np.testing.assert_allclose(found.offsets[number], cells.mean @ smoother, rtol=0, atol=1e-10)
        learnt.append((across * smoother.T).sum(axis=1))
    weight = np.exp(np.array(likely) - max(likely))
    weight /= weight.sum()
    np.testing.assert_allclose(found.weight, weight, rtol=0, atol=1e-10)
    np.testing.assert_allclose(offset.learnt, weight @ np.array(learnt), rtol=0, atol=1e-10)
    assert offset.learnt.max() > 0.1
