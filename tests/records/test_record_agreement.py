"""What the fields of one record must agree on between them, and the records that hold lists."""

from __future__ import annotations

import math
from typing import Any

import pytest

from server.analysis.plan.ground import prepare
from server.records.validation import InvalidError, load, load_stored
from tests.records.made import body_of, named

HOLE = {"number": 1, "par": 4, "length_yd": 400}
TEES = {"name": "middle", "holes": [HOLE]}


def faults_of(kind: str, /, **fields: Any) -> list[tuple[str, str]]:
    """(field, message) of every fault."""
    with pytest.raises(InvalidError) as refused:
        load(kind, body_of(kind, **fields))
    return [(fault.field, fault.message) for fault in refused.value.faults]


def test_on_the_green_a_ball_lies_within_50_yd() -> None:
    assert load("shot", body_of("shot", lie="green", distance_yd=50))["distance_yd"] == 50
    words = "is outside 0 to 50 yd on the green"
    assert faults_of("shot", lie="green", distance_yd=50.01) == [("distance_yd", words)]
    assert faults_of("shot", lie="green", distance_yd=90) == [("distance_yd", words)]
    assert faults_of("shot", end_lie="green", end_distance_yd=51) == [("end_distance_yd", words)]
    assert load("shot", body_of("shot", end_lie="green", end_distance_yd=50))["end_distance_yd"] == 50
    for bad in (0, -1, 700.5, float("nan"), "5"):
        ((field, _),) = faults_of("shot", end_lie="rough", end_distance_yd=bad)
        assert field == "end_distance_yd"


def test_an_end_is_a_lie_and_a_distance() -> None:
    words = "an end needs both a lie and a distance"
    assert faults_of("shot", end_lie="rough") == [("end_distance_yd", words)]
    assert faults_of("shot", end_distance_yd=5) == [("end_distance_yd", words)]


def test_a_holed_shot_has_no_other_end() -> None:
    words = "a holed shot has no other end"
    assert faults_of("shot", holed=True, end_lie="rough", end_distance_yd=5) == [("holed", words)]
    assert faults_of("shot", holed=True, picked_up=True) == [("holed", words)]


def test_a_penalty_has_a_reason() -> None:
    assert faults_of("shot", penalty_strokes=1) == [("penalty_reason", "a penalty needs a reason")]
    for strokes in (1, 2):
        assert (
            load("shot", body_of("shot", penalty_strokes=strokes, penalty_reason="lost"))["penalty_strokes"] == strokes
        )
    # Rule 17.1b: the ball may be played as it lies in a penalty area, without a stroke.
    assert load("shot", body_of("shot", penalty_reason="penalty_area"))["penalty_strokes"] == 0


def test_closings_are_kept_with_the_times_of_any_clock() -> None:
    assert load("round", body_of("round"))["closings"] is None
    for good in (
        "2026-05-01T14:02:00.000Z",
        "1970-01-01T00:00:00Z",
        "+012026-05-01T14:02:00.000Z",
        "2026-05-01T14:02+02:00",
    ):
        closings = [{"closed_at": good, "reopened_at": "2026-01-01T00:00:00Z"}, {"closed_at": good, "moon": "full"}]
        found = load("round", body_of("round", closings=closings))["closings"]
        assert found == [closings[0], closings[1] | {"reopened_at": None}]
    assert len(load("round", body_of("round", closings=[{}] * 200))["closings"]) == 200


def test_a_closing_that_is_none_is_named() -> None:
    for bad in ("yesterday", "", "14:02", 5, True, "2026-05-01\x0014:02", "2026-05-01T14:02:00Z" + " " * 40):
        closings = [{"closed_at": "2026-05-01T14:02:00Z"}, {"reopened_at": bad}]
        with pytest.raises(InvalidError) as refused:
            load("round", body_of("round", closings=closings))
        (fault,) = refused.value.faults
        assert (fault.field, fault.message) == ("closings.1.reopened_at", "is not a time")
        assert fault.range == "ISO 8601, such as 2026-05-01T09:30:00.000Z"
    assert faults_of("round", closings=[{}] * 201) == [("closings", "has too many closings")]
    assert [field for field, _ in faults_of("round", closings=["now"])] == ["closings.0._schema"]
    assert [field for field, _ in faults_of("round", closings="now")] == ["closings"]


def test_a_provisional_ball_is_not_the_ball_of_record() -> None:
    assert faults_of("shot", provisional=True) == [("provisional", "a provisional ball has a number above 1")]
    assert load("shot", body_of("shot", provisional=True, ball=2))["provisional"] is True


@pytest.mark.parametrize("position", [[0, 0.5], [-180, -90, 0], [180, 90, 5000.5]])
def test_a_position_is_longitude_latitude_and_accuracy(position: list[float]) -> None:
    assert load("shot", body_of("shot", position=position))["position"] == position


@pytest.mark.parametrize(
    "position",
    [
        [],
        [1],
        [0, 0],
        [0.0, 0.0, 5.0],
        [180.1, 0],
        [0, 90.1],
        [0, -91],
        [0, 0, -1],
        [0, 0, 1, 1],
        ["0", "0"],
        [None, 0],
        [float("nan"), 0],
        [1, 2, 100_001],
        "0,0",
    ],
)
def test_another_position_is_refused(position: Any) -> None:
    found = faults_of("shot", position=position)
    assert found
    assert all(field.startswith("position") for field, _ in found)
    flags = faults_of("round", holes=[HOLE | {"flag": position}])
    assert flags
    assert all(field.startswith("holes.0.flag") for field, _ in flags)
    shapes = [{"golf": "green", "corners": [[1, 2, 3], position]}]
    assert all(field.startswith("walk") for field, _ in faults_of("hole_map", walk=shapes))


def test_a_position_with_its_numbers_exchanged_is_reported_as_such() -> None:
    assert faults_of("shot", position=[47.1, 138.5]) == [
        ("position", "latitude 138.5 is outside -90 to 90 degrees: are longitude and latitude swapped?")
    ]


def test_what_was_walked_has_bounds() -> None:
    shape = {"golf": "bunker", "corners": [[8.5, 47.2, 4.0]]}
    assert load("hole_map", body_of("hole_map", walk=[shape]))["walk"] == [shape | {"side": None}]
    assert faults_of("hole_map", walk=[shape] * 61) == [("walk", "has too many shapes")]
    for bad in ({"golf": "rough"}, {"side": "ahead"}, {"corners": [[8.5, 47.2, 4.0]] * 61}, {"corners": None}):
        assert faults_of("hole_map", walk=[shape | bad])


def test_holes_are_defined_once_each_within_their_ranges() -> None:
    for kind, wrap in (
        ("round", lambda holes: {"holes": holes}),
        ("course", lambda holes: {"tees": [TEES | {"holes": holes}]}),
    ):
        prefix = "" if kind == "round" else "tees.0."
        assert faults_of(kind, **wrap([HOLE, HOLE])) == [(f"{prefix}holes", "hole 1 is defined twice")]
        assert faults_of(kind, **wrap([])) == [(f"{prefix}holes", "has the wrong number of holes")]
        for name, bad in (("number", 0), ("number", 37), ("par", 2), ("par", 7), ("length_yd", 0), ("length_yd", 701)):
            ((field, message),) = faults_of(kind, **wrap([HOLE, HOLE | {"number": 2} | {name: bad}]))
            assert (field, message) == (f"{prefix}holes.1.{name}", "is outside its range")
        ((field, message),) = faults_of(kind, **wrap([{"number": 1, "par": 4}]))
        assert (field, message) == (f"{prefix}holes.0.length_yd", "is missing")
        many = [HOLE | {"number": number} for number in range(1, 37)]
        assert load(kind, body_of(kind, **wrap(many)))


def test_ratings_of_tees_keep_their_ranges() -> None:
    for name, edges, beyond in (("rating", (50, 90), (49.9, 90.1)), ("slope", (55, 155), (54, 156))):
        for good in edges:
            assert load("course", body_of("course", tees=[TEES | {name: good}]))["tees"][0][name] == good
        for bad in beyond:
            assert faults_of("course", tees=[TEES | {name: bad}]) == [(f"tees.0.{name}", "is outside its range")]
    assert load("course", body_of("course", tees=[TEES] * 20))
    assert faults_of("course", tees=[TEES] * 21) == [("tees", "has the wrong number of tees")]
    assert faults_of("course", tees=[]) == [("tees", "has the wrong number of tees")]


def test_a_bag_holds_each_club_once() -> None:
    assert faults_of("round", bag=[named("a"), named("a").upper()]) == [("bag", "has one club twice")]


@pytest.mark.parametrize(
    ("entries", "field", "words"),
    [
        ([{"hole": 1}, {"hole": 1, "wind": "light"}], "hole_conditions", "has one hole twice"),
        ([{"hole": number} for number in range(1, 38)], "hole_conditions", "has too many holes"),
        ([{"wind": "light"}], "hole_conditions.0.hole", "is missing"),
        ([{"hole": 37}], "hole_conditions.0.hole", "is outside its range"),
        ([{"hole": 1}, {"hole": 2, "wind": "gale"}], "hole_conditions.1.wind", "is not one of its values"),
        ([{"hole": 1, "wind_from_deg": 361}], "hole_conditions.0.wind_from_deg", "is outside its range"),
        ([{"hole": 1, "wind_from_deg": -1}], "hole_conditions.0.wind_from_deg", "is outside its range"),
        ([{"hole": 1, "pin_depth": "left"}], "hole_conditions.0.pin_depth", "is not one of its values"),
        ([{"hole": 1, "pin_side": "center"}], "hole_conditions.0.pin_side", "is not one of its values"),
    ],
)
def test_conditions_of_holes_are_refused_with_the_place(entries: list[Any], field: str, words: str) -> None:
    ((place, message),) = faults_of("round", hole_conditions=entries)
    assert (place, message) == (field, words)


def test_conditions_of_holes_are_taken_with_what_the_server_does_not_know() -> None:
    entries = [{"hole": 36, "wind": "none", "wind_from_deg": 360, "gusts": True}, {"hole": 1, "pin_depth": None}]
    taken = load("round", body_of("round", hole_conditions=entries))["hole_conditions"]
    assert [(one["hole"], one["wind"], one["pin_side"]) for one in taken] == [(36, "none", None), (1, None, None)]
    assert taken[0]["gusts"] is True
    assert load("round", body_of("round", hole_conditions=[]))["hole_conditions"] == []
    assert load("round", body_of("round"))["hole_conditions"] is None
    ((field, _),) = faults_of("round", bag=[named("a"), "driver"])
    assert field == "bag.1"
    sixty = [named(str(number)) for number in range(60)]
    assert len(load("round", body_of("round", bag=sixty))["bag"]) == 60
    ((field, message),) = faults_of("round", bag=[*sixty, named("a")])
    assert field == "bag"
    assert "too many" in message


def feature(**fields: Any) -> dict[str, Any]:
    """A sound feature with some members set otherwise."""
    ring = [[0, 0], [1, 0], [0, 1], [0, 0]]
    return {"properties": {"golf": "green"}, "geometry": {"type": "Polygon", "coordinates": [ring]}} | fields


@pytest.mark.parametrize(
    "bad",
    [
        {"geometry": [1]},
        {"geometry": None},
        {"geometry": {"type": "Point", "coordinates": [0, 0]}},
        {"geometry": {"type": "Polygon"}},
        {"geometry": {"type": "Polygon", "coordinates": 5}},
        {"geometry": {"type": "Polygon", "coordinates": [5]}},
        {"geometry": {"type": "Polygon", "coordinates": [[]]}},
        {"geometry": {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [0, 1], [1, 1]]]}},
        {"geometry": {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [0, 0]]]}},
        {"geometry": {"type": "Polygon", "coordinates": [[["0", 0], [1, 0], [0, 1], ["0", 0]]]}},
        {"geometry": {"type": "Polygon", "coordinates": [[[0, 0], [9999, 0], [0, 1], [0, 0]]]}},
        {"geometry": {"type": "Polygon", "coordinates": [[[0, 0], [10**400, 0], [0, 1], [0, 0]]]}},
        {"properties": None},
        {"properties": "green"},
        {"properties": {"golf": "moat"}},
        {"properties": {"golf": ["green"]}},
    ],
)
def test_a_map_holds_closed_polygons_of_known_features(bad: dict[str, Any]) -> None:
    ((field, message),) = faults_of("hole_map", features=[feature(), feature(**bad)])
    assert field == "features"
    assert message.startswith("feature 2 ")


def circle(points: int, radius: float = 20) -> list[list[float]]:
    """A closed ring of `points` + 1 points."""
    turns = [2 * math.pi * step / points for step in range(points)]
    ring = [[radius * math.cos(turn), radius * math.sin(turn)] for turn in turns]
    return [*ring, ring[0]]


def around(golf: str, *rings: list[list[float]]) -> dict[str, Any]:
    return feature(properties={"golf": golf}, geometry={"type": "Polygon", "coordinates": list(rings)})


def test_a_map_holds_up_to_5000_points_a_polygon_3000_and_a_green_1000() -> None:
    green, rough = around("green", circle(999)), around("rough", circle(1499, 40), circle(1499, 30))
    assert load("hole_map", body_of("hole_map", features=[green, rough, around("trees", circle(999, 50))]))
    for more, words in (
        (around("trees", circle(1000, 50)), "5001 points are more than 5000"),
        (around("trees", circle(3000, 50)), "feature 2 has 3001 points; a polygon may have up to 3000"),
    ):
        before = [green, rough] if words[0] == "5" else [green]
        assert faults_of("hole_map", features=[*before, more]) == [("features", words)]
    faults = faults_of("hole_map", features=[around("green", circle(1000))])
    assert faults == [("features", "feature 1 has 1001 points; a green may have up to 1000")]


def test_a_map_that_was_taken_before_stays_readable() -> None:
    """What was stored when a map could hold more is typed for its table; it is the plan that refuses it, in words."""
    body = body_of("hole_map", features=[around("green", circle(1000))])
    assert load_stored("hole_map", body)["features"] == body["features"]
    with pytest.raises(ValueError, match="a green may have up to 1000"):
        prepare(body["features"])
