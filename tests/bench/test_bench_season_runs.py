"""The bench of the export runs at tiny size, and the writers that it compares write the same rows."""

from __future__ import annotations

import io
from contextlib import redirect_stdout
from pathlib import Path

import pandas as pd
import pytest

from server.store.engine import open_database
from tests.bench import bench_season as bench
from tests.bench.large_season import SHOTS_A_PLAYER, fill


def test_the_writers_write_the_same_rows(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'large.sqlite'}"
    engine = open_database(address)
    fill(engine, 1)
    engine.dispose()
    chunks = bench.chunks_of(address, 1)
    assert sum(chunk.num_rows for chunk in chunks) == SHOTS_A_PLAYER
    taken = bench.writers(chunks, tmp_path, 1)
    assert list(taken) == ["csv", "pandas csv", "parquet", "pandas parquet"]
    csv = [pd.read_csv(tmp_path / f"{name}.csv") for name in ("ours", "pandas")]
    # pandas writes True where a table says yes
    words = {"holed": {"yes": True, "no": False}, "provisional": {"yes": True, float("nan"): False}}
    ours = csv[0].assign(**{name: csv[0][name].map(meaning) for name, meaning in words.items()})
    pd.testing.assert_frame_equal(ours, csv[1], check_exact=True, check_dtype=False)
    parquet = [pd.read_parquet(tmp_path / f"{name}.parquet") for name in ("ours", "pandas")]
    pd.testing.assert_frame_equal(*parquet, check_exact=True, check_dtype=False)
    assert ours["strokes_gained"].notna().all()


def test_the_bench_prints_its_tables(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """In this process; the programs of their own run where memory is compared, in tests/files."""

    def here(address: str, players: int, format_: str, path: Path) -> tuple[float, float, float]:
        with redirect_stdout(io.StringIO()) as said:
            bench.exported(address, str(players), format_, str(path))
        taken, peak, before = map(float, said.getvalue().split())
        assert path.stat().st_size > 0
        return taken, peak, before

    monkeypatch.setattr(bench, "apart", here)
    monkeypatch.setattr(bench, "has_scanner", lambda: False)
    assert bench.main(["--players", "2", "--few", "1", "--courses", "4", "--runs", "1"]) == 0
    rows = [line for line in capsys.readouterr().out.splitlines() if line.startswith("| ")]
    assert [row.split(" | ")[0] for row in rows if " MB" not in row][:8] == [
        *["| 5,400"] * 4,
        *["| 10,800"] * 4,
    ]
    assert len(rows) == 2 + 8 + 4
