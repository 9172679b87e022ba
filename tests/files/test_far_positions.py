"""Longitude and latitude that were exchanged are found by distance, where both are sound degrees."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

from server.files.far_positions import far_from_course, far_from_each_other
from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.game.far_positions import FARTHEST_KM
from server.store.engine import reading
from server.store.log import push
from server.store.players import map_places
from tests.files.tables import drive_and_putt, table
from tests.files.test_importing import everything, refused, shots, take
from tests.records.made import Season, body_of

HERE = (8.53012, 47.36012)
EXCHANGED = {"lon": "47.36012", "lat": "8.53012"}
SOUND = {"lon": "8.53012", "lat": "47.36012"}


def at(*places: tuple[float, float]) -> list[dict[str, Any]]:
    return [{"row": number, "position": [*place, 4.0]} for number, place in enumerate(places, 2)]


def north(km: float) -> tuple[float, float]:
    return (HERE[0], HERE[1] + float(np.degrees(km / 6371.0)))


def test_the_edge_is_where_it_is_documented() -> None:
    assert far_from_course(at(north(FARTHEST_KM - 0.01)), [HERE]) == []
    (fault,) = far_from_course(at(north(FARTHEST_KM + 0.6)), [HERE])
    assert "lies 21 km from the map of its course; the most is 20 km" in fault.message
    assert "swapped" not in fault.message
    assert far_from_course(at(north(30)), [HERE, north(25)]) == [], "the nearest map counts"
    assert far_from_course(at(HERE), []) == []


def test_a_lone_position_and_rows_without_one_say_nothing() -> None:
    assert far_from_each_other(at(HERE)) == []
    assert far_from_each_other([*at(HERE, HERE), {"row": 9, "position": None}]) == []


def test_one_exchanged_among_others_is_named() -> None:
    (fault,) = far_from_each_other(at(HERE, HERE[::-1], north(1), north(2)))
    assert (fault.row, fault.column, fault.value) == (3, "lon", "47.3601, 8.53012")
    assert fault.message.endswith("of the same round; the most is 20 km: are longitude and latitude swapped?")
    assert fault.range == "within 20 km of the position of row 2 of the same round"


def test_across_the_line_of_the_date_is_near() -> None:
    assert far_from_each_other(at((179.9999, -17.0), (-179.9999, -17.0))) == []


def test_a_table_with_an_exchanged_row_is_refused(engine: sa.Engine) -> None:
    first, second = drive_and_putt()
    more = [drive_and_putt(hole=2)[0] | SOUND, drive_and_putt(hole=2)[1] | SOUND]
    (said,) = refused(engine, [first | SOUND, second | EXCHANGED, *more])
    assert said.startswith("row 3, lon: 47.3601, lat 8.53012 lies")
    assert said.endswith("are longitude and latitude swapped?")
    assert take(engine, [first | SOUND, second | SOUND, *more]).changes > 0
    assert len(shots(engine)) == 4


@pytest.mark.parametrize("frame", [{"lon": 8.53, "lat": 47.36, "turned_deg": 20}, None])
def test_an_exchanged_table_is_found_by_the_map_of_its_course(engine: sa.Engine, frame: Any) -> None:
    """Without a map nothing speaks against it: it is taken as it is."""
    made = Season("Wren Quillfeather")
    course = made.put("course", "course", body_of("course", name="North"))
    framed = body_of("hole_map", course_id=course) | ({"frame": frame} if frame else {})
    made.put("hole_map", "map", framed)
    assert push(engine, made.player_id, "phone", made.changes).quarantined == []
    with reading(engine) as connection:
        assert len(map_places(connection, made.player_id, course)) == (1 if frame else 0)
    rows = [one | EXCHANGED | {"course": "North", "tees": "white"} for one in drive_and_putt()]
    before = everything(engine)
    if frame is None:
        assert import_table(engine, read_table(table(rows)), player_id=made.player_id).rounds == 1
        return
    said = refused(engine, rows, player_id=made.player_id)
    assert [line.split(" lies ")[0] for line in said] == [f"row {row}, lon: 47.3601, lat 8.53012" for row in (2, 3)]
    assert all("from the map of its course" in line and line.endswith("swapped?") for line in said)
    assert everything(engine) == before
