"""GeoJSON in WGS84: holes found, places projected, the way back, and files that are no maps."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest

from server.game.geodesy import LocalFrame
from server.game.geojson_maps import HoleMap, MapError, maps_from_geojson, to_geojson
from server.game.hole_maps import Feature, feature, kind_of, oval

FRAME = LocalFrame(-2.3456, 51.6789, 37.0)


def local(length: float = 400.0, shift: float = 0.0) -> list[Feature]:
    return [
        feature("tee", [(shift - 3, -5), (shift + 3, -5), (shift + 3, 5), (shift - 3, 5)]),
        feature(
            "fairway", [(shift - 15, 150), (shift + 15, 150), (shift + 15, length - 15), (shift - 15, length - 15)]
        ),
        feature("green", oval(shift, length, 12, 14)),
        feature("bunker", oval(shift + 20, length - 5, 5, 5)),
    ]


def earth(features: list[Feature], **more: Any) -> dict[str, Any]:
    """Features on the earth, with what else belongs in the collection."""
    made = to_geojson(HoleMap(features, FRAME))
    for found in made["features"]:
        found["properties"] |= more
    return made


def line(ref: str, *yards: tuple[float, float]) -> dict[str, Any]:
    places = FRAME.to_places(np.array(yards)).tolist()
    return {
        "type": "Feature",
        "properties": {"golf": "hole", "ref": ref, "par": "4"},
        "geometry": {"type": "LineString", "coordinates": places},
    }


def test_the_way_to_the_earth_and_back_keeps_every_point() -> None:
    """Degrees to 9 decimals are 0.1 mm; local yards are rounded to 0.001: together under 0.002 yd."""
    maps, notes = maps_from_geojson(earth(local()), hole=7)
    assert list(maps) == [7]
    assert notes == []
    for given, found in zip(local(), maps[7].features, strict=True):
        assert kind_of(found) == kind_of(given)
        assert np.array(found["geometry"]["coordinates"][0]) == pytest.approx(
            np.array(given["geometry"]["coordinates"][0]), abs=0.002
        )
    assert maps[7].length_yd == pytest.approx(400, abs=0.01)
    assert maps[7].frame.turned_deg == pytest.approx(37.0, abs=1e-3)
    again, _ = maps_from_geojson(to_geojson(maps[7]), hole=7)
    assert again[7].features == maps[7].features


def test_lines_tell_which_polygon_belongs_to_which_hole() -> None:
    both = earth(local() + local(300.0, 120.0))
    both["features"] += [line("1", (0, 0), (0, 400)), line("2", (120, 0), (120, 300))]
    both["features"].append({**earth([feature("green", oval(900, 900, 9, 9))])["features"][0]})
    maps, notes = maps_from_geojson(both)
    assert sorted(maps) == [1, 2]
    assert maps[1].length_yd == pytest.approx(400, abs=0.01)
    assert maps[2].length_yd == pytest.approx(300, abs=0.01)
    assert [kind_of(found) for found in maps[2].features if kind_of(found) == "green"] == ["green"]
    assert notes == ["passed over: 1 of polygon far from every hole"]


def test_a_property_names_the_hole_and_tags_of_woods_and_parts_are_understood() -> None:
    made = earth(local(), hole="3")
    wood = copy.deepcopy(made["features"][1])
    wood["properties"] = {"natural": "wood", "hole": 3}
    wood["geometry"] = {"type": "MultiPolygon", "coordinates": [wood["geometry"]["coordinates"]] * 2}
    made["features"] += [
        wood,
        {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [0, 0]}},
    ]
    maps, notes = maps_from_geojson(made)
    assert [kind_of(found) for found in maps[3].features].count("trees") == 2
    assert notes == ["passed over: 1 of Point (no golf tag)"]


def test_heights_and_wrong_ring_order_are_taken() -> None:
    made = earth(local())
    for found in made["features"]:
        ring = found["geometry"]["coordinates"][0]
        found["geometry"]["coordinates"][0] = [[*place, 71.5] for place in reversed(ring)]
    maps, notes = maps_from_geojson(made, hole=1)
    assert maps[1].length_yd == pytest.approx(400, abs=0.01)
    assert len(notes) == 4
    assert all("wrong order" in note for note in notes)


def spoilt(change: Any) -> dict[str, Any]:
    made = earth(local())
    change(made)
    return made


def swap(made: dict[str, Any], lat: float = 0.0) -> None:
    """Longitude and latitude the wrong way round; `lat` moves the latitude to where a swap shows."""
    for found in made["features"]:
        ring = found["geometry"]["coordinates"][0]
        found["geometry"]["coordinates"][0] = [[y, x + lat] for x, y in ring]


def cloud(made: dict[str, Any]) -> None:
    made["features"] = [
        {"type": "Feature", "properties": {"golf": "pin"}, "geometry": {"type": "Point", "coordinates": [0.1, 51]}}
    ] * 9


@pytest.mark.parametrize(
    ("collection", "words"),
    [
        (5, "not a GeoJSON FeatureCollection"),
        ({"type": "Feature"}, "not a GeoJSON FeatureCollection"),
        ({"type": "FeatureCollection", "features": 5}, "features: is not a list"),
        ({"type": "FeatureCollection", "features": []}, "no polygon with a golf tag, only nothing"),
        ({"type": "FeatureCollection", "features": [5, None]}, "only 2 of no geometry"),
        (spoilt(cloud), "only 9 of Point (pin)"),
        (spoilt(lambda made: swap(made, 147.0)), "longitude and latitude look swapped"),
        (spoilt(lambda made: made["features"].pop(2)), "hole 1: there is no green"),
        (spoilt(lambda made: made["features"].pop(0)), "hole 1: there is neither a tee nor a line"),
        (spoilt(lambda made: made["features"][1]["geometry"].update(coordinates=[["a"]])), "is not a list of"),
        (spoilt(lambda made: made["features"][1]["geometry"].update(coordinates=[[[5e5, 6e6], [5e5, 6e6]]])), "WGS84?"),
        (spoilt(lambda made: made["features"][3]["geometry"]["coordinates"][0].clear()), "is not a list of"),
    ],
)
def test_what_is_no_map_is_named(collection: Any, words: str) -> None:
    with pytest.raises(MapError) as refused:
        maps_from_geojson(collection, hole=1)
    assert words in str(refused.value)


def test_polygons_without_a_hole_and_far_apart_are_named() -> None:
    with pytest.raises(MapError, match="no polygon names its hole"):
        maps_from_geojson(earth(local()))
    made = earth(local(), hole=1)
    far = copy.deepcopy(made["features"][3])
    far["geometry"]["coordinates"] = [[[x + 30, y] for x, y in far["geometry"]["coordinates"][0]]]
    made["features"].append(far)
    with pytest.raises(MapError, match="km from the hole"):
        maps_from_geojson(made)
