"""Readers and phones at once against the real server, for a short while: no error, nothing lost. No time is judged."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bench import bench_serving as bench
from tests.bench.bench_sync import running
from tests.forked import start
from tests.tiers import count

SECONDS = count(1, 24)


@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    folder: Path = tmp_path_factory.mktemp("serving")
    with running(f"sqlite:///{folder / 'log.sqlite'}", start) as found:
        yield found


def test_readers_and_phones_at_once_meet_no_error_and_lose_nothing(port: int) -> None:
    crowd = bench.crowded(port, SECONDS, rounds=3)
    assert crowd.wrong == []
    assert len(crowd.acknowledged) == bench.PHONES
    assert len(crowd.pushing) >= bench.PHONES
    assert len(crowd.reading) >= bench.READERS
    assert min(map(len, crowd.acknowledged.values())) > 3 * bench.HOLES * 4


def test_a_loss_would_be_noticed(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    log_of = bench.log_of
    monkeypatch.setattr(bench, "log_of", lambda port, player: log_of(port, player)[1:])
    crowd = bench.crowded(port, 0.1, rounds=1)
    assert [words.split(": ")[1] for words in crowd.wrong] == ["1 lost, 0 not told"] * bench.PHONES


def test_the_summary_is_measured_beside_an_empty_endpoint(port: int) -> None:
    found = bench.summary_beside_empty(port, rounds=2, times=3)
    assert found.shots == 2 * 18 * 4
    assert min(found.empty, found.again, found.first) > 0


def test_percentiles() -> None:
    assert bench.p95([0.5]) == 500
    assert bench.p95([k / 1000 for k in range(1, 101)]) == pytest.approx(96, abs=1)
