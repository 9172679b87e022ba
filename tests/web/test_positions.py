"""Positions reckoned on the phone: WGS84 against geographiclib, distances on the invented course against shapely,
noise, what goes wrong, and maps by walking."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from playwright.sync_api import Page
from shapely.geometry import LineString, Point, Polygon

from server.game.geodesy import LocalFrame
from server.game.hole_maps import kind_of, map_fault, middle_of_green, polygon
from server.game.units import METRES_PER_YARD

EARTH = Geodesic.WGS84
ROOT = Path(__file__).resolve().parents[2]
CLOSE_YD = 0.1
FRAME = LocalFrame(8.5, 47.36, 37.0)
"""Where the invented course is laid for these tests; no course lies there."""
AS_JSON = {"lon": FRAME.lon, "lat": FRAME.lat, "turned_deg": FRAME.turned_deg}


def course_maps() -> dict[int, list[dict[str, Any]]]:
    """The features of every hole of the invented course."""
    holes: dict[int, list[dict[str, Any]]] = {}
    for feature in json.loads((ROOT / "demo_rounds" / "hole_maps.geojson").read_text(encoding="utf-8"))["features"]:
        holes.setdefault(feature["properties"]["hole"], []).append(feature)
    return holes


MAPS = course_maps()


def place(x: float, y: float) -> list[float]:
    """A point of a hole in degrees."""
    return [float(value) for value in FRAME.to_places(np.array([[x, y]]))[0]]


def yards(a: list[float], b: list[float]) -> float:
    """What geographiclib says lies between two places."""
    return float(EARTH.Inverse(a[1], a[0], b[1], b[0])["s12"]) / METRES_PER_YARD


def asked(page: Page, module: str, code: str, given: Any) -> Any:
    """What a module of the phone makes of something; `code` is an arrow function's body over `m` and `given`."""
    return page.evaluate(
        f"async ([path, given]) => {{ const m = await import(path); {code} }}", [f"/js/{module}.js", given]
    )


def test_lines_on_the_earth_are_those_of_geographiclib(module_page: Page) -> None:
    """300 lines of 1 m to 1,000 km; Vincenty's formula is good to 0.5 mm."""
    rng = np.random.default_rng(0)
    lines = []
    for _ in range(300):
        lat, lon, azimuth, length = (
            rng.uniform(-85, 85),
            rng.uniform(-180, 180),
            rng.uniform(0, 360),
            10 ** rng.uniform(0, 6),
        )
        end = EARTH.Direct(lat, lon, azimuth, length)
        lines.append(([lon, lat], [end["lon2"], end["lat2"]], length, azimuth))
    found = asked(
        module_page, "game/geodesy", "return given.map(([a, b]) => m.geodesic(a, b));", [line[:2] for line in lines]
    )
    for (_, _, length, azimuth), one in zip(lines, found, strict=True):
        assert one["metres"] == pytest.approx(length, abs=5e-4)
        if length > 100:
            assert math.remainder(one["azimuth"] - azimuth, 360) == pytest.approx(0, abs=1e-4)
    odd = asked(
        module_page,
        "game/geodesy",
        "return given.map(([a, b]) => m.geodesic(a, b));",
        [[[10, 20], [10, 20]], [[0, 0], [179.7, 0.3]], [[179.999, 0], [-179.999, 0]]],
    )
    assert odd[0]["metres"] == 0
    assert odd[1] is None
    assert odd[2]["metres"] == pytest.approx(EARTH.Inverse(0, 179.999, 0, -179.999)["s12"], abs=1e-3)


def test_a_holes_yards_are_the_servers(module_page: Page) -> None:
    rng = np.random.default_rng(1)
    points = rng.uniform(-700, 700, (100, 2))
    frames = [
        {"lon": float(lon), "lat": float(lat), "turned_deg": float(turn)}
        for lon, lat, turn in zip(
            rng.uniform(-180, 180, 100), rng.uniform(-80, 80, 100), rng.uniform(-360, 360, 100), strict=True
        )
    ]
    code = "return given.map(([f, p]) => { const at = m.toPlace(f, p); return [at, m.toYards(f, at)]; });"
    found = asked(module_page, "game/geodesy", code, list(zip(frames, points.tolist(), strict=True)))
    for frame, point, (at, back) in zip(frames, points, found, strict=True):
        server = LocalFrame(**frame).to_places(point[None])[0]
        assert yards(at, server.tolist()) < 1e-4
        assert back == pytest.approx(point.tolist(), abs=1e-6)
    far = asked(
        module_page,
        "game/geodesy",
        "return [m.toYards(given[0], [9.5, 47.36]), ...given.map((frame) => m.frameOf({ frame })), m.frameOf({})];",
        [AS_JSON, AS_JSON | {"lat": 89.5}, AS_JSON | {"lon": "8"}],
    )
    assert far == [None, AS_JSON, None, None, None]


def figures(page: Page, features: list[Any], flag: list[float] | None, balls: list[list[float]]) -> list[Any]:
    code = "return given.balls.map((ball) => m.figuresFrom(given.map, given.flag, ball));"
    given = {"map": {"features": features, "frame": AS_JSON}, "flag": flag, "balls": balls}
    return list(asked(page, "game/positions", code, given))


@pytest.mark.parametrize("noise_m", [0, 3, 5, 15])
def test_distances_on_a_walk_are_right_within_the_noise(module_page: Page, noise_m: float) -> None:
    """Every hole of the invented course, five places from tee to green each; geographiclib from where the ball lies."""
    rng = np.random.default_rng(int(noise_m))
    for features in MAPS.values():
        middle = middle_of_green(features)
        green = place(*middle)
        truths = [(rng.uniform(-15, 15), middle[1] * share) for share in (0.0, 0.3, 0.5, 0.7, 0.85)]
        noise = [(noise_m * math.cos(turn), noise_m * math.sin(turn)) for turn in rng.uniform(0, 2 * math.pi, 5)]
        off = [(dx / METRES_PER_YARD, dy / METRES_PER_YARD) for dx, dy in noise]
        balls = [place(x + dx, y + dy) for (x, y), (dx, dy) in zip(truths, off, strict=True)]
        for truth, one in zip(truths, figures(module_page, features, None, balls), strict=True):
            assert one["to"] == "green"
            assert abs(one["hole_yd"] - yards(place(*truth), green)) <= noise_m / METRES_PER_YARD + CLOSE_YD


def test_front_back_and_what_lies_between_are_those_of_shapely(module_page: Page) -> None:
    """Every hole: the edges of the green on the line to its middle, and trouble within 25 yd of it."""
    seen = {"across": 0, "left": 0, "right": 0}
    for features in MAPS.values():
        middle = middle_of_green(features)
        greens = max((polygon(one) for one in features if kind_of(one) == "green"), key=lambda area: area.area)
        points = [(0.0, 0.0), (8.0, middle[1] * 0.45)]
        for (x, y), one in zip(points, figures(module_page, features, None, [place(*p) for p in points]), strict=True):
            far = math.hypot(middle[0] - x, middle[1] - y)
            ux, uy = (middle[0] - x) / far, (middle[1] - y) / far
            beyond = LineString([(x, y), (x + 2 * far * ux, y + 2 * far * uy)])
            edge = beyond.intersection(greens)
            assert one["green"] == pytest.approx(
                {
                    "front": Point(x, y).distance(edge),
                    "middle": far,
                    "back": max(math.hypot(px - x, py - y) for px, py in edge.coords),
                },
                abs=CLOSE_YD,
            )
            corridor = LineString([(x, y), middle]).buffer(25, cap_style="flat")
            wanted = []
            for feature in features:
                if kind_of(feature) not in ("bunker", "water_hazard", "lateral_water_hazard"):
                    continue
                area: Polygon = polygon(feature)
                near = area.intersection(corridor)
                if near.area < 0.01:
                    continue
                crossed = LineString([(x, y), middle]).intersection(area)
                reach = Point(x, y).distance(crossed if crossed.length else near)
                wanted.append(reach)
            assert [found["reach_yd"] for found in one["between"]] == pytest.approx(sorted(wanted)[:8], abs=CLOSE_YD)
            for found in one["between"]:
                seen[found["side"]] += 1
                assert found["carry_yd"] is None or found["carry_yd"] > found["reach_yd"]
    assert min(seen.values()) > 3


def box(left: float, near: float, right: float, far: float, golf: str) -> dict[str, Any]:
    ring = [[left, near], [right, near], [right, far], [left, far], [left, near]]
    return {
        "type": "Feature",
        "properties": {"golf": golf},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }


def test_trouble_by_hand(module_page: Page) -> None:
    """From (0, 0) at a green around (0, 300): a pond across at 200 to 220, a bunker 10 to 18 yd left, water all along
    the right, one too far aside, one behind the green; and the ball in a bunker."""
    hole = [
        box(-10, 290, 10, 310, "green"),
        box(-40, 200, 40, 220, "water_hazard"),
        box(-18, 250, -10, 260, "bunker"),
        box(20, -50, 90, 400, "lateral_water_hazard"),
        box(-60, 100, -30, 120, "bunker"),
        box(-10, 320, 10, 330, "bunker"),
        box(-10, 100, 10, 130, "trees"),
        box(-3, -4, 3, 4, "bunker"),
    ]
    code = "return m.between(given, [0, 0], [0, 300]).map((one) => [one.kind, one.side, one.reach_yd, one.carry_yd]);"
    found = asked(module_page, "game/positions", code, hole)
    assert [row[:2] for row in found] == [
        ["bunker", "across"],
        ["water", "right"],
        ["water", "across"],
        ["bunker", "left"],
    ]
    assert found[0][2:] == [0, pytest.approx(4)]
    assert found[1][2:] == [pytest.approx(20), None]
    assert found[2][2:] == [pytest.approx(200), pytest.approx(220)]
    assert found[3][2:] == [pytest.approx(math.hypot(10, 250)), pytest.approx(math.hypot(18, 260))]


def test_the_flag_comes_before_the_green_and_a_far_hole_gives_nothing(module_page: Page) -> None:
    features = MAPS[1]
    middle = middle_of_green(features)
    flag, ball = place(middle[0] + 6, middle[1] + 4), place(0, 100)
    (one,) = figures(module_page, features, flag, [ball])
    assert (one["to"], one["hole_yd"]) == ("flag", pytest.approx(yards(ball, flag), abs=CLOSE_YD))
    assert figures(module_page, features, None, [[9.5, 47.36], [-8.5, -47.36], [47.36, 8.5]]) == [None] * 3
    alone = asked(
        module_page,
        "game/positions",
        "return [m.figuresFrom(null, given[0], given[1]), m.figuresFrom(null, null, given[1])];",
        [flag, ball],
    )
    assert alone[0] == {"hole_yd": pytest.approx(one["hole_yd"]), "to": "flag", "green": None, "between": []}
    assert alone[1] is None


def test_what_is_farther_than_a_hole_is_long_is_elsewhere(module_page: Page) -> None:
    """From the mapped green, else from the ball marked last; where neither is known nothing speaks against it."""
    green = {"features": MAPS[1], "frame": AS_JSON}
    near, away, exchanged = place(0, 100), place(3000, 0), place(0, 100)[::-1]
    cases = [
        [green, near, []], [green, away, [away]], [green, exchanged, []], [None, near, [away, near]],
        [None, away, [near]], [None, exchanged, [near]], [None, away, []],
    ]  # fmt: skip
    found = asked(module_page, "game/positions", "return given.map((one) => m.isElsewhere(...one));", cases)
    assert found == [False, True, True, False, True, True, False]


def test_the_finish_against_its_target_by_hand(module_page: Page) -> None:
    """A shot of 150 yd at a hole 160 yd away that ends 12 yd right; the target is the hole, or 140 yd."""
    start, hole, end = [*place(5, 40), 3.0], place(5, 200), [*place(17, 190), 4.0]
    code = "return given.map((one) => m.finishOf(...one));"
    cases = [
        [start, hole, end, None],
        [start, hole, end, 140],
        [start, start, end, None],
        [start, hole, [9, 47.36, 3], None],
    ]
    at_hole, at_target, no_line, far = asked(module_page, "game/positions", code, cases)
    assert at_hole == pytest.approx({"right_yd": 12, "long_yd": -10, "within_m": 5}, abs=0.01)
    assert at_target == pytest.approx({"right_yd": 12, "long_yd": 10, "within_m": 5}, abs=0.01)
    assert (no_line, far) == (None, None)


def test_a_ball_that_may_be_on_the_green_is_not_taken_off_it(module_page: Page) -> None:
    """A green of 20 by 20 yd around (0, 300), a bunker, a fairway; accuracy 4 m is 4.4 yd."""
    features = [
        box(-10, 290, 10, 310, "green"),
        box(-15, 100, 15, 285, "fairway"),
        box(20, 290, 30, 300, "bunker"),
    ]
    points = {(0, 300): None, (13, 300): None, (15, 304): "rough", (25, 295): "sand", (0, 200): "fairway"}
    given = {"map": {"features": features, "frame": AS_JSON}, "balls": [[*place(*point), 4.0] for point in points]}
    found = asked(
        module_page, "game/positions", "return given.balls.map((b) => m.lieOffGreen(given.map, null, b));", given
    )
    assert found == list(points.values())
    flag = place(0, 300)
    code = "return given.map(([flag, ball]) => m.lieOffGreen(null, flag, ball));"
    balls = [[*place(0, 255), 4.0], [*place(0, 200), 4.0]]
    assert asked(module_page, "game/positions", code, [[flag, balls[0]], [flag, balls[1]], [None, balls[1]]]) == [
        None,
        "fairway",
        None,
    ]


def test_the_map_gives_a_lie_only_where_the_position_leaves_no_doubt(module_page: Page) -> None:
    """Accuracy 4 m is 4.4 yd: inside by 5 yd, outside of all by as much; beside the green nothing is said."""
    features = [
        box(-10, 290, 10, 310, "green"),
        box(-15, 100, 15, 285, "fairway"),
        box(20, 200, 40, 220, "bunker"),
        box(-60, 100, -40, 300, "trees"),
    ]
    points = {
        (0, 200): "fairway", (10, 200): "fairway", (12, 200): None, (18, 150): None, (-25, 200): "rough",
        (30, 210): "sand", (22, 210): None, (17.5, 210): None, (50, 210): "rough", (-50, 200): None,
        (0, 300): None, (17, 300): None, (19, 300): "rough", (0, 282): None,
    }  # fmt: skip
    code = "return given.balls.map((b) => m.lieOn(given.map, b));"
    balls = [[*place(*point), 4.0] for point in points]
    given = {"map": {"features": features, "frame": AS_JSON}, "balls": balls}
    assert asked(module_page, "game/positions", code, given) == list(points.values())
    bare = {"features": [one for one in features if one["properties"]["golf"] != "fairway"], "frame": AS_JSON}
    assert asked(module_page, "game/positions", code, {"map": bare, "balls": balls[4:5]}) == [None]
    assert asked(module_page, "game/positions", code, {"map": None, "balls": balls[:1]}) == [None]


FAILURES = """async (cases) => {
  const { askPosition } = await import('/js/ui/position.js');
  const found = [];
  for (const { secure = true, none = false, code, throws, coords, late = 0 } of cases) {
    let options = null;
    const geolocation = {
      watchPosition() { throw new Error('nothing is watched'); },
      getCurrentPosition(yes, no, given) {
        options = given;
        if (throws) throw new Error('not allowed in this frame');
        if (code) no({ code });
        else yes({ coords, timestamp: 1_000_000 - late });
      },
    };
    const page = { isSecureContext: secure, navigator: none ? {} : { geolocation }, Date: { now: () => 1_000_000 } };
    found.push([await askPosition(page), options]);
  }
  return found;
}"""
HERE = {"longitude": 8.123456789, "latitude": 47.123456789, "accuracy": 4.26}


def test_whatever_goes_wrong_is_one_line(module_page: Page) -> None:
    cases: list[tuple[dict[str, Any], str]] = [
        ({"secure": False}, "secure address"),
        ({"none": True}, "gives no position"),
        ({"code": 1}, "refused"),
        ({"code": 2}, "indoors"),
        ({"code": 3}, "within 20 seconds"),
        ({"throws": True}, "No position here"),
        ({"coords": HERE, "late": 60_000}, "clock is wrong"),
        ({"coords": HERE, "late": -60_000}, "clock is wrong"),
        ({"coords": HERE | {"latitude": 0, "longitude": 0}}, "no usable position"),
        ({"coords": HERE | {"latitude": 97}}, "no usable position"),
        ({"coords": HERE | {"accuracy": None}}, "no usable position"),
        ({"coords": HERE, "late": 2000}, ""),
    ]
    found = module_page.evaluate(FAILURES, [case for case, _ in cases])
    for (_, words), (answer, _) in zip(cases[:-1], found[:-1], strict=True):
        assert words in answer["words"]
        assert answer["words"].endswith("Type the distance.")
        assert len(answer["words"]) < 100
    answer, options = found[-1]
    assert answer == {"position": [8.1234568, 47.1234568, 4.3]}
    assert options == {"enableHighAccuracy": True, "maximumAge": 0, "timeout": 20_000}


def walked(golf: str, points: list[tuple[float, float]], side: str | None = None) -> dict[str, Any]:
    return {"golf": golf, "side": side, "corners": [[*place(x, y), 4.0] for x, y in points]}


def grown(page: Page, shapes: list[dict[str, Any]], held: Any = None) -> dict[str, Any]:
    return dict(
        asked(
            page, "game/walked-map", "return m.walkedMap(given.shapes, given.held);", {"shapes": shapes, "held": held}
        )
    )


TEE = walked("tee", [(0, 0)])
GREEN = walked("green", [(-9, 390), (9, 388), (11, 412), (-10, 410)])


def test_a_walked_map_is_a_sound_map_whose_frame_is_where_it_was_walked(module_page: Page) -> None:
    shapes = [
        TEE,
        GREEN,
        walked("fairway", [(-15, 150), (-17, 250), (-14, 360)], "left"),
        walked("fairway", [(15, 155), (18, 255), (12, 358)], "right"),
        walked("bunker", [(20, 240)]),
        walked("bunker", [(-20, 380), (-14, 384), (-20, 388), (-17, 384)]),
        walked("lateral_water_hazard", [(40, 100), (42, 300)]),
    ]
    found = grown(module_page, shapes)
    assert found["faults"] == []
    assert map_fault(found["features"]) is None
    assert [kind_of(one) for one in found["features"]].count("bunker") == 2
    frame = LocalFrame(**found["frame"])
    middle = frame.to_places(np.array([middle_of_green(found["features"])]))[0].tolist()
    x, y = middle_of_green(
        [
            {
                "properties": {"golf": "green"},
                "geometry": {"coordinates": [[*((-9, 390), (9, 388), (11, 412), (-10, 410)), (-9, 390)]]},
            }
        ]
    )
    assert yards(middle, place(x, y)) < CLOSE_YD
    (one,) = asked(
        module_page,
        "game/positions",
        "return [m.figuresFrom(given.map, null, given.ball)];",
        {"map": found, "ball": place(0, 200)},
    )
    assert one["hole_yd"] == pytest.approx(yards(place(0, 200), middle), abs=CLOSE_YD)


def test_a_walk_grows_out_of_the_form_and_into_an_imported_map(module_page: Page) -> None:
    form = {"length_yd": 380, "green_depth_yd": 30, "green_width_yd": 20, "fairway": [[220, 30]], "trouble": []}
    of_form = grown(module_page, [TEE, GREEN, walked("bunker", [(20, 240)])], {"form": form, "features": []})
    assert [kind_of(one) for one in of_form["features"]] == ["fairway", "tee", "green", "bunker"]
    assert map_fault(of_form["features"]) is None
    held = {"features": MAPS[1], "frame": AS_JSON}
    imported = grown(module_page, [walked("bunker", [(20, 240)])], held)
    assert imported["frame"] == AS_JSON
    assert len(imported["features"]) == len(MAPS[1]) + 1
    again = grown(module_page, [walked("bunker", [(22, 240)])], {**held, "features": imported["features"]})
    assert len(again["features"]) == len(MAPS[1]) + 1


BAD_WALKS: list[tuple[list[dict[str, Any]], str]] = [
    ([], "Mark the tee and the green"),
    ([TEE], "Mark the tee and the green"),
    ([GREEN], "Mark the tee and the green"),
    ([TEE, walked("green", [(0, 0)])], "Mark the tee and the green"),
    ([TEE, walked("green", [(0, 900)])], "too far for a hole"),
    ([TEE, GREEN, walked("bunker", [(500, 240)])], "bunker: it is 500 yd"),
    ([TEE, GREEN, {"golf": "bunker", "corners": [[9.5, 47.36, 4]]}], "bunker 1: a corner is more than 5 km"),
    ([TEE, GREEN, walked("water_hazard", [(30, 240)])], "yellow water 1: mark a second place"),
    ([TEE, GREEN, walked("bunker", [(20, 240), (22, 242), (24, 244)])], "bunker 1: its corners are on one line"),
    (
        [TEE, GREEN, walked("fairway", [(-15, 150), (-15, 300)], "left")],
        "fairway: needs three or more marks, on both edges",
    ),
    (
        [
            TEE,
            GREEN,
            walked("fairway", [(-15, 150), (25, 250), (-15, 350)], "left"),
            walked("fairway", [(15, 150), (15, 350)], "right"),
        ],
        "fairway: its edges cross",
    ),
]


@pytest.mark.parametrize(("shapes", "words"), BAD_WALKS, ids=[words for _, words in BAD_WALKS])
def test_a_walk_that_makes_no_map_says_why(module_page: Page, shapes: list[dict[str, Any]], words: str) -> None:
    assert words in " ".join(grown(module_page, shapes)["faults"])
