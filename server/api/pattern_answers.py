"""What the API answers on patterns and shapes: every figure with its interval."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields

from server.analysis.patterns.club_patterns import MOST_FINISHES


def _said(text: str) -> dict[str, Any]:
    return {"description": text}


def _number(text: str) -> fields.Float:
    return fields.Float(allow_none=True, metadata=_said(text))


class FigureSchema(Schema):
    """A value with its interval, which is missing where nothing can be said."""

    value = _number("null without a shot")
    low = _number("lower end of the interval")
    high = _number("upper end of the interval")
    n = fields.Integer(metadata=_said("shots behind it"))


class DirectionSchema(Schema):
    """Finishes along one direction."""

    centre = fields.Nested(FigureSchema, metadata=_said("mean"))
    spread = fields.Nested(FigureSchema, metadata=_said("standard deviation"))
    quantiles = fields.Dict(
        keys=fields.String(), values=fields.Float(), metadata=_said("by share: 0.1, 0.25, 0.5, 0.75, 0.9; or empty")
    )
    skew = _number("below zero for a tail to the left or the short side")


class EllipseSchema(Schema):
    """The ellipse that holds the next shot with a stated probability."""

    holds_next_shot = fields.Float(metadata=_said("probability"))
    shots = fields.Integer()
    right_yd = fields.Float(metadata=_said("centre, right of the target positive"))
    long_yd = fields.Float(metadata=_said("centre, long of the target positive"))
    half_long_yd = fields.Float(metadata=_said("longer half axis"))
    half_short_yd = fields.Float(metadata=_said("shorter half axis"))
    turned_deg = fields.Float(metadata=_said("direction of the longer axis from straight ahead, right positive"))


class CircleSchema(Schema):
    """Radii around the pattern's own centre."""

    half_yd = fields.Float(metadata=_said("holds half of the shots"))
    nine_tenths_yd = fields.Float(metadata=_said("holds nine tenths"))


class SideSharesSchema(Schema):
    """Shares of shots on each side of the target, and of those that stay playable."""

    short = fields.Nested(FigureSchema)
    long = fields.Nested(FigureSchema)
    left = fields.Nested(FigureSchema)
    right = fields.Nested(FigureSchema)
    playable = fields.Nested(FigureSchema, metadata=_said("no penalty and no recovery lie"))


class RobustSchema(Schema):
    """Centre and spread without the shots far out of the pattern."""

    right_yd = fields.Float()
    long_yd = fields.Float()
    right_spread_yd = fields.Float()
    long_spread_yd = fields.Float()
    set_aside = fields.Integer(metadata=_said("shots far out"))
    set_aside_short = fields.Integer()
    set_aside_left = fields.Integer()


class FinishSchema(Schema):
    """One tapped finish against its target."""

    right_yd = fields.Float(metadata=_said("right of the target positive"))
    long_yd = fields.Float(metadata=_said("long of the target positive"))
    set_aside = fields.Boolean(metadata=_said("far out of the pattern; the robust figures do not hold it"))


class FinishesSchema(Schema):
    """The tapped finishes one by one, earliest first."""

    shots = fields.List(fields.Nested(FinishSchema), metadata=_said(f"the latest {MOST_FINISHES} at the most"))
    left_out = fields.Integer(metadata=_said("earlier ones that are not listed"))


class PatternSchema(Schema):
    """Where one club finishes against its target; full and part swings apart."""

    club = fields.String()
    swing = fields.String(metadata=_said("full or part"))
    split = fields.String()
    group = fields.String(metadata=_said("lie, setup or planned shape; empty when not split"))
    shots = fields.Integer()
    rounds = fields.Integer()
    tapped = fields.Integer(metadata=_said("shots whose finish was tapped"))
    from_distances = fields.Integer(metadata=_said("shots whose length comes from the distances before and after"))
    target_yd = _number("median target")
    right = fields.Nested(DirectionSchema, metadata=_said("yards, right positive; tapped finishes"))
    long = fields.Nested(DirectionSchema, metadata=_said("yards, long positive; all shots"))
    offline_deg = fields.Nested(DirectionSchema, metadata=_said("degrees, right positive; tapped finishes"))
    ellipse = fields.Nested(EllipseSchema, allow_none=True)
    circle = fields.Nested(CircleSchema, allow_none=True)
    median_from_target_yd = _number("half of the tapped finishes lie nearer to the target")
    shares = fields.Nested(SideSharesSchema)
    robust = fields.Nested(RobustSchema, allow_none=True)
    warnings = fields.List(fields.String(), metadata=_said("sentences"))
    finishes = fields.Nested(FinishesSchema, metadata=_said("only when the question names a club"))


class MissesSchema(Schema):
    """Misses to the sides of the target, farther than a stated width."""

    beyond_yd = _number("how far aside counts as a miss")
    word = fields.String()
    sure = fields.Boolean(metadata=_said("the intervals of both sides lie on their side of the limit"))
    left = fields.Nested(FigureSchema)
    right = fields.Nested(FigureSchema)


class ShapeSchema(Schema):
    """What came of one planned shape of a club; full swings."""

    club = fields.String()
    planned = fields.String()
    shots = fields.Integer()
    rounds = fields.Integer()
    actual = fields.Dict(
        keys=fields.String(), values=fields.Integer(), metadata=_said("shots by actual shape, and not said")
    )
    came = fields.Nested(FigureSchema, metadata=_said("share that came as planned"))
    other_way = fields.Nested(FigureSchema, allow_none=True, metadata=_said("share that curved the other way"))
    misses = fields.Nested(MissesSchema)
    strokes_gained = fields.Nested(FigureSchema, metadata=_said("mean of a shot"))


class PatternsSchema(Schema):
    """Patterns and shapes of a player's clubs."""

    player = fields.String()
    player_id = fields.String()
    empty = fields.String(allow_none=True, metadata=_said("a sentence where the days asked for hold no shot"))
    split = fields.String()
    level = fields.Float(metadata=_said("of every interval"))
    patterns = fields.List(fields.Nested(PatternSchema), metadata=_said("longest club first"))
    shapes = fields.List(fields.Nested(ShapeSchema))
    caution = fields.String()
