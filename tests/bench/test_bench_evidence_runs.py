"""The bench of the evidence runs at tiny size, and both ways of resampling agree. No test here looks at a time."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench import bench_evidence as bench


def test_it_prints_its_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert bench.main(["--rounds", "4", "--resamples", "40", "--runs", "1"]) == 0
    printed = capsys.readouterr().out
    rows = [line for line in printed.splitlines() if line.startswith("| ")]
    assert len(rows) == 7
    assert all(line.count("|") == 5 for line in rows)
    assert "4 rounds of 90 shots, 14 clubs" in printed


def test_both_ways_of_resampling_agree() -> None:
    """Standard errors from 4,000 resamples each: within 5 times sqrt(2) / sqrt(2 * 4,000)."""
    sums = bench.sums_of(bench.valued_season(20))
    ours, theirs = bench.our_errors(sums, 4000), bench.theirs(sums, 4000)
    assert ours == pytest.approx(np.array(theirs), rel=5 / np.sqrt(4000))


def test_the_trial_has_like_places() -> None:
    assert bench.trial(bench.valued_season(20)).words
    assert "never used" not in bench.trial(bench.valued_season(20)).words
