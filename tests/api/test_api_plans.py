"""Patterns, distances, tee plans and maps over HTTP."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

import numpy as np
import pytest
from flask.testing import FlaskClient

from server.game.geodesy import LocalFrame
from server.game.geojson_maps import HoleMap, to_geojson
from server.game.hole_maps import feature, oval
from server.game.map_form import HoleForm, Trouble, map_from_form
from tests.api.asking import problem, stored
from tests.records.made import Season, change, named

FORM = HoleForm(400, 26, 22, ((200, 30), (300, 26)), (Trouble("out_of_bounds", "right", 30),))
HOLES = {1: (4, 400.0), 2: (3, 170.0)}


@pytest.fixture
def season() -> Season:
    """Forty drives in four closed rounds on a course whose first hole is mapped; one club was used twice."""
    made = Season(f"Plans {uuid4()}")
    driver, iron = made.club("driver", "driver"), made.club("7 iron")
    listed = [{"number": number, "par": par, "length_yd": yards} for number, (par, yards) in HOLES.items()]
    course = made.put("course", "course", {"name": "Blottingham Heath", "tees": [{"name": "white", "holes": listed}]})
    made.put("hole_map", "map", {"course_id": course, "hole": 1, "features": map_from_form(FORM)})
    rng = np.random.default_rng(0)
    for place in range(4):
        one = made.round(f"round {place}", HOLES, kind="practice", closed=True, course_id=course, tees="white")
        for ball in range(1, 11):
            right, long = (float(x) for x in rng.normal(0, 12, 2).round())
            told = {"swing": "full", "target_yd": 250, "right_yd": right, "long_yd": long, "planned_shape": "fade"}
            made.shot(one, 1, 1, "tee", 400, driver, ball=ball, end_lie="fairway", end_distance_yd=150, **told)
    told = {"swing": "full", "target_yd": 165, "right_yd": 3, "long_yd": -4}
    made.shot(one, 2, 1, "tee", 170, iron, end_lie="green", end_distance_yd=9, **told)
    return made


def ids(season: Season) -> dict[str, Any]:
    return {"course_id": named(f"{season.player_id}|course"), "hole": 1}


def test_patterns_of_a_player(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    found = client.get(f"{address}/patterns").get_json()
    assert [(row["club"], row["shots"], row["rounds"]) for row in found["patterns"]] == [
        ("driver", 40, 4),
        ("7 iron", 1, 1),
    ]
    driver, iron = found["patterns"]
    assert driver["right"]["centre"]["low"] < driver["right"]["centre"]["value"] < driver["right"]["centre"]["high"]
    assert driver["ellipse"]["shots"] == 40
    assert iron["right"]["centre"] == {"value": 3.0, "low": None, "high": None, "n": 1}
    assert "not clear yet" in iron["warnings"][0]
    assert [(row["club"], row["planned"], row["shots"]) for row in found["shapes"]] == [("driver", "fade", 40)]
    assert "not advice" in found["caution"]
    assert "finishes" not in driver
    one = client.get(f"{address}/patterns?club=7 iron&split=lie").get_json()
    assert [(row["club"], row["group"]) for row in one["patterns"]] == [("7 iron", "tee")]
    assert "there is 7 iron, driver" in problem(client.get(f"{address}/patterns?club=wedge"), 404)["detail"]


def test_the_single_finishes_of_one_club_and_what_the_schema_says_of_them(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    (driver,) = client.get(f"{address}/patterns?club=driver").get_json()["patterns"]
    shots = driver["finishes"]["shots"]
    assert (len(shots), driver["finishes"]["left_out"], driver["tapped"]) == (40, 0, 40)
    for side in ("right", "long"):
        mean = np.mean([shot[f"{side}_yd"] for shot in shots])
        assert mean == pytest.approx(driver[side]["centre"]["value"])
    assert sum(shot["set_aside"] for shot in shots) == driver["robust"]["set_aside"]
    schemas = client.get("/api/openapi.json").get_json()["components"]["schemas"]
    assert set(driver) == set(schemas["Pattern"]["properties"]), "nothing is answered that is not described"
    assert set(shots[0]) == set(schemas["Finish"]["properties"])


def test_what_strikes_cost_and_of_how_many_shots_they_were_noted(client: FlaskClient, season: Season) -> None:
    """Of 40 drives 20 tell their strike: of each round the first three are clean, the next two 30 yd shorter heels."""
    for raw in season.changes:
        body = raw["body"]
        if raw["kind"] == "shot" and body["target_yd"] == 250 and body["ball"] <= 5:
            heel = body["ball"] > 3
            body |= {"strike": "heel" if heel else "centre", "planned_height": "low"}
            body["long_yd"] = (-30.0 if heel else 0.0) + body["ball"]
            body["end_distance_yd"] = 170 if heel else 150
    address = stored(client, season)
    found = client.get(f"{address}/strikes?level=0.8").get_json()
    assert (found["level"], found["baseline"]["id"], found["empty"]) == (0.8, "tour", None)
    told = [("strike", 20, 21), ("planned_height", 20, 21), ("planned_shape", 40, 1)]
    assert [(one["field"], one["told"], one["not_told"]) for one in found["told"]] == told
    (driver,) = found["clubs"]
    strike, height, shape = driver["fields"]
    counts = [(one["value"], one["shots"]) for one in strike["values"]]
    assert counts == [("centre", 12), ("heel", 8), ("not centre", 8)]
    heel = strike["values"][1]
    assert heel["yards"]["lacking"] == "all equal: no spread to judge by"
    assert heel["strokes"]["lacking"] == "all equal: no spread to judge by"
    assert heel["share"]["value"] == 0.4
    assert height["values"][0]["strokes"]["lacking"] == shape["values"][0]["yards"]["lacking"] == "no other recorded"
    one = client.get(f"{address}/strikes?club=7 iron").get_json()
    assert (one["clubs"], [count["not_told"] for count in one["told"]]) == ([], [1, 1, 1])
    wrong = problem(client.get(f"{address}/strikes?club=wedge"), 422)["errors"][0]
    assert (wrong["field"], wrong["value"]) == ("club", "wedge")
    assert "7 iron, driver" in wrong["message"]


def test_the_ladder_and_its_correction(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    plain = client.get(f"{address}/distances").get_json()
    assert [(rung["club"], rung["shots"]) for rung in plain["clubs"]] == [("driver", 40), ("7 iron", 1)]
    assert [step["flag"] for step in plain["steps"]] == ["not clear yet"]
    assert (plain["air"], plain["settings"]) == (None, {"gap_yd": 18.0, "overlap": 0.35})
    cold = client.get(f"{address}/distances?temperature_c=-5&head_wind_mph=10").get_json()
    assert cold["air"]["factor"] < 0.95
    ratio = cold["clubs"][0]["median"]["value"] / plain["clubs"][0]["median"]["value"]
    assert ratio == pytest.approx(cold["air"]["factor"])


def test_shots_of_one_course_alone(client: FlaskClient, season: Season) -> None:
    holes = [{"number": 1, "par": 4, "length_yd": 400.0}]
    elsewhere = season.put("course", "elsewhere", {"name": "Elsewhere", "tees": [{"name": "white", "holes": holes}]})
    driver = named(f"{season.player_id}|club driver")
    one = season.round("away", HOLES, kind="practice", closed=True, course_id=elsewhere, tees="white")
    told = {"swing": "full", "target_yd": 250, "right_yd": 3, "long_yd": -4}
    season.shot(one, 1, 1, "tee", 400, driver, end_lie="fairway", end_distance_yd=150, **told)
    address = stored(client, season)
    for course, shots in (("Blottingham Heath", 40), ("Elsewhere", 1)):
        found = client.get(f"{address}/patterns?course={course}").get_json()["patterns"]
        assert sum(row["shots"] for row in found if row["club"] == "driver") == shots
        ladder = client.get(f"{address}/distances?course={course}").get_json()["clubs"]
        assert sum(rung["shots"] for rung in ladder if rung["club"] == "driver") == shots


@pytest.mark.parametrize(
    ("path", "field"),
    [
        ("patterns?split=wind", "split"),
        ("patterns?clubs=a", "clubs"),
        ("distances?gap_yd=0", "gap_yd"),
        ("distances?overlap=0.7", "overlap"),
        ("distances?temperature_c=99", "temperature_c"),
        ("distances?from=2026-06-01&to=2026-05-01", "from"),
        ("patterns?course=Nowhere", "course"),
        ("distances?course=Nowhere", "course"),
    ],
)
def test_bad_questions_are_named(client: FlaskClient, season: Season, path: str, field: str) -> None:
    address = stored(client, season)
    assert [fault["field"] for fault in problem(client.get(f"{address}/{path}"), 422)["errors"]] == [field]


def test_a_tee_plan_aims_away_from_out_of_bounds(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    made = client.post(f"{address}/tee-plan", json=ids(season)).get_json()
    assert made["hole"] == {"number": 1, "par": 4, "length_yd": 400.0}
    assert (made["lie"], made["tees"]) == ("tee", "white")
    assert made["from"] == pytest.approx([0, 0], abs=0.02)
    (driver,) = made["options"]
    assert (driver["name"], driver["shots"], driver["line"]) == ("driver", 40, "the middle of the fairway")
    assert driver["aim_yd"] <= -2
    assert driver["low"] <= driver["expected"] <= driver["high"]
    assert len(driver["curve"]) == 41
    assert min(point["expected"] for point in driver["curve"]) == driver["expected"]
    shares = driver["shares"]
    places = ("fairway", "green", "rough", "sand", "trees", "water", "out_of_bounds")
    assert sum(shares[name] for name in places) == pytest.approx(1.0)
    assert made["left_out"] == [{"name": "7 iron", "reason": "1 tapped full swings; at least 5 are needed"}]
    assert made["verdict"] == "one club alone: nothing to choose between"
    assert "local rules come first" in made["caution"]
    assert json.dumps(made, allow_nan=False)


def test_an_approach_is_planned_from_a_place_with_its_own_lie_and_pin(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    body = ids(season) | {"from": [5, 140], "lie": "rough", "pin": [4, 405], "clubs": ["driver"], "baseline": "tour"}
    made = client.post(f"{address}/tee-plan", json=body).get_json()
    assert made["to_hole_yd"] == pytest.approx(265.0, abs=0.01)
    assert made["lie"] == "rough"
    assert "too few shots from the rough" in made["options"][0]["notes"][0]


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"hole": 2}, "hole", "hole 2 of Blottingham Heath has no map; mapped holes: 1"),
        ({"hole": 9}, "hole", "no hole 9"),
        ({"hole": 99}, "hole", "range"),
        ({"tees": "gold"}, "tees", "has no tees 'gold'; there is white"),
        ({"pin": [900, 900]}, "pin", "beyond the map"),
        ({"from": [0, -900]}, "from", "beyond the map"),
        ({"from": [0]}, "from", "needs two numbers"),
        ({"from": [0, 398]}, "from", "less than 10 yd"),
        ({"lie": "green"}, "lie", "not one of"),
        ({"clubs": ["7 iron"]}, "clubs", "at least 5 are needed"),
        ({"baseline": "tour_2011_green"}, "baseline", "no value for a lie"),
        ({"wind": 5}, "wind", ""),
        ({"course_id": "x"}, "course_id", "UUID"),
    ],
)
def test_what_cannot_be_planned_is_named(
    client: FlaskClient, season: Season, wrong: dict[str, Any], field: str, words: str
) -> None:
    address = stored(client, season)
    found = problem(client.post(f"{address}/tee-plan", json=ids(season) | wrong), 422)
    assert [fault["field"] for fault in found["errors"]] == [field]
    assert words in found["detail"]


def test_unknown_courses_players_and_baselines_are_not_found(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    for wrong in ({"course_id": str(uuid4())}, {"baseline": "nobody"}):
        problem(client.post(f"{address}/tee-plan", json=ids(season) | wrong), 404)
    for path in ("patterns", "distances"):
        problem(client.get(f"/api/players/{uuid4()}/{path}"), 404)
    problem(client.post(f"/api/players/{uuid4()}/tee-plan", json=ids(season)), 404)


def test_an_open_competition_round_locks_all_three(client: FlaskClient, season: Season) -> None:
    season.round("today", HOLES, kind="competition")
    address = stored(client, season)
    answers = [
        client.get(f"{address}/patterns"),
        client.get(f"{address}/distances"),
        client.post(f"{address}/tee-plan", json=ids(season)),
    ]
    for answer in answers:
        assert "4.3a" in problem(answer, 423)["detail"]


def hole_on_earth(length: float = 170.0) -> dict[str, Any]:
    features = [
        feature("tee", [(-3, -5), (3, -5), (3, 5), (-3, 5)]),
        feature("green", oval(0, length, 11, 13)),
        feature("bunker", oval(18, length, 5, 5)),
    ]
    return to_geojson(HoleMap(features, LocalFrame(-1.5, 52.3, 200.0)))


def test_a_map_is_stored_once_and_planned_on(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    query = f"course_id={ids(season)['course_id']}&hole=2"
    done = client.post(f"{address}/hole-maps?{query}", json=hole_on_earth()).get_json()
    assert done == {"holes": [2], "stored": 1, "notes": []}
    assert client.post(f"{address}/hole-maps?{query}", json=hole_on_earth()).get_json()["stored"] == 0
    problem(client.post(f"{address}/tee-plan", json=ids(season) | {"hole": 2, "clubs": ["7 iron"]}), 422)
    made = client.post(f"{address}/tee-plan", json=ids(season) | {"hole": 2}).get_json()
    assert made["options"] == []
    assert {"name": "driver", "reason": "its shots end beyond the map"} in made["left_out"]


def test_a_bad_map_is_named_and_nothing_is_stored(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    course = ids(season)["course_id"]
    before = client.get(f"{address}/changes?limit=5000").get_json()["changes"]
    no_green = hole_on_earth()
    no_green["features"].pop(1)
    for body, hole, words in (
        (no_green, 2, "hole 2: there is no green"),
        (hole_on_earth(400.0), 2, "the map has 400 yd, the course says 170: another hole, or longitude and latitude"),
        (hole_on_earth(), 7, "hole 7: the course has no such hole"),
        ({"type": "FeatureCollection", "features": []}, 2, "no polygon with a golf tag"),
    ):
        answer = client.post(f"{address}/hole-maps?course_id={course}&hole={hole}", json=body)
        assert words in problem(answer, 422)["detail"]
    problem(client.post(f"{address}/hole-maps?course_id={uuid4()}", json=hole_on_earth()), 404)
    assert client.get(f"{address}/changes?limit=5000").get_json()["changes"] == before


@pytest.mark.parametrize(
    ("kind", "coordinates"),
    [
        ("Polygon", []),
        ("Polygon", [[]]),
        ("MultiPolygon", [[]]),
        ("MultiPolygon", [[[]]]),
        ("Polygon", [[[0, 10**400], [1, 1], [1, 0], [0, 10**400]]]),
        ("Polygon", [[[-2.3] * 3]]),
        ("Polygon", [[[-2.3, 51.6]] * 55_000]),
    ],
)
@pytest.mark.parametrize("hole", ["", "&hole=2"])
def test_coordinates_of_no_polygon_are_refused_in_words(
    client: FlaskClient, season: Season, kind: str, coordinates: Any, hole: str
) -> None:
    address = stored(client, season)
    body = hole_on_earth()
    for found in body["features"]:
        found["geometry"] = {"type": kind, "coordinates": coordinates}
    answer = client.post(f"{address}/hole-maps?course_id={ids(season)['course_id']}{hole}", json=body)
    told = problem(answer, 422)["errors"]
    assert told[0]["field"] == "features"
    assert any(words in told[0]["message"] for words in ("has no ring", "longitude", "in degrees", "points are more"))


def test_a_map_in_the_log_that_crosses_itself_is_quarantined_by_name(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    crossing = feature("green", [(0, 390), (10, 410), (10, 390), (0, 410)])
    body = ids(season) | {"features": [crossing]}
    answer = client.post(f"{address}/changes", json={"device_id": "phone", "changes": [change("hole_map", body)]})
    (told,) = answer.get_json()["quarantined"]
    assert "feature 1 (green) crosses itself at (5.0, 400.0)" in told["problem"]["detail"]
