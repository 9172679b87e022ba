"""The vectors of hole maps are what the software says now; sound ones make sound maps, bad ones are named."""

from __future__ import annotations

import json

import pytest

from server.game.hole_maps import map_fault
from server.game.map_form import SIDES, TROUBLE
from tests.vectors.make_hole_maps import BAD, PATH, SOUND, made_now

CASES = {case["name"]: case for case in json.loads(PATH.read_text(encoding="utf-8"))["cases"]}


def test_file_is_what_would_be_written_now() -> None:
    """After a wanted change: python -m tests.vectors.make_hole_maps"""
    assert PATH.read_text(encoding="utf-8") == made_now()


@pytest.mark.parametrize("name", SOUND)
def test_sound_forms_become_sound_maps(name: str) -> None:
    assert map_fault(CASES[name]["features"]) is None


@pytest.mark.parametrize("name", BAD)
def test_bad_forms_are_named(name: str) -> None:
    faults = CASES[name]["faults"]
    assert faults
    assert all(": " in fault for fault in faults)


def test_vectors_reach_every_kind_and_side() -> None:
    trouble = [one for case in SOUND.values() for one in case.get("trouble", [])]
    assert {one["kind"] for one in trouble} == set(TROUBLE)
    assert {one["side"] for one in trouble} == set(SIDES)


def test_figures_by_hand() -> None:
    """Half-way along a bent hole the middle swings out by the whole bend; the fairway begins 100 yd before its first
    distance; the green is as wide as said, its polygon a little wider by sqrt(turn / sin(turn)), turn a 32nd part."""
    fairway, green = (
        next(one for one in CASES["one width"]["features"] if one["properties"]["golf"] == golf)["geometry"][
            "coordinates"
        ][0]
        for golf in ("fairway", "green")
    )
    assert [min(y for _, y in fairway), max(y for _, y in fairway)] == [120, 386]
    assert [min(x for x, _ in fairway), max(x for x, _ in fairway)] == [-16, 16]
    assert max(x for x, _ in green) == pytest.approx(12 * 1.003221, abs=0.006)
    bent = next(one for one in CASES["a bend to the right"]["features"] if one["properties"]["golf"] == "fairway")
    assert max(x for x, _ in bent["geometry"]["coordinates"][0]) == 25 + 16
