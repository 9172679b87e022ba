"""The quick start of server/files/README.md runs as it stands, and every reader finds the sums of the summary."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

from server.files.season_tables.package import write_tables
from server.files.season_tables.seasons import open_season
from server.files.season_tables.writing import PARQUET
from server.store.engine import reading
from tests.files.told import TOUR, YEAR, told

README = Path(__file__).resolve().parents[2] / "server" / "files" / "README.md"
READERS = ("pandas", "polars", "duckdb")


def test_the_quick_start_gives_the_sums_of_the_summary(
    season_engine: sa.Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with reading(season_engine) as connection:
        season = open_season(connection, YEAR, TOUR)
        write_tables(season, tmp_path / "DIR", ["shots", "players"], [PARQUET], package=False)
    part = README.read_text(encoding="utf-8").split("### Quick start\n")[1].split("\n### ")[0]
    blocks = re.findall(r"```python\n(.*?)```", part, flags=re.DOTALL)
    assert [block.split()[1] for block in blocks] == list(READERS)
    key = ["player", "club"]
    summary = told(season_engine, "club_summary").set_index(key)["strokes_gained"].sort_index()
    for block in blocks:
        names: dict[str, Any] = {}
        exec(block, names)
        found = names["by_club"].set_index(key)["strokes_gained"].astype("float64")
        # a club without a valued shot has no row in the summary
        assert set(summary.index) <= set(found.index)
        assert np.abs(found[summary.index].to_numpy() - summary.to_numpy()).max() < 1e-9
        assert found.drop(summary.index).fillna(0).eq(0).all()
