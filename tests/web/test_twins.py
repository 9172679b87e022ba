"""The words, ranges and rules of the phone are those of the server."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page

from server.analysis.strokes_gained.attribution import BASES
from server.analysis.strokes_gained.summaries import BANDS_FT
from server.game import (
    categories,
    closings,
    hole_conditions,
    hole_lengths,
    hole_maps,
    lies,
    map_form,
    penalties,
    practice,
    ranges,
)
from server.game.provisional import provisional_in_play
from server.records import schemas, shot_fields

MORE_ON_THE_PHONE = {("other", "same_spot", "18.1", 1, True)}
"""Rule 18.1, stroke and distance at any time: the server takes it as an "other" penalty whose end is the same spot."""


@pytest.fixture(scope="module")
def module(module_page: Page) -> Any:

    def load(path: str) -> dict[str, Any]:
        code = "async (path) => JSON.parse(JSON.stringify({...await import(path)}))"
        return dict(module_page.evaluate(code, f"/js/game/{path}.js"))

    return load


def test_words_and_ranges(module: Any) -> None:
    assert module("lies")["LIES"] == list(lies.LIES)
    assert module("lies")["VALUED_AS"] == lies.VALUED_AS
    assert module("categories")["SCHEMES"] == {name: list(parts) for name, parts in categories.SCHEMES.items()}
    assert module("categories")["DEFAULT_SHORT_GAME_YD"] == categories.DEFAULT_SHORT_GAME_YD
    assert module("valuation")["BASES"] == BASES
    found = module("ranges")
    assert found == {name: getattr(ranges, name) for name in found}
    assert len(found) >= 8
    lengths = {int(par): tuple(yards) for par, yards in module("hole-lengths")["DEFAULT_YD"].items()}
    assert lengths == hole_lengths.DEFAULT_YD
    assert module("closings")["MOST_CLOSINGS"] == closings.MOST_CLOSINGS
    shot = module("shot")
    assert shot["SORTS"] == list(schemas.SORTS)
    assert shot["SHAPES"] == list(shot_fields.SHAPES)
    assert shot["HEIGHTS"] == list(shot_fields.HEIGHTS)
    assert shot["STRIKES"] == list(shot_fields.STRIKES)
    assert shot["LONGEST_BALL_LABEL"] == schemas.LONGEST_BALL_LABEL
    assert shot["KINDS"] == list(schemas.KINDS)
    assert shot["LENGTHS_TAKEN"] == list(schemas.LENGTHS_TAKEN)
    conditions = module("hole-conditions")
    for name in ("WINDS", "PIN_DEPTHS", "PIN_SIDES", "GREEN_SPEEDS_FT"):
        assert conditions[name] == list(getattr(hole_conditions, name)), name
    walked = module("walked-map")
    assert (walked["WALKED"], walked["MOST_WALKED"]) == (list(schemas.WALKED), schemas.MOST_WALKED)
    assert schemas.MOST_WALKED == schemas.MOST_CORNERS


def test_words_and_ranges_of_practice(module: Any) -> None:
    found = module("practice")
    assert found["PLACES"] == list(practice.PLACES)
    assert found["PRACTICE_LIES"] == list(practice.PRACTICE_LIES)
    assert found["SWINGS"] == list(shot_fields.SWINGS)
    assert found["MOST_BALLS"] == ranges.MOST_BALLS_A_SESSION
    assert found["FARTHEST_TOTAL_YD"] == ranges.FARTHEST_TOTAL_YD
    assert found["LONGEST_PUTT_FT"] == 3 * ranges.FARTHEST_ON_GREEN_YD
    assert found["FARTHEST_LEFT_FT"] == ranges.FARTHEST_LEFT_FT
    assert module("practice-totals")["BANDS_FT"] == list(BANDS_FT)


def test_ways_on_after_trouble(module: Any) -> None:
    found = module("penalties")
    assert found["REASONS"] == list(penalties.REASONS)
    assert found["MOST_CLUBS"] == penalties.MOST_CLUBS
    ours = {
        (reason, way.name, way.rule, way.strokes, way.same_spot)
        for reason, ways in penalties.WAYS_ON.items()
        for way in ways
    }
    phones = {
        (reason, way["name"], way["rule"], way["strokes"], way["same_spot"])
        for reason, ways in found["WAYS_ON"].items()
        for way in ways
    }
    assert phones == ours | MORE_ON_THE_PHONE


@pytest.mark.parametrize("reason", ["lost", "out_of_bounds"])
def test_a_provisional_in_play(module_page: Page, reason: str) -> None:
    base = {"hole": 1, "lie": "tee", "distance_yd": 400.0, "end_lie": None, "end_distance_yd": None}
    shots: list[dict[str, Any]] = [
        base | {"ball": 1, "order": 1},
        base | {"ball": 2, "order": 1, "provisional": True},
        base | {"ball": 2, "order": 2, "provisional": True, "lie": "fairway", "distance_yd": 140.0},
    ]
    code = """async ([shots, reason]) => {
      const { provisionalInPlay } = await import('/js/game/provisional.js');
      return provisionalInPlay(shots, 2, reason);
    }"""
    found = module_page.evaluate(code, [shots, reason])
    wanted = provisional_in_play(shots, 2, reason)
    without = [{name: value for name, value in shot.items() if name != "picked_up"} for shot in found]
    assert without == wanted


def test_words_and_lengths_of_hole_maps(module: Any) -> None:
    found = module("map-form")
    assert found["TROUBLE"] == map_form.TROUBLE
    assert found["SIDES"] == list(map_form.SIDES)
    assert found["TEE_BOX"] == list(map_form.TEE_BOX)
    lengths = {name: value for name, value in found.items() if name.endswith("_YD")}
    assert lengths == {name: getattr(map_form, name) for name in lengths}
    assert len(lengths) == 6
    assert set(module("hole-maps")["PAINTED"]) == set(hole_maps.FEATURES)
