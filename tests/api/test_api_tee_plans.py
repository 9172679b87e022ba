"""Plans asked for by address, what can be planned, and maps written back out as GeoJSON."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

import numpy as np
import pytest
from flask.testing import FlaskClient

from server.game.geodesy import LocalFrame
from server.game.geojson_maps import HoleMap, to_geojson
from server.game.hole_maps import Feature, feature, oval
from server.game.map_form import HoleForm, Trouble, map_from_form
from tests.analysis.made_holes import rectangle, straight_hole
from tests.api.asking import problem, stored
from tests.records.made import Season, body_of, named

FORM = HoleForm(400, 26, 22, ((200, 30), (300, 26)), (Trouble("out_of_bounds", "right", 30),))
HOLES = {1: (4, 400.0), 2: (3, 170.0)}
FRAME = LocalFrame(-1.5, 52.3, 200.0)


def in_a_mirror(plays: str, carry_yd: float | None = None) -> Season:
    """Thirty fades of a driver on a hole with trouble on one side, and its mirror for a left-hander."""
    turn = 1.0 if plays == "right" else -1.0
    made = Season(f"Mirror {uuid4()}", plays=plays)
    driver = made.club("driver", "driver")
    tees = [{"name": "white", "holes": [{"number": 1, "par": 4, "length_yd": 400.0}]}]
    course = made.put("course", "course", {"name": "Blottingham Heath", "tees": tees})
    trouble = rectangle("out_of_bounds", *sorted((32 * turn, 90 * turn)), 0, 450)
    beside = rectangle("rough", -95, 95, -40, 460)
    made.put("hole_map", "map", {"course_id": course, "hole": 1, "features": [beside, *straight_hole(15.0), trouble]})
    one = made.round("round", {1: (4, 400.0)}, kind="practice", closed=True, course_id=course, tees="white")
    rng = np.random.default_rng(1)
    for ball in range(1, 31):
        right, long = (float(x) for x in rng.normal(0, 12, 2).round())
        told = {"swing": "full", "target_yd": 250, "right_yd": turn * right, "long_yd": long, "planned_shape": "fade"}
        told |= {} if carry_yd is None else {"carry_yd": carry_yd}
        made.shot(one, 1, 1, "tee", 400, driver, ball=ball, end_lie="fairway", end_distance_yd=150, **told)
    return made


def test_a_left_hander_gets_the_mirrored_plan(client: FlaskClient) -> None:
    (right,), (left,) = (
        client.get(f"{stored(client, one)}/{asked(one)}").get_json()["options"]
        for one in (in_a_mirror("right"), in_a_mirror("left"))
    )
    assert right["aim_yd"] == -left["aim_yd"] < 0
    assert right["expected"] == pytest.approx(left["expected"], abs=0.002)
    assert right["shares"] == pytest.approx(left["shares"], abs=0.002)


def test_the_carry_of_a_plan_is_the_players_own_where_it_was_recorded(client: FlaskClient) -> None:
    """Drives of 250 yd on average that carried 210: nearer to 0.84 than to the default of 0.93."""
    stated, own = (
        client.get(f"{stored(client, one)}/{asked(one)}").get_json()["options"][0]
        for one in (in_a_mirror("right"), in_a_mirror("right", 210.0))
    )
    assert stated["flight"]["own_shots"] == 0
    assert stated["flight"]["carry_share"] == 0.93
    assert own["flight"]["own_shots"] == 30
    assert own["flight"]["carry_share"] == pytest.approx(0.85, abs=0.02)
    assert "carry from 30 of your own shots" in own["notes"]


@pytest.fixture
def season() -> Season:
    """Thirty drives and two wedges in three closed rounds on a course whose first hole is mapped."""
    made = Season(f"Planner {uuid4()}")
    driver, wedge = made.club("driver", "driver"), made.club("54 wedge", "wedge")
    listed = [{"number": number, "par": par, "length_yd": yards} for number, (par, yards) in HOLES.items()]
    tees = [{"name": "white", "holes": listed}, {"name": "yellow", "holes": listed}]
    made.put("course", "other", {"name": "Aldermoor", "tees": tees})
    course = made.put("course", "course", {"name": "Blottingham Heath", "tees": tees})
    made.put("hole_map", "map", {"course_id": course, "hole": 1, "features": map_from_form(FORM)})
    rng = np.random.default_rng(0)
    for place in range(3):
        one = made.round(f"round {place}", HOLES, kind="practice", closed=True, course_id=course, tees="yellow")
        for ball in range(1, 11):
            right, long = (float(x) for x in rng.normal(0, 12, 2).round())
            told = {"swing": "full", "target_yd": 250, "right_yd": right, "long_yd": long}
            made.shot(one, 1, 1, "tee", 400, driver, ball=ball, end_lie="fairway", end_distance_yd=150, **told)
    for ball in (1, 2):
        told = {"swing": "full", "target_yd": 90, "right_yd": 2.0 * ball, "long_yd": -4}
        made.shot(one, 2, 1, "tee", 170, wedge, ball=ball, end_lie="fairway", end_distance_yd=80, **told)
    return made


def course_id(season: Season) -> str:
    return named(f"{season.player_id}|course")


def asked(season: Season, **more: Any) -> str:
    return "tee-plan?" + urlencode({"course_id": course_id(season), "hole": 1} | more, doseq=True)


def test_the_address_asks_the_same_as_the_body(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    body = {"course_id": course_id(season), "hole": 1}
    plain = client.get(f"{address}/{asked(season)}")
    assert plain.get_json() == client.post(f"{address}/tee-plan", json=body).get_json()
    assert client.get(f"{address}/{asked(season)}", headers={"If-None-Match": plain.headers["ETag"]}).status_code == 304
    more = {"from": [5, 140], "lie": "rough", "pin": [4, 405], "clubs": ["driver"], "tees": "yellow"}
    query = asked(season, lie="rough", pin="4,405", club=["driver"], tees="yellow", **{"from": "5,140"})
    assert (
        client.get(f"{address}/{query}").get_json() == client.post(f"{address}/tee-plan", json=body | more).get_json()
    )


def test_the_pin_of_the_day_does_not_move_the_tee(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    usual = client.get(f"{address}/{asked(season, club=['driver'])}").get_json()
    x, y = usual["pin"]
    back = client.get(f"{address}/{asked(season, club=['driver'], pin=f'{x + 3},{y + 8}')}").get_json()
    assert back["from"] == usual["from"]
    assert back["to_hole_yd"] == pytest.approx(np.hypot(x + 3 - usual["from"][0], y + 8 - usual["from"][1]))
    assert back["to_hole_yd"] > usual["to_hole_yd"] + 5


def test_a_plan_brings_what_its_drawing_needs(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    made = client.get(f"{address}/{asked(season)}").get_json()
    assert made["features"] == json.loads(json.dumps(map_from_form(FORM)))
    (driver,) = made["options"]
    landings = driver["landings"]
    assert {len(landings[name]) for name in ("right_yd", "along_yd", "ends")} == {80}
    assert 150 < np.mean(landings["along_yd"]) < 260
    assert set(landings["ends"]) <= set(driver["shares"]) - {"trouble"}
    assert driver["aim_deg"] < 0
    assert len(json.dumps(made)) < 60_000


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"from": "5"}, "from", "is not two numbers"),
        ({"from": "5,up"}, "from", "is not two numbers"),
        ({"from": "nan,5"}, "from", "outside its range"),
        ({"pin": "0,9000"}, "pin", "outside its range"),
        ({"pin": "900,900"}, "pin", "beyond the map"),
        ({"pin": "0,300"}, "pin", "(0, 300) is not on the green, whose middle is (0, 400) yd"),
        ({"lie": "green"}, "lie", "not one of its values"),
        ({"hole": 99}, "hole", "outside its range"),
        ({"hole": 2}, "hole", "hole 2 of Blottingham Heath has no map; mapped holes: 1"),
        ({"club": ["54 wedge"]}, "club", "2 tapped full swings; at least 5 are needed"),
        ({"club": ["driver"] * 31}, "club", "too many"),
        ({"wind": "5"}, "wind", ""),
    ],
)
def test_what_cannot_be_planned_is_named(
    client: FlaskClient, season: Season, wrong: dict[str, Any], field: str, words: str
) -> None:
    address = stored(client, season)
    found = problem(client.get(f"{address}/{asked(season, **wrong)}"), 422)
    assert [fault["field"].split(".")[0] for fault in found["errors"]] == [field]
    assert words in found["detail"]


def test_what_can_be_planned_comes_with_the_course_played_last_first(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    found = client.get(f"{address}/plans").get_json()
    assert [(one["name"], one["mapped"], one["latest_tees"]) for one in found["courses"]] == [
        ("Blottingham Heath", [1], "yellow"),
        ("Aldermoor", [], None),
    ]
    first = found["courses"][0]
    assert first["course_id"] == course_id(season)
    assert [tees["name"] for tees in first["tees"]] == ["white", "yellow"]
    assert first["tees"][0]["holes"][1] == {"number": 2, "par": 3, "length_yd": 170.0}
    assert (found["baseline"], found["player_id"]) == ("tour", season.player_id)
    assert "local rules come first" in found["caution"]


@pytest.mark.parametrize("later", ["a", "b", "c", "d"])
def test_of_two_courses_of_one_name_the_mapped_one_can_be_planned(
    client: FlaskClient, season: Season, later: str
) -> None:
    tees = [{"name": "white", "holes": [{"number": 1, "par": 4, "length_yd": 400}]}]
    twin = season.put("course", f"twin {later}", {"name": "Blottingham Heath", "tees": tees})
    found = client.get(f"{stored(client, season)}/plans").get_json()["courses"]
    mapped = {one["course_id"]: one["mapped"] for one in found if one["name"] == "Blottingham Heath"}
    assert mapped == {course_id(season): [1], twin: []}


def test_an_open_competition_round_locks_plans_but_not_maps(client: FlaskClient, season: Season) -> None:
    season.round("today", HOLES, kind="competition")
    address = stored(client, season)
    for path in (asked(season), "plans"):
        assert "4.3a" in problem(client.get(f"{address}/{path}"), 423)["detail"]
    assert client.get(f"{address}/hole-maps?course_id={course_id(season)}&frame=yards").status_code == 200


def hole_on_earth(length: float = 170.0) -> list[Feature]:
    return [
        feature("tee", [(-3, -5), (3, -5), (3, 5), (-3, 5)]),
        feature("green", oval(0, length, 11, 13)),
        feature("bunker", oval(18, length, 5, 5)),
    ]


def test_an_imported_map_comes_back_and_is_the_same_map(client: FlaskClient, season: Season) -> None:
    """Degrees to 9 decimals are a tenth of a millimetre, and both ways round to 0.001 yd: together under 0.003 yd."""
    address = stored(client, season)
    query = f"course_id={course_id(season)}"
    given = to_geojson(HoleMap(hole_on_earth(), FRAME))
    assert client.post(f"{address}/hole-maps?{query}&hole=2", json=given).get_json()["stored"] == 1
    found = client.get(f"{address}/hole-maps?{query}").get_json()
    assert found["notes"] == ["hole 1 has no place on the earth: it was entered in yards from the tee"]
    assert {one["properties"]["hole"] for one in found["features"]} == {2}
    for one, other in zip(found["features"], given["features"], strict=True):
        there, back = (np.array(each["geometry"]["coordinates"]) for each in (other, one))
        assert np.abs(there - back).max() < 2e-8, "a thousandth of a yard is about 1e-8 degrees"
    before = client.get(f"{address}/hole-maps?{query}&hole=2&frame=yards").get_json()["features"]
    assert client.post(f"{address}/hole-maps?{query}", json=found).get_json()["holes"] == [2]
    after = client.get(f"{address}/hole-maps?{query}&hole=2&frame=yards").get_json()["features"]
    assert len(after) == len(before) == 3
    for one, other in zip(after, before, strict=True):
        assert one["properties"] == other["properties"]
        there, back = (np.array(each["geometry"]["coordinates"]) for each in (other, one))
        assert np.abs(there - back).max() < 0.003


def test_maps_in_their_own_yards_are_what_is_stored(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    found = client.get(f"{address}/hole-maps?course_id={course_id(season)}&frame=yards&hole=1").get_json()
    assert (found["units"], found["course"], found["notes"]) == ("local yards", "Blottingham Heath", [])
    assert [one["geometry"] for one in found["features"]] == [
        json.loads(json.dumps(one["geometry"])) for one in map_from_form(FORM)
    ]


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("", "ask for the frame yards"),
        ("&hole=2", "mapped holes of Blottingham Heath: 1"),
        ("&frame=yards&hole=7", "no such map"),
    ],
)
def test_a_map_that_is_not_there_is_named(client: FlaskClient, season: Season, query: str, words: str) -> None:
    address = stored(client, season)
    assert words in problem(client.get(f"{address}/hole-maps?course_id={course_id(season)}{query}"), 404)["detail"]
    problem(client.get(f"{address}/hole-maps?course_id={uuid4()}"), 404)


NOWHERE = [
    {"lon": 10**400, "lat": 1, "turned_deg": 0},
    {"lon": 1, "lat": 89.9999999, "turned_deg": 0},
    {"lon": 1, "lat": 1, "turned_deg": 10**400},
    {"lon": 1, "lat": 1, "turned_deg": True},
    {"lon": 1, "lat": 1},
    [1],
]


@pytest.mark.parametrize("frame", NOWHERE)
def test_a_map_that_says_a_place_that_is_none_has_no_place(client: FlaskClient, frame: Any) -> None:
    made = Season(f"Nowhere {uuid4()}")
    course = made.put("course", "course", body_of("course", name="Nowhere"))
    body = {"course_id": course, "hole": 1, "features": map_from_form(FORM)}
    made.put("hole_map", "map", body | {"frame": frame})
    address = f"{stored(client, made)}/hole-maps?course_id={course}"
    assert "hole 1 has no place on the earth" in problem(client.get(address), 404)["detail"]
    assert client.get(f"{address}&frame=yards").status_code == 200


def _far_away() -> dict[str, Any]:
    given = to_geojson(HoleMap(hole_on_earth(), FRAME))
    given["features"] += to_geojson(HoleMap([feature("bunker", oval(900, 170, 5, 5))], FRAME))["features"]
    return given


def _swapped() -> dict[str, Any]:
    given = to_geojson(HoleMap(hole_on_earth(), LocalFrame(-100.5, 52.3, 200.0)))
    for one in given["features"]:
        one["geometry"]["coordinates"] = [[place[::-1] for place in ring] for ring in one["geometry"]["coordinates"]]
    return given


def _points() -> dict[str, Any]:
    cloud = {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [-1.5, 52.3]}}
    return {"type": "FeatureCollection", "features": [cloud] * 500}


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (_far_away(), "is it in another frame?"),
        (_swapped(), "swapped"),
        (_points(), "no polygon with a golf tag, only 500 of Point"),
    ],
)
def test_a_file_that_is_no_map_is_named_and_nothing_is_stored(
    client: FlaskClient, season: Season, given: dict[str, Any], words: str
) -> None:
    address = stored(client, season)
    answer = client.post(f"{address}/hole-maps?course_id={course_id(season)}&hole=2", json=given)
    assert words in problem(answer, 422)["detail"]
    assert client.get(f"{address}/plans").get_json()["courses"][0]["mapped"] == [1]


def test_a_file_of_50_mb_is_refused_by_its_size(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    body = b'{"type": "FeatureCollection", "features": [' + b" " * 50_000_000 + b"]}"
    query = f"course_id={course_id(season)}&hole=2"
    answer = client.post(f"{address}/hole-maps?{query}", data=body, content_type="application/json")
    problem(answer, 413)
    assert client.get(f"{address}/plans").get_json()["courses"][0]["mapped"] == [1]


def test_a_plan_of_a_windy_day_says_what_it_reckons_with(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    calm = client.get(f"{address}/{asked(season)}").get_json()
    assert calm["day"] is None
    windy = client.get(f"{address}/{asked(season, wind_mph=20, wind_from_deg=90, firmness='firm')}").get_json()
    assert windy["day"]["words"] == "wind of 20 mph from the right, firm ground"
    # the wind blows to the left: aimed farther right
    assert windy["options"][0]["aim_yd"] > calm["options"][0]["aim_yd"] + 10
    body = {"course_id": course_id(season), "hole": 1, "wind_mph": 20, "wind_from_deg": 90, "firmness": "firm"}
    assert client.post(f"{address}/tee-plan", json=body).get_json() == windy


@pytest.mark.parametrize(
    ("wrong", "field", "range_"),
    [
        ({"wind_mph": 200}, "wind_mph", "0 to 60 mph"),
        ({"wind_from_deg": 720}, "wind_from_deg", "-360 to 360 degrees"),
        ({"firmness": "hard"}, "firmness", "soft, medium, firm"),
        ({"temperature_c": 99}, "temperature_c", "-30 to 60 degrees C"),
        ({"altitude_m": 9000}, "altitude_m", "-430 to 4000 m"),
        ({"ahead": "perhaps"}, "ahead", "true or false"),
    ],
)
def test_an_absurd_day_names_field_value_and_range(
    client: FlaskClient, season: Season, wrong: dict[str, Any], field: str, range_: str
) -> None:
    address = stored(client, season)
    for answer in (
        client.get(f"{address}/{asked(season, **wrong)}"),
        client.post(f"{address}/tee-plan", json={"course_id": course_id(season), "hole": 1} | wrong),
    ):
        (fault,) = problem(answer, 422)["errors"]
        assert fault["field"] == field
        assert str(next(iter(wrong.values()))) in fault["value"]
        assert fault["range"] == range_


def test_a_plan_that_looks_ahead_says_what_the_shot_leaves(client: FlaskClient, season: Season) -> None:
    """Drives of 250 yd on a hole of 400: 150 yd are left, which a driver alone overshoots."""
    address = stored(client, season)
    plain = client.get(f"{address}/{asked(season)}").get_json()
    assert plain["ahead"] is None
    made = client.get(f"{address}/{asked(season, ahead='true')}").get_json()
    seen = made["ahead"]
    assert seen["settled"]
    most = seen["next"][0]
    assert most["lie"] in {"fairway", "rough"}
    assert most["nearest_yd"] < most["distance_yd"] < most["farthest_yd"]
    assert most["distance_yd"] == pytest.approx(150, abs=15)
    assert seen["words"][0].startswith(f"Leaves {most['distance_yd']:.0f} yd from the {most['lie']}")
    assert made["options"][0]["expected"] > plain["options"][0]["expected"]
    assert (
        client.post(f"{address}/tee-plan", json={"course_id": course_id(season), "hole": 1, "ahead": True}).get_json()[
            "ahead"
        ]
        == seen
    )
