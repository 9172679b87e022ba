"""Schemas of what the API takes and answers."""

from __future__ import annotations

from typing import Annotated, Any, NotRequired, TypedDict

from marshmallow import RAISE, Schema, fields, validate

from server.api.problems import Problem
from server.records.fields import Identity, Text
from server.reports.scorecard_rows import RoundFacts
from server.store.log import MOST_CHANGES_A_PUSH
from server.store.pulling import DEFAULT_PAGE, LARGEST_PAGE
from server.store.rows import ChangeRow, QuarantineRow


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


class Push(TypedDict):
    """What `PushSchema` reads."""

    device_id: str
    changes: list[object]
    now: NotRequired[str]


class Quarantined(TypedDict):
    """A change that was kept raw, and why."""

    change_id: str | None
    problem: Problem


class Pushed(TypedDict):
    """What became of a push."""

    acknowledged: Annotated[list[str], "ids of the changes that the log holds now"]
    quarantined: list[Quarantined]
    not_listed: Annotated[int, "bad changes that the answer has no room to name"]
    received_at: str
    now: Annotated[str, "the server's clock, ISO 8601"]


class PullQuery(Query):
    """Where to go on reading the log."""

    after = Text(100)
    limit = fields.Integer(
        load_default=DEFAULT_PAGE,
        validate=validate.Range(1, LARGEST_PAGE, error="is outside its range"),
        metadata={"range": f"1 to {LARGEST_PAGE}"},
    )


class PullAsked(TypedDict):
    """What `PullQuery` reads."""

    after: NotRequired[str]
    limit: int


class QuarantineAsked(TypedDict):
    """What `QuarantineQuery` reads."""

    after: int


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


class VersionsAsked(TypedDict):
    """What `VersionsQuery` reads."""

    after: NotRequired[str]


class ChangesPage(TypedDict):
    """One page of the log, in the order of its numbers."""

    changes: list[ChangeRow]
    cursor: Annotated[str | None, "where the next page begins; null where the log is empty or does not match"]
    more: bool
    reset: Annotated[bool, "the cursor does not match this log: pull from the start and push again"]
    now: Annotated[str, "the server's clock, ISO 8601"]


class QuarantinePage(TypedDict):
    """Changes that wait to be mended, oldest first."""

    quarantine: list[QuarantineRow]
    more: bool


class BaselineAbout(TypedDict):
    """What a baseline is."""

    id: str
    title: str
    version: str
    source: str


class BaselineList(TypedDict):
    """All baselines."""

    baselines: list[BaselineAbout]


class ExpectedCurve(TypedDict):
    """Expected strokes from one lie over distance: straight lines between the knots."""

    distance_yd: list[float]
    expected: Annotated[list[float], "strokes to hole out, a knot of distance_yd each"]
    printed_from: Annotated[float, "yards; below it a value is extended"]
    printed_to: Annotated[float, "yards; above it a value is extended"]
    slope_beyond: Annotated[float, "strokes a yard after the last knot"]


class BaselineCurves(BaselineAbout):
    """A baseline with its curves."""

    curves: Annotated[dict[str, ExpectedCurve], "by lie"]


class PlayerSettings(TypedDict):
    """A player with the settings that values depend on."""

    player_id: str
    name: str
    plays: Annotated[str, "right or left"]
    units: Annotated[str, "yards or metres"]
    baseline: Annotated[str, "the id of a baseline"]
    category_scheme: str
    short_game_yd: float | None


class PlayerList(TypedDict):
    """Players by name."""

    players: list[PlayerSettings]


class RoundSeen(RoundFacts):
    """A round in a list."""

    course_id: str | None
    deleted: bool
    shots: int


class RoundList(TypedDict):
    """A player's rounds, latest first."""

    rounds: list[RoundSeen]
