"""The schema of every kind of record. Unknown fields are kept, never dropped.

Each field states its range in its metadata; `server.records.validation` turns what is wrong into faults that
name field, value and range.
"""

from __future__ import annotations

from typing import Any, Final

from marshmallow import INCLUDE, Schema, ValidationError, fields, validate, validates_schema

from server.game import ranges
from server.game.categories import SCHEMES
from server.game.lies import GREEN, LIES
from server.game.order_of_play import KINDS
from server.game.penalties import REASONS
from server.records.fields import Flag, Number, Whole, choice, day, identity, text

SORTS: Final = ("driver", "wood", "hybrid", "iron", "wedge", "putter")
SHAPES: Final = ("draw", "straight", "fade")
STRIKES: Final = ("centre", "heel", "toe", "high", "low", "thin", "fat")
SWINGS: Final = ("full", "part")
FIRMNESS: Final = ("soft", "medium", "firm")
PLAYER_UNITS: Final = ("yards", "metres")
FEATURES: Final = (
    "tee",
    "fairway",
    "green",
    "bunker",
    "rough",
    "water_hazard",
    "lateral_water_hazard",
    "out_of_bounds",
    "trees",
)
MOST_MAP_POINTS: Final = 5000


class RecordSchema(Schema):
    """What all kinds share: fields that the server does not know are kept."""

    class Meta:
        unknown = INCLUDE


class PlayerSchema(RecordSchema):
    """A player and the settings that values depend on."""

    name = text(80, 1, required=True)
    plays = choice(("right", "left"), required=True)
    units = choice(PLAYER_UNITS, load_default="yards")
    baseline = text(80, 1, load_default="tour")
    category_scheme = choice(tuple(SCHEMES), load_default="four_part")
    short_game_yd = Number(0, 200, "yd", above=True, allow_none=True, load_default=None)


class ClubSchema(RecordSchema):
    """A club in the player's possession."""

    label = text(60, 1, required=True)
    sort = choice(SORTS, required=True)
    loft_deg = Number(0, 80, "degrees", allow_none=True, load_default=None)
    on_trial = Flag(load_default=False)
    retired_on = day(allow_none=True, load_default=None)


class SetupSchema(RecordSchema):
    """One state of a club from a day on."""

    club_id = identity(required=True)
    since = day(required=True)
    note = text(500, required=True)
    loft_deg = Number(0, 80, "degrees", allow_none=True, load_default=None)
    shaft = text(120, allow_none=True, load_default=None)
    ball = text(120, allow_none=True, load_default=None)


class HoleSchema(RecordSchema):
    """A hole as it is played from one set of tees."""

    number = Whole(1, ranges.MOST_HOLES, required=True)
    par = Whole(ranges.LOWEST_PAR, ranges.HIGHEST_PAR, required=True)
    length_yd = Number(0, ranges.FARTHEST_YD, "yd", above=True, required=True)


def _holes(**more: Any) -> fields.List[Any]:
    return fields.List(
        fields.Nested(HoleSchema),
        required=True,
        validate=validate.Length(1, ranges.MOST_HOLES, error="has the wrong number of holes"),
        metadata={"range": f"1 to {ranges.MOST_HOLES} holes"},
        **more,
    )


def _refuse_twice(holes: list[dict[str, Any]]) -> None:
    numbers = [hole["number"] for hole in holes]
    twice = sorted({number for number in numbers if numbers.count(number) > 1})
    if twice:
        raise ValidationError(f"hole {twice[0]} is defined twice", "holes")


class TeesSchema(RecordSchema):
    """One set of tees of a course."""

    name = text(60, required=True)
    rating = Number(50, 90, "strokes", allow_none=True, load_default=None)
    slope = Whole(55, 155, allow_none=True, load_default=None)
    holes = _holes()

    @validates_schema
    def _holes_once(self, data: dict[str, Any], **_: Any) -> None:
        _refuse_twice(data["holes"])


class CourseSchema(RecordSchema):
    """A course with its sets of tees."""

    name = text(120, 1, required=True)
    tees = fields.List(
        fields.Nested(TeesSchema),
        required=True,
        validate=validate.Length(1, 20, error="has the wrong number of tees"),
        metadata={"range": "1 to 20 sets of tees"},
    )


class HoleMapSchema(RecordSchema):
    """The map of a hole: polygons in local yards, x right of the tee line, y along it (GeoJSON, RFC 7946)."""

    course_id = identity(required=True)
    hole = Whole(1, ranges.MOST_HOLES, required=True)
    features = fields.List(fields.Dict(), required=True, metadata={"range": "a list of GeoJSON features"})

    @validates_schema
    def _polygons(self, data: dict[str, Any], **_: Any) -> None:
        points = 0
        for place, feature in enumerate(data["features"]):
            geometry = feature.get("geometry") or {}
            golf = (feature.get("properties") or {}).get("golf")
            if geometry.get("type") != "Polygon":
                raise ValidationError(f"feature {place + 1} is not a Polygon", "features")
            if golf not in FEATURES:
                raise ValidationError(
                    f"feature {place + 1}: golf={golf!r} is not one of {', '.join(FEATURES)}", "features"
                )
            rings = geometry.get("coordinates") or []
            points += sum(len(ring) for ring in rings if isinstance(ring, list))
        if points > MOST_MAP_POINTS:
            raise ValidationError(f"{points} points are more than {MOST_MAP_POINTS}", "features")


class RoundSchema(RecordSchema):
    """A round: the day, the kind, the holes as played, the bag and the conditions."""

    played_on = day(required=True)
    kind = choice(KINDS, required=True)
    course_id = identity(allow_none=True, load_default=None)
    tees = text(60, allow_none=True, load_default=None)
    holes = _holes()
    bag = fields.List(
        identity(),
        required=True,
        validate=validate.Length(0, 60, error="has too many clubs"),
        metadata={"range": "0 to 60 clubs"},
    )
    wind_mph = Number(0, 100, "mph", allow_none=True, load_default=None)
    temperature_c = Number(-30, 60, "degrees C", allow_none=True, load_default=None)
    firmness = choice(FIRMNESS, allow_none=True, load_default=None)
    note = text(2000, allow_none=True, load_default=None)
    closed = Flag(load_default=False)

    @validates_schema
    def _holes_once(self, data: dict[str, Any], **_: Any) -> None:
        _refuse_twice(data["holes"])
        bag = data["bag"]
        if len(set(bag)) < len(bag):
            raise ValidationError("has one club twice", "bag")


class ShotSchema(RecordSchema):
    """One shot: where from, with what, and what came of it."""

    round_id = identity(required=True)
    hole = Whole(1, ranges.MOST_HOLES, required=True)
    ball = Whole(1, ranges.MOST_BALLS, required=True)
    order = Whole(1, ranges.MOST_SHOTS_A_BALL, required=True)
    lie = choice(LIES, required=True)
    distance_yd = Number(0, ranges.FARTHEST_YD, "yd", above=True, required=True)
    club_id = identity(required=True)
    holed = Flag(load_default=False)
    penalty_strokes = Whole(0, 2, load_default=0)
    penalty_reason = choice(REASONS, allow_none=True, load_default=None)
    end_lie = choice(LIES, allow_none=True, load_default=None)
    end_distance_yd = Number(0, ranges.FARTHEST_YD, "yd", above=True, allow_none=True, load_default=None)
    picked_up = Flag(load_default=False)
    provisional = Flag(load_default=False)
    swing = choice(SWINGS, allow_none=True, load_default=None)
    planned_shape = choice(SHAPES, allow_none=True, load_default=None)
    actual_shape = choice(SHAPES, allow_none=True, load_default=None)
    target_yd = Number(0, ranges.FARTHEST_YD, "yd", above=True, allow_none=True, load_default=None)
    right_yd = Number(-ranges.FARTHEST_OFFLINE_YD, ranges.FARTHEST_OFFLINE_YD, "yd", allow_none=True, load_default=None)
    long_yd = Number(-ranges.FARTHEST_YD, ranges.FARTHEST_OFFLINE_YD, "yd", allow_none=True, load_default=None)
    strike = choice(STRIKES, allow_none=True, load_default=None)
    position = fields.List(
        Number(-180, 1e6), allow_none=True, load_default=None, metadata={"range": "[lon, lat, accuracy_m]"}
    )
    note = text(2000, allow_none=True, load_default=None)
    at = text(40, allow_none=True, load_default=None)

    @validates_schema
    def _agree(self, data: dict[str, Any], **_: Any) -> None:
        for lie, name in (("lie", "distance_yd"), ("end_lie", "end_distance_yd")):
            distance = data[name]
            if data[lie] == GREEN and distance is not None and distance > ranges.FARTHEST_ON_GREEN_YD:
                raise ValidationError(f"is outside 0 to {ranges.FARTHEST_ON_GREEN_YD:g} yd on the green", name)
        if (data["end_lie"] is None) != (data["end_distance_yd"] is None):
            raise ValidationError("an end needs both a lie and a distance", "end_distance_yd")
        if data["holed"] and (data["end_lie"] is not None or data["picked_up"]):
            raise ValidationError("a holed shot has no other end", "holed")
        if data["penalty_strokes"] and data["penalty_reason"] is None:
            raise ValidationError("a penalty needs a reason", "penalty_reason")
        if data["provisional"] and data["ball"] == 1:
            raise ValidationError("a provisional ball has a number above 1", "provisional")


SCHEMA_VERSION: Final = 1
SCHEMAS: Final[dict[str, Schema]] = {
    "player": PlayerSchema(),
    "club": ClubSchema(),
    "setup": SetupSchema(),
    "course": CourseSchema(),
    "hole_map": HoleMapSchema(),
    "round": RoundSchema(),
    "shot": ShotSchema(),
}
"""Every kind of record."""
