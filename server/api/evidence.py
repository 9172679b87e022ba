"""Evidence: strokes gained by club, category and the rest; two spans beside each other; trials; rounds with scores."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, NotRequired
from uuid import UUID

from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import ValidationError, fields, validate, validates_schema

from server.analysis.evidence.trials import MINIMUM_EFFECT, MINIMUM_EFFECTS
from server.analysis.strokes_gained.summaries import GROUPINGS
from server.api.asking import BESIDE, ChosenAsked, ChosenQuery, PartAsked, PartQuery, SourceAsked, SourceQuery, answered
from server.api.bodies import StrictParser
from server.questions.question import Snapshot
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.reports.compared import SIDE_BY_SIDE, Compared, compared_document
from server.reports.level import LevelDocument, level_document
from server.reports.scores import Scores as Scores_
from server.reports.scores import scores_document
from server.reports.summary import SummaryDocument, summary_document
from server.reports.trial import trial_document
from server.reports.trial_rows import TrialDocument

blueprint = Blueprint("evidence", "evidence", url_prefix="/api/players", description="Strokes gained")
blueprint.ARGUMENTS_PARSER = StrictParser()


class StrokesGainedQuery(PartQuery):
    """Which shots, grouped how, against which baseline."""

    by = fields.String(
        load_default="club",
        validate=validate.OneOf(GROUPINGS, error="is not one of its values"),
        metadata={"range": ", ".join(GROUPINGS)},
    )


class StrokesGainedAsked(PartAsked):
    """What `StrokesGainedQuery` reads."""

    by: str


class ComparedQuery(PartQuery):
    """The same in two spans of days: `from` and `to`, beside `beside_from` and `beside_to`."""

    by = fields.String(
        load_default="club",
        validate=validate.OneOf(SIDE_BY_SIDE, error="is not one of its values"),
        metadata={"range": ", ".join(SIDE_BY_SIDE)},
    )
    beside_from_day = fields.Date(data_key="beside_from", metadata={"range": "a day, YYYY-MM-DD"})
    beside_to_day = fields.Date(data_key="beside_to", metadata={"range": "a day, YYYY-MM-DD"})

    @validates_schema
    def _has_a_second_span(self, query: Mapping[str, object], **_: Any) -> None:
        if not {"beside_from_day", "beside_to_day"} & query.keys():
            message = "is missing: name period 1 by beside_from, beside_to or both"
            raise ValidationError(message, "beside_from")


class ComparedAsked(PartAsked):
    """What `ComparedQuery` reads."""

    by: str
    beside_from_day: NotRequired[date]
    beside_to_day: NotRequired[date]


class TrialQuery(ChosenQuery, SourceQuery):
    """Which two sides (a club's label, a setup such as driver@2026-06-22, or a ball as ball:NAME), in which rounds."""

    a = Text(160, 1, required=True)
    b = Text(160, 1, required=True)
    minimum_effect = fields.Float(
        load_default=MINIMUM_EFFECT,
        validate=validate.Range(*MINIMUM_EFFECTS, error="is outside its range"),
        metadata={"range": f"{MINIMUM_EFFECTS[0]:g} to {MINIMUM_EFFECTS[1]:g} strokes a round"},
    )


class TrialAsked(ChosenAsked, SourceAsked):
    """What `TrialQuery` reads."""

    a: str
    b: str
    minimum_effect: float


@blueprint.route("/<uuid:player_id>/strokes-gained")
class StrokesGained(MethodView):
    """Strokes gained of a player."""

    @blueprint.arguments(StrokesGainedQuery, location="query")
    @blueprint.response(200, schema_of(SummaryDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: StrokesGainedAsked, player_id: UUID) -> Any:
        """Strokes gained by one grouping, best first, with the total and the holes that are not complete; where the
        player has a baseline of their own, the total by it too."""
        return answered(player_id, query, lambda snapshot: _summary(snapshot, query), beside=True)


def _summary(snapshot: Snapshot, query: StrokesGainedAsked) -> SummaryDocument:
    side, lie = snapshot.side("setup", query.get("setup")), query.get("lie")
    part = snapshot.chosen.part(side, lie)
    return summary_document(snapshot.chosen, query["by"], balls=query.get("balls"), only=part, beside=snapshot.beside)


@blueprint.route("/<uuid:player_id>/level")
class Level(MethodView):
    """Level and form of a player."""

    @blueprint.arguments(ChosenQuery, location="query")
    @blueprint.response(200, schema_of(LevelDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: ChosenAsked, player_id: UUID) -> Any:
        """Strokes gained a round on the courses played and on an average course, what each course adds, and the slope a
        month: adjusted for courses and days."""
        return answered(player_id, query, lambda snapshot: level_document(snapshot.chosen, snapshot.tees), tees=True)


@blueprint.route("/<uuid:player_id>/compared")
class TwoSpans(MethodView):
    """Two spans of days side by side."""

    @blueprint.arguments(ComparedQuery, location="query")
    @blueprint.response(200, schema_of(Compared))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: ComparedAsked, player_id: UUID) -> Any:
        """Strokes gained by one grouping in two spans of days, and the first less the second with its interval where
        both have enough shots and share no round."""
        return answered(player_id, query, lambda snapshot: _compared(snapshot, query), "", BESIDE, tees=True)


def _compared(snapshot: Snapshot, query: ComparedAsked) -> Compared:
    side = snapshot.side("setup", query.get("setup"))
    first, second = snapshot.spans
    only = (first.part(side, query.get("lie")), second.part(side, query.get("lie")))
    return compared_document(first, second, query["by"], balls=query.get("balls"), only=only, tees=snapshot.tees)


@blueprint.route("/<uuid:player_id>/scores")
class Scores(MethodView):
    """Rounds with their scores."""

    @blueprint.arguments(ChosenQuery, location="query")
    @blueprint.response(200, schema_of(Scores_))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: ChosenAsked, player_id: UUID) -> Any:
        """Rounds, latest first, each with score, putts and strokes gained by category, and the means of whole ones."""
        return answered(player_id, query, lambda found: scores_document(found.chosen, found.rounds), rounds=True)


@blueprint.route("/<uuid:player_id>/trial")
class TrialOfTwo(MethodView):
    """One club or setup against another."""

    @blueprint.arguments(TrialQuery, location="query")
    @blueprint.response(200, schema_of(TrialDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(422, description="A side that is not known, or both sides have the same shots")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: TrialAsked, player_id: UUID) -> Any:
        """Which of two clubs or setups is better from the same lie and distance, how sure, and what is missing."""
        return answered(player_id, query, lambda snapshot: _trial(snapshot, query))


def _trial(snapshot: Snapshot, query: TrialAsked) -> TrialDocument:
    sides = snapshot.two_sides(query["a"], query["b"])
    return trial_document(snapshot.chosen, sides, minimum_effect=query["minimum_effect"])
