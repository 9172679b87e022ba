"""Everything at once for a short while, and heavy work beside pushes: no fault, nothing lost. No time is judged."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests import tiers
from tests.bench import bench_beside, bench_load
from tests.bench.served import Served, served
from tests.forked import start
from tests.tiers import count, some

SECONDS = count(2, 8)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the server keeps its database."""
    return tmp_path_factory.mktemp("load")


@pytest.fixture(scope="module")
def server(folder: Path) -> Iterator[Served]:
    """One server with the demo season and two workers; each test brings its own players."""
    with served(folder, demo=True, start=start) as started:
        yield started


def test_everything_at_once_meets_no_fault_and_loses_nothing(server: Served) -> None:
    load = bench_load.loaded(server, SECONDS)
    assert load.wrong == []
    assert set(load.spent) >= {"push", "pull", "summary", "plan", "season table", "import", "bad input"}
    assert len(load.acknowledged) >= 2
    processes = 3 + tiers.LONG
    assert [len(one) for one in load.memory] == [processes] * 2, "the server, two workers, and what tracks new ones"
    assert min(min(one.values()) for one in load.memory) > 1
    assert "0 faults" in bench_load.told(load, SECONDS)


def test_a_wrong_answer_and_a_loss_would_be_noticed(server: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    bad = tuple((method, path, sent, 418) for method, path, sent, _ in bench_load.BAD if "changes" in path)
    log_of = bench_load.log_of
    monkeypatch.setattr(bench_load, "BAD", bad)
    monkeypatch.setattr(bench_load, "log_of", lambda port, player: log_of(port, player)[1:])
    load = bench_load.loaded(server, count(1, 3))
    assert any(words.startswith("bad input: ") for words in load.wrong)
    assert sum("1 lost" in words for words in load.wrong) == 2


def test_pushes_are_timed_beside_heavy_work(server: Served, folder: Path) -> None:
    """Of every kind in the long tier, else beside an import, summaries and the erasure of what was imported."""
    found = bench_beside.measured(server, folder, rounds=6, chosen=lambda kinds: some(kinds, 0, 3, 5))
    assert [one.wrong for one in found.values()] == [[]] * (1 + count(3, 6))
    for kind, one in found.items():
        assert len(one.pushing) >= 1, kind
        assert one.rank(0.5) <= one.rank(0.95) <= one.rank(1.0) == max(one.pushing)
