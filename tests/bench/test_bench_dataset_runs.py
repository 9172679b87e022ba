"""The bench of a season by partitions runs at tiny size."""

from __future__ import annotations

import pytest

from tests.bench import bench_dataset, large_season


def test_a_tiny_season_is_measured_step_by_step(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(large_season, "ROUNDS_A_PLAYER", 2)
    monkeypatch.setattr(bench_dataset, "SHOTS_A_PLAYER", 180)
    found = list(bench_dataset.steps(500, 360, players=1))
    assert [step.shots for step in found] == [360, 540]
    assert all(step.written > 0 and step.folded > 0 and step.beside_first > 0 and step.peak_mb > 0 for step in found)
