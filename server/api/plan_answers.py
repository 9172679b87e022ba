"""What the plan of a shot answers, and what can be planned."""

from __future__ import annotations

from marshmallow import Schema, fields


class HoleOutSchema(Schema):
    """A hole as the course records it."""

    number = fields.Integer()
    par = fields.Integer()
    length_yd = fields.Float()


class ExpectedAtSchema(Schema):
    """The baseline, and what it expects from where the shot is played."""

    id = fields.String()
    version = fields.String()
    expected = fields.Float()


class CurvePointSchema(Schema):
    """Expected strokes at one aim; null where nearly every ball ends out of bounds."""

    aim_yd = fields.Float()
    expected = fields.Float(allow_none=True)


class LandingsSchema(Schema):
    """A bounded sample of landings at the best aim: yards right of and along the line of aim, and what lies there."""

    right_yd = fields.List(fields.Float())
    along_yd = fields.List(fields.Float())
    ends = fields.List(fields.String())


class OptionSchema(Schema):
    """One club (and planned shape) at its best aim. Aims are yards right of the line of reference at the reach."""

    name = fields.String()
    club = fields.String()
    swing = fields.String()
    planned_shape = fields.String(allow_none=True)
    shots = fields.Integer()
    prior_weight = fields.Float()
    notes = fields.List(fields.String())
    reach_yd = fields.Float()
    line = fields.String()
    line_deg = fields.Float()
    aim_yd = fields.Float()
    aim_deg = fields.Float()
    expected = fields.Float()
    low = fields.Float(allow_none=True)
    high = fields.Float(allow_none=True)
    shares = fields.Dict(keys=fields.String(), values=fields.Float())
    aims_as_good_yd = fields.List(fields.Float())
    curve = fields.List(fields.Nested(CurvePointSchema))
    landings = fields.Nested(LandingsSchema)


class LeftOutSchema(Schema):
    """A club that is not planned with, and why."""

    name = fields.String()
    reason = fields.String()


class ChoiceSchema(Schema):
    """The best option and its aim."""

    name = fields.String()
    aim_yd = fields.Float()


class SecondSchema(ChoiceSchema):
    """The second-best option, and what it costs."""

    costs = fields.Float()
    low = fields.Float()
    high = fields.Float()
    chance_best_is_better = fields.Float()


class TeePlanOutSchema(Schema):
    """The plan of one shot, best option first, with the hole's polygons in local yards."""

    player = fields.String()
    player_id = fields.String()
    course = fields.String()
    tees = fields.String()
    hole = fields.Nested(HoleOutSchema)
    start = fields.List(fields.Float(), data_key="from", attribute="from")
    lie = fields.String()
    pin = fields.List(fields.Float())
    to_hole_yd = fields.Float()
    baseline = fields.Nested(ExpectedAtSchema)
    options = fields.List(fields.Nested(OptionSchema))
    left_out = fields.List(fields.Nested(LeftOutSchema))
    best = fields.Nested(ChoiceSchema, allow_none=True)
    second = fields.Nested(SecondSchema, allow_none=True)
    verdict = fields.String()
    features = fields.List(fields.Dict())
    caution = fields.String()


class TeesOutSchema(Schema):
    """A set of tees."""

    name = fields.String()
    holes = fields.List(fields.Nested(HoleOutSchema))


class CourseToPlanSchema(Schema):
    """A course, and which of its holes have a map."""

    course_id = fields.String()
    name = fields.String()
    tees = fields.List(fields.Nested(TeesOutSchema))
    latest_tees = fields.String(allow_none=True)
    mapped = fields.List(fields.Integer())


class PlannableSchema(Schema):
    """What can be planned."""

    player = fields.String()
    player_id = fields.String()
    baseline = fields.String()
    courses = fields.List(fields.Nested(CourseToPlanSchema))
    caution = fields.String()


class MapsSchema(Schema):
    """Maps of holes as a GeoJSON FeatureCollection (RFC 7946); `notes` says what was left out."""

    type = fields.String()
    course = fields.String()
    units = fields.String()
    notes = fields.List(fields.String())
    features = fields.List(fields.Dict())
