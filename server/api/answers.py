"""Schemas of what the API takes and answers."""

from __future__ import annotations

from typing import Any

from marshmallow import RAISE, Schema, fields, validate

from server.api.problems import ProblemSchema
from server.records.fields import Identity, Text
from server.store.log import MOST_CHANGES_A_PUSH
from server.store.pulling import DEFAULT_PAGE, LARGEST_PAGE


class Query(Schema):
    """A query string; a word that is not known is an error, not silence."""

    class Meta:
        unknown = RAISE


class AsTheyAre(fields.List[Any]):
    """A list whose entries are taken and given as they are, not one by one through a field."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> list[Any]:
        if not isinstance(value, list):
            raise self.make_error("invalid")
        return value

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> Any:
        return value


class PushSchema(Schema):
    """A push: changes in the order in which the device made them."""

    device_id = Text(80, 1, required=True)
    now = fields.String(metadata={"description": "the device's clock, ISO 8601"})
    changes = AsTheyAre(
        fields.Raw(allow_none=True),
        required=True,
        validate=validate.Length(max=MOST_CHANGES_A_PUSH, error="has too many changes for one push"),
        metadata={"range": f"up to {MOST_CHANGES_A_PUSH} changes"},
    )


class QuarantinedSchema(Schema):
    """A change that was kept raw, and why."""

    change_id = fields.String(allow_none=True)
    problem = fields.Nested(ProblemSchema)


class PushedSchema(Schema):
    """What became of a push."""

    acknowledged = AsTheyAre(fields.String())
    quarantined = fields.List(fields.Nested(QuarantinedSchema))
    not_listed = fields.Integer(metadata={"description": "bad changes that the answer has no room to name"})
    received_at = fields.String()
    now = fields.String()


class PullQuery(Query):
    """Where to go on reading the log."""

    after = Text(100)
    limit = fields.Integer(
        load_default=DEFAULT_PAGE,
        validate=validate.Range(1, LARGEST_PAGE, error="is outside its range"),
        metadata={"range": f"1 to {LARGEST_PAGE}"},
    )


class QuarantineQuery(Query):
    """Where to go on reading the quarantine."""

    after = fields.Integer(
        load_default=0,
        validate=validate.Range(0, 2**31 - 1, error="is outside its range"),
        metadata={"range": f"0 to {2**31 - 1}", "description": "the quarantine_id with which the page before ended"},
    )


class VersionsQuery(Query):
    """Where to go on reading the versions of a record."""

    after = Identity(metadata={"description": "the change_id with which the page before ended"})


class PageSchema(Schema):
    """One page of the log."""

    changes = fields.List(fields.Dict())
    cursor = fields.String(allow_none=True)
    more = fields.Boolean()
    reset = fields.Boolean()
    now = fields.String()


class BaselineSchema(Schema):
    """What a baseline is."""

    id = fields.String()
    title = fields.String()
    version = fields.String()
    source = fields.String()


class BaselinesSchema(Schema):
    """All baselines."""

    baselines = fields.List(fields.Nested(BaselineSchema))


class CurveSchema(Schema):
    """Expected strokes from one lie over distance."""

    distance_yd = fields.List(fields.Float())
    expected = fields.List(fields.Float())
    printed_from = fields.Float()
    printed_to = fields.Float()
    slope_beyond = fields.Float()


class BaselineCurvesSchema(BaselineSchema):
    """A baseline with its curves."""

    curves = fields.Dict(keys=fields.String(), values=fields.Nested(CurveSchema))


class PlayerOutSchema(Schema):
    """A player."""

    player_id = fields.String()
    name = fields.String()
    plays = fields.String()
    units = fields.String()
    baseline = fields.String()
    category_scheme = fields.String()
    short_game_yd = fields.Float(allow_none=True)


class PlayersSchema(Schema):
    """All players."""

    players = fields.List(fields.Nested(PlayerOutSchema))


class ClosingOutSchema(Schema):
    """A closing of a round and the opening after it; client times."""

    closed_at = fields.String(allow_none=True)
    reopened_at = fields.String(allow_none=True)


class BetweenSchema(Schema):
    """From a closing to the opening after it."""

    from_ = fields.String(allow_none=True, data_key="from", attribute="from")
    to = fields.String(allow_none=True)


class OpenedAgainSchema(Schema):
    """What a competition round that was opened again says of it."""

    words = fields.String()
    between = fields.List(fields.Nested(BetweenSchema))


class RoundOutSchema(Schema):
    """A round."""

    round_id = fields.String()
    played_on = fields.Date()
    kind = fields.String()
    course = fields.String(allow_none=True)
    course_id = fields.String(allow_none=True)
    tees = fields.String(allow_none=True)
    closed = fields.Boolean()
    closings = fields.List(fields.Nested(ClosingOutSchema))
    opened_again = fields.Nested(OpenedAgainSchema, allow_none=True)
    holes_meant = fields.Integer(allow_none=True)
    stopped = fields.Boolean()
    deleted = fields.Boolean()
    shots = fields.Integer()


class RoundsSchema(Schema):
    """A player's rounds, latest first."""

    rounds = fields.List(fields.Nested(RoundOutSchema))
