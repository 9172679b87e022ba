"""The bench of level and form runs at tiny size, and both fits agree. No test here looks at a time."""

from __future__ import annotations

import pytest

from server.analysis.evidence.level import round_rates
from tests.bench import bench_level as bench


def test_it_prints_its_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert bench.main(["--rounds", "12", "--courses", "3", "--runs", "1"]) == 0
    printed = capsys.readouterr().out
    rows = [line for line in printed.splitlines() if line.startswith("| ")]
    assert len(rows) == 6
    assert "12 rounds of 90 shots, 3 courses" in printed


def test_both_fits_agree() -> None:
    rates = round_rates(bench.season(40, 5))[0]
    assert len(rates.names) == 5
    assert 0 < int(rates.day.max()) + 1 < rates.strokes.size
    ours, theirs = bench.ours(rates)[0], bench.theirs(rates)
    assert ours.criterion == pytest.approx(-2 * theirs.llf, abs=1e-3)
    assert ours.fixed[0] == pytest.approx(theirs.fe_params.iloc[0], abs=1e-2)
