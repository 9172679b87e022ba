"""The maps of the invented course are the ground that its rounds were played on."""

from __future__ import annotations

import json

import numpy as np
import pytest

from demo_rounds.course import Hole, load_course
from demo_rounds.hole_maps import FILE, FOLDER, collection, features_of, main
from server.analysis.plan.ground import OUT, RED, YELLOW, prepare
from server.game.hole_maps import map_fault
from server.game.lies import CODE
from server.records.validation import load
from tests.records.made import named

COURSE = load_course()


def test_the_shipped_file_is_what_the_script_writes(tmp_path, capsys):
    main(["--to", str(tmp_path)])
    assert "features of 18 holes" in capsys.readouterr().out
    assert (tmp_path / FILE).read_bytes() == (FOLDER / FILE).read_bytes()
    assert json.loads((FOLDER / FILE).read_text(encoding="utf-8")) == collection()


def test_every_hole_is_mapped_and_sound():
    shipped = collection()["features"]
    assert {feature["properties"]["hole"] for feature in shipped} == set(range(1, 19))
    for hole in COURSE.holes:
        made = [feature for feature in shipped if feature["properties"]["hole"] == hole.number]
        assert map_fault(made) is None
        assert load("hole_map", {"course_id": named("course"), "hole": hole.number, "features": made})


@pytest.mark.parametrize("hole", COURSE.holes, ids=lambda hole: f"hole {hole.number}")
def test_the_map_says_what_the_course_says(hole: Hole):
    """4,000 random places between tee and green: only those near an edge may differ. Half-yard cells put an edge up
    to 0.35 yd off, polygons of the bent line and of circles a few hundredths more, so a place farther than 0.5 yd
    from every edge must agree; that is told by asking the course half a yard around."""
    ground = prepare(features_of(hole))
    rng = np.random.default_rng(hole.number)
    x, y = rng.uniform(-70, 70, 4000), rng.uniform(0, hole.back + 40, 4000)
    codes = ground.codes(x, y)
    words = {code: lie for lie, code in CODE.items()} | {RED: "water", YELLOW: "water", OUT: "out_of_bounds"}
    sure = differs = 0
    for place_x, place_y, code in zip(x, y, codes, strict=True):
        around = {hole.ground(place_x + dx, place_y + dy) for dx in (-0.5, 0, 0.5) for dy in (-0.5, 0, 0.5)}
        if len(around) > 1:
            continue
        sure += 1
        on_a_tee = abs(place_x) <= 3.5 and min(abs(place_y), abs(place_y - (hole.back - hole.middle))) <= 5.5
        differs += not on_a_tee and words[int(code)] not in around
    assert sure > 3000
    assert differs == 0
