"""Memory stays flat: half again the shots and more do not need the room of the shots that came on top.

Each export runs in a program of its own and reports its peak of resident memory. More rows held at once, in whatever
form, would take at least what they take as Arrow, the tightest of the forms that they pass through; half of it is the
bound. What may grow is small: the footer of a Parquet file and what the allocators keep. Fewer than thirty players, two
full blocks with what the first leaves for the next row group, do not fill the pieces that are held at most, so that
comparing with them would measure the filling.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from server.store.engine import open_database
from tests.bench.bench_season import apart, chunks_of
from tests.bench.large_season import SHOTS_A_PLAYER, fill
from tests.tiers import some

FEW, MANY = 30, 47
"""Players: 162,000 and 253,800 shots."""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A database of many players."""
    found = f"sqlite:///{tmp_path_factory.mktemp('large') / 'large.sqlite'}"
    engine = open_database(found)
    fill(engine, MANY)
    engine.dispose()
    return found


@pytest.fixture(scope="module")
def on_top(address: str) -> float:
    """MB that the further shots take as Arrow."""
    chunks = chunks_of(address, FEW)
    assert sum(chunk.num_rows for chunk in chunks) == FEW * SHOTS_A_PLAYER
    return sum(chunk.nbytes for chunk in chunks) * (MANY - FEW) / FEW / 1e6


@pytest.mark.parametrize("format_", some(["csv", "parquet"], 1))
def test_more_shots_take_no_more_memory(address: str, on_top: float, tmp_path: Path, format_: str) -> None:
    peaks, sizes = {}, {}
    for players in (FEW, MANY):
        path = tmp_path / f"{players}.{format_}"
        _, peaks[players], before = apart(address, players, format_, path)
        sizes[players] = path.stat().st_size
        assert 50 < before < peaks[players], "the program alone takes its room first"
    assert sizes[MANY] > 1.5 * sizes[FEW]
    assert peaks[MANY] - peaks[FEW] < on_top / 2, f"{peaks}, on top {on_top:.0f} MB"
