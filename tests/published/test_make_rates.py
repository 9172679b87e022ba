"""The shipped green table against an open count of putts.

Source: M. Broadie (2018), 1,253,196 putts, through A. Gelman, "Model building and expansion for golf putting"
(2019). Where three putts are rare, expected putts are 1 * p + 2 * (1 - p), so the chance of one putt is p = 2
- E."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from tests.published.reference_tables import read_rows

TOUR = load_baseline("tour")
ROWS = [
    (float(row["distance_ft"]), int(row["made"]) / int(row["attempts"])) for row in read_rows("putts_broadie_2018.csv")
]
COMPARED = [(feet, rate) for feet, rate in ROWS if 1.9 < feet < 8.0]


def test_count_is_whole():
    rows = read_rows("putts_broadie_2018.csv")
    assert sum(int(row["attempts"]) for row in rows) == 1_253_196
    assert sum(int(row["made"]) for row in rows) == 766_741
    assert len(COMPARED) == 7


@pytest.mark.parametrize(("feet", "made"), COMPARED)
def test_one_putt_chance_agrees_where_putts_were_counted(feet, made):
    assert 2 - TOUR.expected("green", feet / 3)[0] == pytest.approx(made, abs=0.03)


@pytest.mark.parametrize("feet", range(2, 9))
def test_one_putt_chance_agrees_at_whole_feet(feet):
    made = np.interp(feet, *zip(*ROWS, strict=True))
    assert 2 - TOUR.expected("green", feet / 3)[0] == pytest.approx(made, abs=0.03)
