"""The schema of every kind of record. Unknown fields are kept, never dropped.

Each field states its range in its metadata; `server.records.validation` turns what is wrong into faults that
name field, value and range.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from marshmallow import INCLUDE, Schema, ValidationError, fields, validate, validates_schema

from server.game import ranges
from server.game.carry import carry_fault
from server.game.categories import SCHEMES
from server.game.closings import MOST_CLOSINGS
from server.game.hole_conditions import GREEN_SPEEDS_FT, PIN_DEPTHS, PIN_SIDES, WINDS
from server.game.hole_maps import map_fault
from server.game.lengths_taken import LENGTHS_TAKEN
from server.game.lies import GREEN
from server.game.order_of_play import KINDS
from server.game.practice import PLACES, practice_fault
from server.records.fields import (
    Bounded,
    Choice,
    Day,
    Entries,
    Flag,
    Identity,
    ListOf,
    Number,
    Position,
    Text,
    Time,
    WholeNumber,
)
from server.records.json_types import RecordBody
from server.records.practice_fields import BALL_FIELDS
from server.records.shot_fields import SHOT_FIELDS

SORTS: Final = ("driver", "wood", "hybrid", "iron", "wedge", "putter")
FIRMNESS: Final = ("soft", "medium", "firm")
LONGEST_BALL_LABEL: Final = 60
"""Characters of the player's own name for the ball that a round is played with."""
PLAYER_UNITS: Final = ("yards", "metres")

WALKED: Final = ("tee", "green", "fairway", "bunker", "water_hazard", "lateral_water_hazard")
"""What a map may take from a walk; kinds of features."""
FAIRWAY_SIDES: Final = ("left", "right")
MOST_WALKED: Final = 60
MOST_CORNERS: Final = 60
"""Shapes of one walk, and corners of one shape. Choices of this tool."""


class RecordSchema(Schema):
    """What all kinds share: fields that the server does not know are kept."""

    class Meta:
        unknown = INCLUDE


class PlayerSchema(RecordSchema):
    """A player and the settings that values depend on."""

    name = Text(80, 1, required=True)
    plays = Choice(("right", "left"), required=True)
    units = Choice(PLAYER_UNITS, load_default="yards")
    baseline = Text(80, 1, load_default="tour")
    category_scheme = Choice(tuple(SCHEMES), load_default="four_part")
    short_game_yd = Number(0, 200, "yd", above=True, allow_none=True, load_default=None)
    shares_positions = Flag(
        load_default=False,
        metadata={"description": "readers and season tables get the positions of shots and flags; else they do not"},
    )


class ClubSchema(RecordSchema):
    """A club in the player's possession."""

    label = Text(60, 1, required=True)
    sort = Choice(SORTS, required=True)
    loft_deg = Number(0, 80, "degrees", allow_none=True, load_default=None)
    on_trial = Flag(load_default=False)
    retired_on = Day(allow_none=True, load_default=None)


class SetupSchema(RecordSchema):
    """One state of a club from a day on."""

    club_id = Identity(required=True)
    since = Day(required=True)
    note = Text(500, required=True)
    loft_deg = Number(0, 80, "degrees", allow_none=True, load_default=None)
    shaft = Text(120, allow_none=True, load_default=None)
    ball = Text(120, allow_none=True, load_default=None)


class HoleSchema(RecordSchema):
    """A hole as it is played from one set of tees."""

    number = WholeNumber(1, ranges.MOST_HOLES, required=True)
    par = WholeNumber(ranges.LOWEST_PAR, ranges.HIGHEST_PAR, required=True)
    length_yd = Number(0, ranges.FARTHEST_YD, "yd", above=True, required=True)


class RoundHoleSchema(HoleSchema):
    """A hole as a round has it. `flag`: where the player marked the hole in the green on that day."""

    flag = Position(allow_none=True, load_default=None, metadata={"description": "longitude, latitude, accuracy_m"})


def _holes(hole: type[HoleSchema] = HoleSchema) -> Bounded:
    length = validate.Length(1, ranges.MOST_HOLES, error="has the wrong number of holes")
    return Bounded(fields.Nested(hole), length, f"1 to {ranges.MOST_HOLES} holes", required=True)


def _refuse_twice(holes: Sequence[RecordBody]) -> None:
    numbers = [hole["number"] for hole in holes]
    twice = sorted({number for number in numbers if numbers.count(number) > 1})
    if twice:
        raise ValidationError(f"hole {twice[0]} is defined twice", "holes")


class TeesSchema(RecordSchema):
    """One set of tees of a course."""

    name = Text(60, required=True)
    rating = Number(50, 90, "strokes", allow_none=True, load_default=None)
    slope = WholeNumber(55, 155, allow_none=True, load_default=None)
    holes = _holes()

    @validates_schema
    def _holes_once(self, data: RecordBody, **_: Any) -> None:
        _refuse_twice(data["holes"])


class CourseSchema(RecordSchema):
    """A course with its sets of tees."""

    name = Text(120, 1, required=True)
    tees = Bounded(
        fields.Nested(TeesSchema),
        validate.Length(1, 20, error="has the wrong number of tees"),
        "1 to 20 sets of tees",
        required=True,
    )


class WalkedShapeSchema(RecordSchema):
    """A shape of a hole's map whose corners were marked by position, in the order in which they were walked."""

    golf = Choice(WALKED, required=True)
    side = Choice(FAIRWAY_SIDES, allow_none=True, load_default=None)
    corners = ListOf(Position(), MOST_CORNERS, "positions", required=True)


class HoleMapSchema(RecordSchema):
    """The map of a hole: polygons in local yards, x right of the tee line, y along it (GeoJSON, RFC 7946)."""

    course_id = Identity(required=True)
    hole = WholeNumber(1, ranges.MOST_HOLES, required=True)
    features = Entries(fields.Dict(), required=True, metadata={"range": "a list of GeoJSON features"})
    walk = Bounded(
        fields.Nested(WalkedShapeSchema),
        validate.Length(0, MOST_WALKED, error="has too many shapes"),
        f"up to {MOST_WALKED} shapes",
        allow_none=True,
        load_default=None,
    )

    @validates_schema
    def _polygons(self, data: RecordBody, **_: Any) -> None:
        if fault := map_fault(data["features"]):
            raise ValidationError(fault, "features")


class ClosingSchema(RecordSchema):
    """One closing of a round, and the opening after it: client times, missing where nobody noted one."""

    closed_at = Time(allow_none=True, load_default=None)
    reopened_at = Time(allow_none=True, load_default=None)


class HoleConditionsSchema(RecordSchema):
    """Wind on a hole and where the hole was cut, as the player saw it; a part that is missing was not recorded."""

    hole = WholeNumber(1, ranges.MOST_HOLES, required=True)
    wind = Choice(WINDS, allow_none=True, load_default=None)
    wind_from_deg = Number(0, 360, "degrees", allow_none=True, load_default=None)
    pin_depth = Choice(PIN_DEPTHS, allow_none=True, load_default=None)
    pin_side = Choice(PIN_SIDES, allow_none=True, load_default=None)


class RoundSchema(RecordSchema):
    """A round: the day, the kind, the holes as played, the bag and the conditions."""

    played_on = Day(required=True)
    kind = Choice(KINDS, required=True)
    course_id = Identity(allow_none=True, load_default=None)
    tees = Text(60, allow_none=True, load_default=None)
    holes = _holes(RoundHoleSchema)
    bag = ListOf(Identity(), 60, "clubs", required=True)
    wind_mph = Number(0, 100, "mph", allow_none=True, load_default=None)
    temperature_c = Number(-30, 60, "degrees C", allow_none=True, load_default=None)
    firmness = Choice(FIRMNESS, allow_none=True, load_default=None)
    note = Text(2000, allow_none=True, load_default=None)
    ball_label = Text(LONGEST_BALL_LABEL, 1, allow_none=True, load_default=None)
    lengths_taken = Choice(LENGTHS_TAKEN, allow_none=True, load_default=None)
    green_speed_ft = Number(*GREEN_SPEEDS_FT, "ft", allow_none=True, load_default=None)
    hole_conditions = Bounded(
        fields.Nested(HoleConditionsSchema),
        validate.Length(0, ranges.MOST_HOLES, error="has too many holes"),
        f"up to {ranges.MOST_HOLES} holes, each once",
        allow_none=True,
        load_default=None,
    )
    closed = Flag(load_default=False)
    closings = Bounded(
        fields.Nested(ClosingSchema),
        validate.Length(0, MOST_CLOSINGS, error="has too many closings"),
        f"up to {MOST_CLOSINGS} closings",
        allow_none=True,
        load_default=None,
    )
    holes_meant = WholeNumber(1, ranges.MOST_HOLES, allow_none=True, load_default=None)
    stopped = Flag(load_default=False)

    @validates_schema
    def _holes_once(self, data: RecordBody, **_: Any) -> None:
        _refuse_twice(data["holes"])
        bag = data["bag"]
        if len(set(bag)) < len(bag):
            raise ValidationError("has one club twice", "bag")
        numbers = [one["hole"] for one in data["hole_conditions"] or ()]
        if len(set(numbers)) < len(numbers):
            raise ValidationError("has one hole twice", "hole_conditions")


class ShotRules(RecordSchema):
    """What the fields of one shot must agree on."""

    @validates_schema
    def _agree(self, data: RecordBody, **_: Any) -> None:
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
        if fault := carry_fault(data):
            raise ValidationError(fault, "carry_yd")
        if data["provisional"] and data["ball"] == 1:
            raise ValidationError("a provisional ball has a number above 1", "provisional")


ShotSchema: Final[type[Schema]] = type(
    "ShotSchema",
    (ShotRules,),
    {"__doc__": "One shot: where from, with what, and what came of it."}
    | {field.name: field.schema_field() for field in SHOT_FIELDS},
)


class SessionSchema(RecordSchema):
    """A practice session: the day and the place. Its balls are records of their own."""

    date = Day(required=True)
    place = Choice(PLACES, required=True)
    note = Text(2000, allow_none=True, load_default=None)
    ball_label = Text(LONGEST_BALL_LABEL, 1, allow_none=True, load_default=None)
    from_file = Text(120, allow_none=True, load_default=None)
    closed = Flag(load_default=False)
    at = Text(40, allow_none=True, load_default=None)


class PracticeBallRules(RecordSchema):
    """What the fields of one practice ball must agree on."""

    @validates_schema
    def _agree(self, data: RecordBody, **_: Any) -> None:
        if fault := practice_fault(data):
            name, words = fault
            raise ValidationError(words, name)


PracticeBallSchema: Final[type[Schema]] = type(
    "PracticeBallSchema",
    (PracticeBallRules,),
    {"__doc__": "One ball of a practice session: club, target, and where it finished; or a putt."}
    | {field.name: field.schema_field() for field in BALL_FIELDS},
)


SCHEMA_VERSION: Final = 1
SCHEMAS: Final[dict[str, Schema]] = {
    "player": PlayerSchema(),
    "club": ClubSchema(),
    "setup": SetupSchema(),
    "course": CourseSchema(),
    "hole_map": HoleMapSchema(),
    "round": RoundSchema(),
    "shot": ShotSchema(),
    "session": SessionSchema(),
    "practice_ball": PracticeBallSchema(),
}
"""Every kind of record."""
