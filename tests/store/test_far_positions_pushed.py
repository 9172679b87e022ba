"""A phone's positions that cannot be where they say are set aside and named, and nothing else is held up by them."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
import sqlalchemy as sa

from server.files.map_import import import_maps
from server.game.geojson_maps import MapError
from server.records.validation import InvalidError
from server.store.engine import reading
from server.store.log import Pushed, push
from server.store.players import player_by_id
from server.store.quarantine import quarantined
from server.store.tables import SHOT
from tests.records.made import Season, body_of, change

HERE = [8.53012, 47.36012, 4.0]
NEAR = [8.53412, 47.36312, 4.0]
EXCHANGED = [47.36112, 8.53112, 4.0]
AWAY = [9.13012, 47.36012, 4.0]
"""45 km to the east: no exchange explains it."""
FRAME = {"lon": 8.53, "lat": 47.36, "turned_deg": 20}
FRAME_EXCHANGED = {"lon": 47.361, "lat": 8.531, "turned_deg": 20}


class Bag:
    """A player with a round, pushed; shots to come with a position."""

    def __init__(self, engine: sa.Engine, *frames: Any) -> None:
        self.engine = engine
        self.made = Season(f"Wren {uuid4()}")
        self.club = self.made.club("driver", "driver")
        self.course = self.made.put("course", str(uuid4()), body_of("course"))
        self.holes = [{"number": number, "par": 4, "length_yd": 400} for number in (1, 2)]
        for number, frame in enumerate(frames, 1):
            self.made.put("hole_map", str(uuid4()), self.map(number, frame=frame))
        body = body_of("round", course_id=self.course, bag=[self.club], holes=self.holes)
        self.round_id = self.made.put("round", str(uuid4()), body)
        self.order = 0
        assert self.send(*self.made.changes).quarantined == []

    def map(self, hole: int, **fields: Any) -> dict[str, Any]:
        return body_of("hole_map", course_id=self.course, hole=hole, **fields)

    def shot(self, position: list[float] | None, **said: Any) -> dict[str, Any]:
        self.order += 1
        fields = {"round_id": self.round_id, "club_id": self.club, "order": self.order, "position": position}
        return change("shot", body_of("shot", **fields), **said)

    def send(self, *changes: dict[str, Any], strict: bool = False) -> Pushed:
        return push(self.engine, self.made.player_id, "phone", changes, strict=strict)

    def aside(self) -> list[Any]:
        return [one["raw"] for one in quarantined(self.engine, self.made.player_id)]

    def longitudes(self) -> list[float | None]:
        query = sa.select(SHOT.c.lon).where(SHOT.c.player_id == self.made.player_id).order_by(SHOT.c.shot_order)
        with reading(self.engine) as connection:
            return list(connection.execute(query).scalars())


def only_fault(done: Pushed) -> tuple[str, str, str, str]:
    ((_, (fault,)),) = done.quarantined
    return fault.field, fault.value, fault.message, fault.range


def test_exchanged_degrees_among_others_of_the_round_are_set_aside_and_mended(engine: sa.Engine) -> None:
    bag = Bag(engine)
    first, bad, last = bag.shot(HERE), bag.shot(EXCHANGED), bag.shot(NEAR)
    done = bag.send(first, bad, last)
    field, value, message, allowed = only_fault(done)
    assert (field, value) == ("position", "47.3611, 8.53112")
    assert message.startswith("lies 5,6"), message
    assert message.endswith(
        "from the other positions of the round; the most is 20 km: are longitude and latitude swapped?"
    )
    assert allowed == "within 20 km of the other positions of the round"
    assert len(done.acknowledged) == 3, "the phone may go on"
    assert bag.aside() == [bad]
    assert bag.longitudes() == [HERE[0], NEAR[0]]
    mended = bad | {"change_id": str(uuid4()), "parents": [bad["change_id"]]}
    mended["body"] = bad["body"] | {"position": [EXCHANGED[1], EXCHANGED[0], 4.0]}
    assert bag.send(mended).quarantined == []
    assert bag.longitudes() == [HERE[0], EXCHANGED[1], NEAR[0]]
    assert only_fault(bag.send(bag.shot(AWAY)))[2] == (
        "lies 45 km from the other positions of the round; the most is 20 km"
    )


def test_one_position_alone_says_nothing_and_holds_up_no_other(engine: sa.Engine) -> None:
    """The first of a round may be the wrong one: those after it are taken as they come."""
    bag = Bag(engine)
    for position in (EXCHANGED, HERE, NEAR, HERE):
        assert bag.send(bag.shot(position)).quarantined == []
    assert bag.send(bag.shot(EXCHANGED)).quarantined != []


def test_the_map_of_the_course_speaks_against_a_position_alone(engine: sa.Engine) -> None:
    bag = Bag(engine, FRAME)
    for position, swapped in ((EXCHANGED, True), (AWAY, False)):
        bad = bag.shot(position)
        with pytest.raises(InvalidError, match="from the map of its course"):
            bag.send(bad, strict=True)
        field, _, message, allowed = only_fault(bag.send(bad))
        assert (field, allowed) == ("position", "within 20 km of the map of its course")
        assert message.endswith("swapped?") == swapped
    assert bag.send(bag.shot(HERE), bag.shot(NEAR), bag.shot(HERE)).quarantined == []
    whole = [bag.shot(EXCHANGED) for _ in range(4)]
    assert len(bag.send(*whole).quarantined) == 4, "a round exchanged as a whole"


def test_a_map_that_lies_elsewhere_does_not_hold_up_a_round(engine: sa.Engine) -> None:
    bag = Bag(engine, FRAME | {"lon": 10.0})
    assert bag.send(*(bag.shot(place) for place in (HERE, NEAR, HERE))).quarantined == []
    assert bag.send(bag.shot(NEAR)).quarantined == []


def test_what_the_log_holds_is_not_asked_again(engine: sa.Engine) -> None:
    """Of an old app: the position was taken before anything spoke against it; the edit beside it comes in."""
    bag = Bag(engine)
    shot = bag.shot(EXCHANGED)
    assert bag.send(shot).quarantined == []
    assert bag.send(change("hole_map", bag.map(1, frame=FRAME))).quarantined == []
    assert bag.send(shot).quarantined == [], "sent again"
    edited = {"body": shot["body"] | {"lie": "rough"}, "parents": [shot["change_id"]], "change_id": str(uuid4())}
    assert bag.send(shot | edited).quarantined == []
    moved = {"body": shot["body"] | {"position": AWAY}, "parents": [edited["change_id"]], "change_id": str(uuid4())}
    assert only_fault(bag.send(shot | moved))[0] == "position"


def test_a_hole_marked_elsewhere_and_a_map_exchanged_are_named(engine: sa.Engine) -> None:
    bag = Bag(engine, FRAME)
    holes = [bag.holes[0] | {"flag": NEAR}, bag.holes[1] | {"flag": EXCHANGED}]
    body = body_of("round", course_id=bag.course, bag=[bag.club], holes=holes)
    assert only_fault(bag.send(change("round", body, bag.round_id)))[0] == "holes.1.flag"
    field, value, message, allowed = only_fault(bag.send(change("hole_map", bag.map(2, frame=FRAME_EXCHANGED))))
    assert (field, value, allowed) == ("frame", "47.361, 8.531", "within 20 km of the maps of the course")
    assert message.endswith("swapped?")
    walk = [{"golf": "tee", "corners": [HERE]}, {"golf": "green", "corners": [NEAR, EXCHANGED, HERE]}]
    assert only_fault(bag.send(change("hole_map", bag.map(2, walk=walk))))[0] == "walk.1.corners.1"
    walk[1]["corners"] = [NEAR, HERE, HERE]
    assert bag.send(change("hole_map", bag.map(2, walk=walk, frame=FRAME))).quarantined == []


def test_a_file_of_maps_that_is_exchanged_is_refused_in_words(engine: sa.Engine) -> None:
    """As a file of one hole beside the maps that are there; nothing is stored."""
    bag = Bag(engine, FRAME)
    with reading(engine) as connection:
        player = player_by_id(connection, bag.made.player_id)
    assert player is not None
    ring = [[47.361, 8.5345], [47.3612, 8.5345], [47.3612, 8.5347], [47.361, 8.5345]]
    line = {"type": "LineString", "coordinates": [[47.361, 8.531], [47.3611, 8.5346]]}
    features = [
        {"type": "Feature", "properties": {"golf": "hole", "ref": "1"}, "geometry": line},
        {"type": "Feature", "properties": {"golf": "green"}, "geometry": {"type": "Polygon", "coordinates": [ring]}},
    ]
    with pytest.raises(MapError, match="are longitude and latitude swapped"):
        import_maps(engine, player, bag.course, {"type": "FeatureCollection", "features": features})


def test_another_players_maps_and_positions_say_nothing(engine: sa.Engine) -> None:
    one, other = Bag(engine, FRAME), Bag(engine)
    body = body_of("round", course_id=one.course, bag=[other.club], holes=other.holes)
    assert other.send(change("round", body, other.round_id)).quarantined == []
    other.round_id, mine = one.round_id, other.round_id
    assert other.send(other.shot(EXCHANGED)).quarantined == []
    other.round_id = mine
    assert other.send(other.shot(EXCHANGED)).quarantined == []
