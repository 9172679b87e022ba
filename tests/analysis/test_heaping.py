"""Heaping of lengths at fives and tens: by hand, on smooth lengths, and what counts as an entered length."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from server.analysis.lengths.heaping import heaping, lengths_entered, rounds_taken, taken_of
from tests.tiers import count


def test_whipples_index_by_hand():
    """Fives from 8 to 62 ft: 10, 15, 15, 40 of 8 lengths, 4 in 8; 7 and 63 ft lie outside."""
    found = heaping(np.array([7, 10, 11, 15, 15, 17.4, 40, 41.2, 62, 63]), "ft")
    assert (found["fives"]["lengths"], found["fives"]["share"], found["whipple"]) == (8, 0.5, 250)
    # Tens from 6 to 65 ft: 10 and 40 of 10 lengths.
    assert (found["tens"]["lengths"], found["tens"]["share"]) == (10, 0.2)
    # Wilson (1927) at 90 %, 4 of 8: centre 0.5, half width 1.6449 / 10.7055 * sqrt(8 / 4 + 2.7055 / 4) = 0.2514
    assert (found["fives"]["low"], found["fives"]["high"]) == pytest.approx((0.5 - 0.2514, 0.5 + 0.2514), abs=2e-4)
    assert not found["strong"], "eight lengths are too few to call heaped"


@pytest.mark.parametrize("unit", ["ft", "yd", "m"])
def test_lengths_that_are_all_fives_are_reported_as_heaped(unit: str):
    found = heaping(np.tile([10.0, 15, 20, 25, 30], 6), unit)
    assert (found["fives"]["share"], found["whipple"], found["strong"]) == (1, 500, True)
    assert found["tens"]["share"] == pytest.approx(0.6)
    assert found["words"] is not None
    assert "100 of 100" in found["words"]


@pytest.mark.parametrize("lengths", [[], [3.0, 4.0, 5.0, 7.4], [400.0]])
def test_without_lengths_in_the_windows_nothing_is_reported(lengths: list[float]):
    found = heaping(np.array(lengths), "ft")
    assert (found["fives"]["share"], found["whipple"], found["strong"], found["words"]) == (None, None, False, None)


def test_a_steep_fall_of_the_lengths_themselves_is_no_heaping():
    """Exponential lengths with a mean of 12 ft, whole feet: by the exact sum the index is 99.4."""
    whole = np.arange(8, 63)
    density = np.exp(-whole / 12)
    exact = 500 * density[whole % 5 == 0].sum() / density.sum()
    assert 98.5 < exact < 100
    lengths = np.repeat(whole.astype(float), np.round(1e6 * density / density.sum()).astype(int))
    assert heaping(lengths, "ft")["whipple"] == pytest.approx(exact, abs=0.1)


@pytest.mark.simulation
def test_smooth_lengths_are_hardly_ever_called_heaped():
    """30 lengths, the fewest that say anything: the interval's lower end must pass 0.35, 3 standard errors up."""
    draw = np.random.default_rng(11)
    seasons = count(1000, 20_000)
    falsely = sum(heaping(8 + np.floor(draw.exponential(12, 30)), "ft")["strong"] for _ in range(seasons))
    assert falsely <= 0.01 * seasons


def shots(**columns: Any) -> pd.DataFrame:
    given = {"round_id": "r1", "lie": ["tee", "fairway", "green", "green"], "distance_yd": [400.0, 150.0, 10.0, np.nan]}
    return pd.DataFrame({**given, **columns})


def test_which_lengths_were_entered():
    """The tee's come from the card; a missing one is none."""
    assert lengths_entered(shots(), "yd").tolist() == [150]
    assert lengths_entered(shots(), "m") == pytest.approx([137.16])
    assert lengths_entered(shots(), "ft").tolist() == [30]


def test_rounds_are_counted_by_how_lengths_were_taken():
    assert rounds_taken(shots()) == [{"lengths_taken": None, "rounds": 1}]
    words = pd.Categorical(["laser", "laser", "guessed", None])
    frame = shots(round_id=["r1", "r1", "r2", "r3"], lengths_taken=words)
    assert [(row["lengths_taken"], row["rounds"]) for row in rounds_taken(frame)] == [
        ("laser", 1),
        ("guessed", 1),
        (None, 1),
    ]
    assert taken_of(frame.assign(lengths_taken=["eyed"] * 4)).isna().all(), (
        "a word of a later version says nothing here"
    )
    assert rounds_taken(shots().head(0)) == []
