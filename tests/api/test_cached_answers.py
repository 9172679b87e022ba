"""What is kept in memory: nobody gets what another may read, nothing outlives an erasure or five minutes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd
import pytest
import sqlalchemy as sa

from server.api.cache import MOST_SHOTS, Cache
from server.questions.kept_frames import KeptFrame
from server.store.cursors import START
from server.store.engine import writing
from server.store.sharing import end_share
from server.store.tables import SHOT
from server.store.touched import LogEnd
from tests.api.asking import problem
from tests.api.people import House, house

VIEWS = (
    "strokes-gained",
    "strokes-gained?by=setup&lie=green",
    "compared?to=2026-05-01&beside_from=2026-05-02",
    "scores",
    "level",
    "trial?a=driver&b=8+iron",
    "putting",
    "part-swings",
    "priorities",
    "patterns",
    "patterns?split=lie",
    "distances",
)


@pytest.fixture
def full(tmp_path: Any) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    yield made
    made.engine.dispose()


def asked(full: House, name: str, view: str) -> Any:
    return full.client(name).get(f"/api/players/{full.robin.player_id}/{view}")


def caches_of(full: House) -> dict[str, Cache]:
    names = ("frames", "answers", "lines")
    return {name: full.app.extensions[f"pencilbag_cache_{name}"] for name in names}


@pytest.mark.parametrize("view", VIEWS)
def test_a_kept_answer_is_given_to_nobody_who_may_not_read(full: House, view: str) -> None:
    own = asked(full, "Robin", view)
    assert own.status_code == 200, own.text
    assert asked(full, "Ash", view).data == own.data
    for name in ("Hazel", "Sam", "Olive"):
        problem(asked(full, name, view), 404)
    shares = asked(full, "Robin", "shares").get_json()["shares"]
    ash = next(one["share_id"] for one in shares if one["reader"] == "Ash")
    assert end_share(full.engine, full.robin.player_id, ash)
    problem(asked(full, "Ash", view), 404)
    assert full.client("Ash").get("/api/squad").get_json()["players"] == []


def test_the_kept_shots_stay_as_they_are_whatever_is_asked(full: House) -> None:
    asked(full, "Robin", "scores")
    (whole,) = cached_frames_of(full)
    before = whole.copy(deep=True)
    for view in VIEWS:
        assert asked(full, "Robin", view).status_code == 200, view
    pd.testing.assert_frame_equal(whole, before)


def cached_frames_of(full: House) -> list[Any]:
    frames = full.app.extensions["pencilbag_cache_frames"]
    return [value.frame for _, value in frames._values.values()]


def test_long_seasons_fill_no_memory(full: House) -> None:
    asked(full, "Robin", "scores")
    frames = cached_frames_of(full)
    kept = full.app.extensions["pencilbag_cache_frames"]
    long = pd.concat([frames[0]] * (MOST_SHOTS // 3 // len(frames[0])))
    for number in range(8):
        kept.put(f"span {number}", KeptFrame(long, LogEnd(1, START)))
    assert 2 <= len(cached_frames_of(full)) <= 3
    assert sum(map(len, cached_frames_of(full))) <= MOST_SHOTS


def test_an_erased_player_is_forgotten_at_once(full: House) -> None:
    for view in VIEWS:
        asked(full, "Robin", view)
    assert full.client("Ash").get("/api/squad").status_code == 200
    assert all(cache._values for cache in caches_of(full).values())
    meant = {"name": "Robin", "meant": "erase everything"}
    answer = full.client("Robin").post(f"/api/players/{full.robin.player_id}/erasure", json=meant)
    assert answer.status_code == 204, answer.text
    assert not any(cache._values for cache in caches_of(full).values())
    problem(asked(full, "Ash", "strokes-gained"), 404)


def test_records_mended_without_a_change_are_seen_within_five_minutes(full: House) -> None:
    """An answer made late from a frame that was kept is not kept as long again beyond those five minutes."""
    now = [0.0]
    for name in ("frames", "answers"):
        full.app.extensions[f"pencilbag_cache_{name}"] = Cache(16, clock=lambda: now[0])

    def gained(by: str) -> float:
        return float(asked(full, "Robin", f"strokes-gained?by={by}").get_json()["total"]["strokes_gained"])

    first = gained("club")
    with writing(full.engine) as connection:
        connection.execute(sa.update(SHOT).where(SHOT.c.lie == "tee").values(distance_yd=500.0))
    seen = []
    for moment in (1.0, 149.0, 290.0, 301.0):
        now[0] = moment
        seen.append(gained("lie") if moment > 100 else gained("club"))
    assert seen[0] == first, "kept for a while"
    assert seen[-1] > first + 0.5, "a longer hole in as many strokes"
