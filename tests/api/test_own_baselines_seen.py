"""Who sees an own baseline: those who may read a player whose shots it holds, and nobody else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.api.asking import problem
from tests.api.people import house

SEEN = {"Robin": True, "Ash": True, "Sage": True, "Sam": False, "Hazel": False, "Olive": False, None: False}


def test_own_baselines_are_seen_by_those_who_may_read_the_player(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("PENCILBAG_BASELINES", raising=False)
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    folder = tmp_path / "baselines"
    folder.mkdir()
    (folder / "robin.csv").write_text("lie,distance,unit,expected_strokes\ntee,100,yd,3\n", encoding="utf-8")
    about = f'id = "robin"\nversion = "1"\nplayers = ["{made.robin.player_id}"]\n'
    (folder / "robin.toml").write_text(about, encoding="utf-8")
    try:
        for name, sees in SEEN.items():
            client = made.client(name)
            listed = [found["id"] for found in client.get("/api/baselines").get_json()["baselines"]]
            assert ("robin" in listed) is sees, name
            answer = client.get("/api/baselines/robin")
            if sees:
                assert answer.status_code == 200
                summary = client.get(f"/api/players/{made.robin.player_id}/strokes-gained").get_json()
                assert (summary["beside"]["own"], summary["beside"]["baseline"]["id"]) == (True, "robin")
            else:
                assert "robin" not in problem(answer, 404)["detail"].split("there is")[-1]
    finally:
        made.app.extensions["pencilbag_engine"].dispose()


def test_a_kept_summary_is_made_anew_when_the_own_baseline_comes_and_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("PENCILBAG_BASELINES", raising=False)
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    folder = tmp_path / "baselines"
    folder.mkdir()

    def beside() -> Any:
        return made.client("Robin").get(f"/api/players/{made.robin.player_id}/strokes-gained").get_json()["beside"]

    def lay(version: str, expected: float) -> None:
        table = f"lie,distance,unit,expected_strokes\ntee,100,yd,{expected}\ntee,500,yd,{expected + 2}\n"
        (folder / "robin.csv").write_text(table, encoding="utf-8")
        about = f'id = "robin"\nversion = "{version}"\nplayers = ["{made.robin.player_id}"]\n'
        (folder / "robin.toml").write_text(about, encoding="utf-8")

    try:
        assert beside() is None
        lay("1", 3.0)
        assert beside()["baseline"] == {"id": "robin", "version": "1"}
        lay("2", 3.1)
        assert beside()["baseline"] == {"id": "robin", "version": "2"}
        # a file that cannot be read stands beside nothing, and the summary goes on
        (folder / "robin.csv").write_text("lie\n", encoding="utf-8")
        (folder / "robin.toml").touch()
        assert beside() is None
    finally:
        made.app.extensions["pencilbag_engine"].dispose()
