"""Tallies kept in a file come back as they were, whichever way the shots came."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from server.analysis.evidence.tallies import Tally
from server.analysis.expected_strokes.baseline import load_baseline
from server.files.season_tables import kept_tallies, seasons
from server.files.season_tables.chunks import to_arrow
from server.files.season_tables.dictionary import tables
from server.files.season_tables.frames import frames, tallied_members
from server.files.season_tables.kept_tallies import KeptTallies
from server.files.season_tables.seasons import open_season
from server.files.season_tables.tallied_tables import members_of
from server.questions.squads import Member
from server.store.engine import open_database, reading
from tests.analysis.tallied import tally
from tests.made_once import copy_demo

FIELDS = ("ids", "day", "kind", "course", "round_", "hole", "par", "shots", "strokes")


def same(one: Tally | None, other: Tally | None) -> bool:
    """Whether two tallies are the same to the last bit."""
    assert one is not None
    assert other is not None
    pairs = [(getattr(one, name), getattr(other, name)) for name in FIELDS]
    alike = all(a.dtype == b.dtype and np.array_equal(a, b) for a, b in pairs)
    return alike and one.categories == other.categories


def test_what_was_kept_comes_back(monkeypatch: pytest.MonkeyPatch) -> None:
    draw = np.random.default_rng(5)
    found = {f"player {place}": _short(tally(draw, 3 + place)) for place in range(3)}
    found["player 1"].course[:] = [None, "Höhe, 'A'", "\n", None]
    write = kept_tallies.os.pwrite
    # a file may take less at a time than it was given
    monkeypatch.setattr(kept_tallies.os, "pwrite", lambda handle, content, at: write(handle, content[:1000], at))
    kept = KeptTallies()
    for player_id, one in found.items():
        kept.keep(player_id, one)
    assert [same(kept.tally(player_id), one) for player_id, one in found.items()] == [True] * 3
    assert "player 1" in kept
    assert "player 4" not in kept
    with pytest.raises(KeyError):
        kept.tally("player 4")


def _short(found: Tally) -> Tally:
    """With the integers that a season's tallies have."""
    numbers = [getattr(found, name).astype(np.int16) for name in ("hole", "par", "shots")]
    words = [np.array([str(one) for one in column], dtype=object) for column in (found.ids, found.kind, found.course)]
    day, round_ = found.day.astype(np.int64), found.round_.astype(np.int32)
    return Tally(found.categories, words[0], day, words[1], words[2], round_, *numbers, found.strokes)


def test_tallies_of_valued_shots_are_those_of_the_table_shots(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copy_demo(tmp_path / "demo.sqlite")
    engine = open_database(f"sqlite:///{tmp_path / 'demo.sqlite'}")
    with reading(engine) as connection:
        season = open_season(connection, 2026, load_baseline("tour"))
        shots = [to_arrow(frame, tables()["shots"]) for frame in frames(season, "shots")]
        read = members_of(shots, season.players)
        together = tallied_members(season)
        # a player's days by parts, several players in one, and the rows of the table cut anywhere
        monkeypatch.setattr(seasons, "SHOTS_AT_ONCE", 300)
        by_days = tallied_members(season)
        cut = members_of([one.slice(at, 50) for one in shots for at in range(0, len(one), 50)], season.players)
    engine.dispose()
    assert len(read) > 0
    assert any(one.tally and None not in one.tally.course for one in read)
    for others in (together, by_days, cut):
        assert _named(others) == _named(read)
        assert all(same(one.tally, other.tally) for one, other in zip(read, others, strict=True))


def _named(members: list[Member]) -> list[Any]:
    return [one.player for one in members]
