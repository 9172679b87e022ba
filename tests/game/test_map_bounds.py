"""What a map may hold is counted before any geometry: no polygon, map or file costs more than a moment."""

from __future__ import annotations

import contextlib
import math
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from server.game import hole_maps
from server.game.geodesy import LocalFrame
from server.game.geojson_maps import HoleMap, MapError, maps_from_geojson, to_geojson
from server.game.hole_maps import feature, map_fault, oval
from server.game.map_bounds import MOST_FEATURES, MOST_POINTS_A_GREEN, MOST_POINTS_A_POLYGON, MOST_RINGS
from tests.tiers import count

GREEN = feature("green", oval(0, 400, 12, 12))
FRAME = LocalFrame(-2.3456, 51.6789, 37.0)


def raw(golf: str, *rings: Any) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"golf": golf},
        "geometry": {"type": "Polygon", "coordinates": list(rings)},
    }


def comb(points: int) -> list[list[float]]:
    """A sound ring of slanting teeth, whose boxes all lie over each other: the worst that was found to check."""
    teeth = (points - 3) // 4
    step = 50.0 / teeth

    def at(along: float, across: float) -> list[float]:
        return [(along + across) * 0.7 - 75, (along - across) * 0.7 + 50]

    ring = []
    for tooth in range(teeth):
        across = 2 * tooth * step
        ring += [at(5, across), at(250, across), at(250, across + step), at(5, across + step)]
    ring += [at(0, 2 * teeth * step), at(0, 0)]
    return [*ring, ring[0]]


def square(half: float, x: float = 0.0, y: float = 0.0) -> list[list[float]]:
    return [
        [x - half, y - half],
        [x + half, y - half],
        [x + half, y + half],
        [x - half, y + half],
        [x - half, y - half],
    ]


@pytest.mark.parametrize(
    ("features", "words"),
    [
        ([GREEN] * (MOST_FEATURES + 1), "501 features are more than 500"),
        ([GREEN, raw("fairway", comb(40_000))], " points are more than 5000"),
        (
            [GREEN, raw("fairway", comb(3_200))],
            f"feature 2 has 3199 points; a polygon may have up to {MOST_POINTS_A_POLYGON}",
        ),
        ([raw("green", comb(1_400))], f"feature 1 has 1399 points; a green may have up to {MOST_POINTS_A_GREEN}"),
        ([GREEN, raw("rough", *[square(1)] * 101)], f"feature 2 has 101 rings, more than {MOST_RINGS}"),
        ([GREEN] + [raw("rough", square(1999))] * 60, "61 polygons cover 27.0 million square yards around the hole"),
    ],
)
def test_what_is_too_much_is_counted(features: list[Any], words: str) -> None:
    assert words in (map_fault(features) or "nothing")


def test_what_has_too_many_points_is_refused_before_any_geometry(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: Any) -> None:
        raise AssertionError("geometry was worked out")

    monkeypatch.setattr(hole_maps, "polygon", never)
    monkeypatch.setattr(shapely, "is_valid", never)
    assert map_fault([GREEN, raw("fairway", comb(30_000))])
    assert map_fault([GREEN, *[raw("bunker", square(1))] * 2000])


def test_the_largest_polygon_that_is_allowed_is_sound() -> None:
    assert map_fault([GREEN, raw("fairway", comb(MOST_POINTS_A_POLYGON))]) is None
    assert map_fault([GREEN, *[raw("rough", square(1999))] * 5]) is None


@pytest.mark.parametrize("coordinate", [10**400, -(10**400), 1e308, [], {}, "1", None, True])
def test_what_is_no_number_of_yards_is_named(coordinate: Any) -> None:
    assert "feature 1 has a ring" in (
        map_fault([raw("green", [[0, coordinate], *square(9)[1:4], [0, coordinate]])]) or ""
    )


@pytest.mark.parametrize("coordinates", [[], [[]], [[[]]], {}, [{}], None, 5, "x", [[[0, 0]] * 3]])
def test_a_polygon_without_rings_is_named(coordinates: Any) -> None:
    made = raw("green")
    made["geometry"]["coordinates"] = coordinates
    assert "feature 1 has a ring that is not" in (map_fault([made]) or "nothing")


def collection(*features: dict[str, Any]) -> dict[str, Any]:
    sound = to_geojson(HoleMap([feature("tee", oval(0, 0, 3, 5)), GREEN], FRAME))
    return {"type": "FeatureCollection", "features": [*sound["features"], *features]}


def on_earth(golf: str, *rings: list[list[float]]) -> dict[str, Any]:
    return raw(golf, *[FRAME.to_places(np.array(ring)).tolist() for ring in rings])


@pytest.mark.parametrize(
    ("geometry", "words"),
    [
        ({"type": "Polygon", "coordinates": []}, "polygon 3 (bunker): coordinates: [] has no ring"),
        ({"type": "MultiPolygon", "coordinates": [[]]}, "polygon 3 (bunker): coordinates: [] has no ring"),
        ({"type": "Polygon", "coordinates": [[]]}, "polygon 3 (bunker): is not a list of [longitude, latitude]"),
        ({"type": "Polygon", "coordinates": [[[0, 10**400]] * 4]}, "(0, 10000000...) is no place in degrees"),
        ({"type": "Polygon", "coordinates": [[[math.nan, 0]] * 4]}, "is not a list of [longitude, latitude]"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [0, 1]]]}, "polygon 3 (bunker): has 2 places; 3 are the fewest"),
    ],
)
@pytest.mark.parametrize("hole", [None, 1])
def test_a_file_with_such_a_polygon_is_refused_in_words(geometry: Any, words: str, hole: int | None) -> None:
    with pytest.raises(MapError) as refused:
        maps_from_geojson(collection({**raw("bunker"), "geometry": geometry}), hole)
    assert words in str(refused.value)


@pytest.mark.parametrize(
    ("features", "words"),
    [
        ([on_earth("fairway", comb(30_000))] * 4, "120062 points are more than 100000 in one file"),
        ([on_earth("fairway", comb(30_000))], "hole 1: 30065 points are more than 5000"),
        ([raw("bunker")] * 10_001, "10003 polygons are more than 10000"),
        (
            [
                {
                    "type": "Feature",
                    "properties": {"golf": "hole", "ref": "1"},
                    "geometry": {"type": "LineString", "coordinates": [[0, 0]] * 101},
                }
            ],
            "the line of a hole has 101 points, more than 100",
        ),
    ],
)
def test_a_file_that_is_too_large_is_refused(features: list[Any], words: str) -> None:
    with pytest.raises(MapError) as refused:
        maps_from_geojson(collection(*features), 1)
    assert words in str(refused.value)


def test_of_many_notes_the_rest_are_counted() -> None:
    odd = [{"type": "Feature", "properties": {"golf": f"x{n}"}, "geometry": {"type": "Point"}} for n in range(2000)]
    _, notes = maps_from_geojson(collection(*odd), 1)
    assert len(notes) == 51
    assert notes[-1] == "and 1950 more notes"


ANY = st.recursive(
    st.none()
    | st.booleans()
    | st.floats()
    | st.integers(-(10**400), 10**400)
    | st.text(max_size=3)
    | st.integers(-2, 2),
    lambda inside: st.lists(inside, max_size=4) | st.dictionaries(st.sampled_from(["type", "golf"]), inside),
    max_leaves=12,
)
PLACES = st.lists(st.lists(st.floats(-180, 180), min_size=2, max_size=3), max_size=5)


@settings(deadline=None, max_examples=count(50, 300))
@given(
    kind=st.sampled_from(["Polygon", "MultiPolygon", "LineString"]),
    coordinates=ANY | PLACES | st.lists(PLACES, max_size=3) | st.lists(st.lists(PLACES, max_size=2), max_size=2),
    properties=st.fixed_dictionaries(
        {},
        optional={
            "golf": st.just("hole") | st.just("green") | ANY,
            "natural": ANY,
            "hole": ANY,
            "ref": st.just("1") | ANY,
        },
    ),
    hole=st.none() | st.just(1),
)
def test_whatever_the_coordinates_are_a_file_is_read_or_refused(
    kind: str, coordinates: Any, properties: Any, hole: int | None
) -> None:
    found = {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}
    for features in (collection(found), {"type": "FeatureCollection", "features": [found]}):
        with contextlib.suppress(MapError):
            maps_from_geojson(features, hole)
    assert map_fault([found, GREEN]) is None or isinstance(map_fault([found, GREEN]), str)
