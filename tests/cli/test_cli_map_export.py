"""map export: what was read in from the earth comes back, what was entered in yards says so."""

from __future__ import annotations

import json
from pathlib import Path

from demo_rounds.hole_maps import collection
from tests.cli.test_cli_plans import call_on, on_earth
from tests.made_once import copy_demo


def test_maps_come_back_as_geojson(tmp_path: Path) -> None:
    copy_demo(tmp_path / "own.sqlite")
    own = call_on(f"sqlite:///{tmp_path / 'own.sqlite'}")
    given, written = tmp_path / "given.geojson", tmp_path / "written.geojson"
    refused = own("map", "export", written)
    assert (refused.exit_code, refused.stdout) == (2, "")
    assert "hole 1 has no place on the earth" in refused.stderr
    assert not written.exists()
    given.write_text(json.dumps(on_earth(12, 158.0)), encoding="utf-8")
    own("map", "import", given)
    done = own("map", "export", written)
    assert done.stdout == f"1 hole written to {written}\n"
    assert done.stderr.count("has no place on the earth") == 17
    found = json.loads(written.read_text())
    assert found["type"] == "FeatureCollection"
    assert {one["properties"]["hole"] for one in found["features"]} == {12}
    assert own("map", "import", written).stdout.startswith("1 hole read (12)")


def test_maps_in_yards_are_those_of_the_invented_course(tmp_path: Path) -> None:
    copy_demo(tmp_path / "own.sqlite")
    own = call_on(f"sqlite:///{tmp_path / 'own.sqlite'}")
    written = tmp_path / "yards.geojson"
    assert own("map", "export", written, "--frame", "yards").stdout == f"18 holes written to {written}\n"
    found = json.loads(written.read_text())
    wanted = collection()["features"]
    assert [one["geometry"] for one in found["features"]] == json.loads(json.dumps([one["geometry"] for one in wanted]))
    assert "no such map" in own("map", "export", written, "--hole", "30").stderr
    assert "No such file or directory" in own("map", "export", tmp_path / "no" / "x.json", "--frame", "yards").stderr
