"""WGS84: published lines, and random ones against geographiclib (Karney's reference implementation)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from server.game.geodesy import LocalFrame, geodesic_m
from server.game.units import METRES_PER_YARD
from tests.published.reference_tables import read_rows

EARTH = Geodesic.WGS84
LINES = read_rows("geodesy_checks.csv")


@pytest.mark.parametrize("row", LINES, ids=lambda row: row["source"])
def test_published_lines(row: dict[str, str]) -> None:
    length, azimuth = geodesic_m(*(float(row[name]) for name in ("lon1", "lat1", "lon2", "lat2")))
    decimals = len(row["expected_m"].partition(".")[2])
    assert length == pytest.approx(float(row["expected_m"]), abs=0.5 * 10**-decimals + 5e-4)
    if row["azimuth_12_deg"]:
        assert azimuth == pytest.approx(float(row["azimuth_12_deg"]), abs=1e-6)


def test_random_lines_are_those_of_geographiclib() -> None:
    """Vincenty's formula is good to 0.5 mm; 300 lines of 1 m to 5,000 km."""
    rng = np.random.default_rng(0)
    for _ in range(300):
        lat, lon, azimuth = rng.uniform(-85, 85), rng.uniform(-180, 180), rng.uniform(0, 360)
        length = 10 ** rng.uniform(0, 6.7)
        end = EARTH.Direct(lat, lon, azimuth, length)
        found, towards = geodesic_m(lon, lat, end["lon2"], end["lat2"])
        assert found == pytest.approx(length, abs=5e-4)
        if length > 100:
            assert math.remainder(towards - azimuth, 360) == pytest.approx(0, abs=1e-4)


def test_places_without_a_line_say_so() -> None:
    assert geodesic_m(10, 20, 10, 20) == (0.0, 0.0)
    with pytest.raises(ValueError, match="nearly opposite"):
        geodesic_m(0, 0, 179.7, 0.3)


def test_the_sphere_is_two_yards_off_and_this_is_not() -> None:
    """400 yd along a meridian at the equator: a sphere of the mean radius says 2.2 yd more."""
    end = EARTH.Direct(0.0, 0.0, 0.0, 400 * METRES_PER_YARD)
    sphere = 6_371_008.8 * math.radians(end["lat2"]) / METRES_PER_YARD
    ((_, y),) = LocalFrame(0.0, 0.0).to_yards(np.array([[end["lon2"], end["lat2"]]]))
    assert sphere - 400 > 2
    assert y == pytest.approx(400, abs=1e-4)


def test_local_yards_are_true_to_a_tenth_of_a_yard_within_a_kilometre() -> None:
    """Lines between random places within 1 km of the origin, against the geodesic, within 0.0001 yd."""
    rng = np.random.default_rng(1)
    worst = 0.0
    for _ in range(200):
        frame = LocalFrame(rng.uniform(-180, 180), rng.uniform(-75, 75), rng.uniform(0, 360))
        ends = [EARTH.Direct(frame.lat, frame.lon, rng.uniform(0, 360), rng.uniform(0, 1000)) for _ in range(2)]
        places = np.array([[end["lon2"], end["lat2"]] for end in ends])
        yards = frame.to_yards(places)
        true = EARTH.Inverse(*places[0, ::-1], *places[1, ::-1])["s12"] / METRES_PER_YARD
        worst = max(worst, abs(float(np.hypot(*(yards[0] - yards[1]))) - true))
        assert frame.to_places(yards) == pytest.approx(places, abs=1e-11)
    assert worst < 1e-4


def test_y_points_where_the_frame_is_turned_and_x_right_of_it() -> None:
    frame = LocalFrame(-3.0, 51.0, 30.0)
    ahead, right = (EARTH.Direct(51.0, -3.0, azimuth, 100.0) for azimuth in (30.0, 120.0))
    yards = frame.to_yards(np.array([[end["lon2"], end["lat2"]] for end in (ahead, right)]))
    far = 100 / METRES_PER_YARD
    assert yards == pytest.approx(np.array([[0, far], [far, 0]]), abs=1e-3)


def test_a_frame_works_across_the_antimeridian_and_refuses_what_is_far() -> None:
    frame = LocalFrame(179.999, 10.0)
    ((x, _),) = frame.to_yards(np.array([[-179.999, 10.0]]))
    assert x == pytest.approx(EARTH.Inverse(10, 179.999, 10, -179.999)["s12"] / METRES_PER_YARD, abs=1e-3)
    with pytest.raises(ValueError, match="km from the hole"):
        frame.to_yards(np.array([[10.0, 179.999]]) % 90)
