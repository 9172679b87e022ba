"""Players beside others: the squad in order, one beside the squad or the field, two side by side, holes of a course."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any
from uuid import UUID

from flask import Response, abort, current_app, request
from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields, validate
from sqlalchemy import Connection

from server.analysis.evidence.tallies import TOTAL
from server.analysis.expected_strokes.baseline import DEFAULT_BASELINE, Baseline
from server.api.asking import ChosenAsked, ChosenQuery, DaysAsked, question_of
from server.api.authorization import caller, visible_only
from server.api.baselines import named_baseline
from server.api.bodies import StrictParser
from server.api.cache import LARGEST_ANSWER, LARGEST_OF_MANY, cached_answers, cached_large_answers, cached_tallies
from server.api.database import engine
from server.api.players import known_player, open_to
from server.questions.ranked import PARTS
from server.questions.squads import Member, asked_of_many
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError
from server.reports.against import REFERENCES, SQUAD, AgainstDocument, Asking, against_document
from server.reports.holes import HolesDocument, holes_document
from server.reports.pair import PairDocument, pair_document
from server.reports.ranks import SquadRanks, ranks_document
from server.store.engine import reading
from server.store.players import Player, players
from server.store.sharing import sharing_players

blueprint = Blueprint("others", "others", url_prefix="/api", description="Players compared with others")
blueprint.ARGUMENTS_PARSER = StrictParser()


class OfManyQuery(ChosenQuery):
    """Which rounds of several players, against which baseline."""

    class Meta(ChosenQuery.Meta):
        """A course's name is one player's."""

        exclude = ("course",)

    baseline = Text(80, 1, load_default=DEFAULT_BASELINE, metadata={"description": "the same for all"})


class OfManyAsked(DaysAsked):
    """What `OfManyQuery` reads."""

    baseline: str
    level: float


class RanksQuery(OfManyQuery):
    """What the squad is ranked by, in which days."""

    by = fields.String(
        load_default=TOTAL,
        validate=validate.OneOf(PARTS, error="is not one of its values"),
        metadata={"range": ", ".join(PARTS), "description": "all strokes gained, or those of one category"},
    )


class RanksAsked(OfManyAsked):
    """What `RanksQuery` reads."""

    by: str


class AgainstQuery(OfManyQuery):
    """Beside whom, in which days."""

    reference = fields.String(
        load_default=SQUAD,
        validate=validate.OneOf(REFERENCES, error="is not one of its values"),
        metadata={
            "range": ", ".join(REFERENCES),
            "description": "the players whom the caller may see, or, as a whole, all who share with anybody",
        },
    )


class AgainstAsked(OfManyAsked):
    """What `AgainstQuery` reads."""

    reference: str


class PairQuery(OfManyQuery):
    """Beside which other player."""

    other = fields.UUID(required=True, metadata={"range": "the id of another player who may be read"})


class PairAsked(OfManyAsked):
    """What `PairQuery` reads."""

    other: UUID


class HolesQuery(ChosenQuery):
    """Which course, in which days."""

    baseline = Text(80, 1, metadata={"description": "of all; of one player their own, unless another is named"})
    course = Text(120, 1, metadata={"description": "the name of a course; without it the courses are listed"})


@blueprint.route("/squad/ranks")
class Ranks(MethodView):
    """The squad in order."""

    @blueprint.arguments(RanksQuery, location="query")
    @blueprint.response(200, schema_of(SquadRanks))
    @blueprint.alt_response(404, description="No such baseline")
    @blueprint.alt_response(422, description="A query that makes no sense")
    def get(self, query: RanksAsked) -> Any:
        """The players that may be read, best first, adjusted for courses, with the chance of each rank."""
        span, baseline = question_of(query).spans[0], named_baseline(query["baseline"])
        with reading(engine()) as connection:
            return answered_of_many(
                connection,
                query,
                visible_only(players(connection)),
                baseline,
                lambda members: ranks_document(members, baseline, query["by"], query["level"], span),
            )


@blueprint.route("/squad/holes")
class SquadHoles(MethodView):
    """The holes of a course for the squad."""

    @blueprint.arguments(HolesQuery, location="query")
    @blueprint.response(200, schema_of(HolesDocument))
    @blueprint.alt_response(404, description="No such baseline")
    @blueprint.alt_response(422, description="A course that nobody played, or a query that makes no sense")
    def get(self, query: ChosenAsked) -> Any:
        """How hard each hole of a course is for the players that may be read, by category too, adjusted for who played
        it when; without a course the courses on which they have rounds."""
        baseline = named_baseline(query.get("baseline") or DEFAULT_BASELINE)
        with reading(engine()) as connection:
            return _holes(connection, query, visible_only(players(connection)), baseline)


@blueprint.route("/players/<uuid:player_id>/holes")
class PlayerHoles(MethodView):
    """The holes of a course for one player."""

    @blueprint.arguments(HolesQuery, location="query")
    @blueprint.response(200, schema_of(HolesDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(422, description="A course that the player has no round on, or a query that makes no sense")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: ChosenAsked, player_id: UUID) -> Any:
        """How hard each hole of a course is for the player, by category too; without a course the courses."""
        with reading(engine()) as connection:
            player = open_to(connection, player_id)
            baseline = named_baseline(query.get("baseline") or player.baseline)
            return _holes(connection, query, [player], baseline)


@blueprint.route("/players/<uuid:player_id>/against")
class Against(MethodView):
    """A player beside the squad or the field."""

    @blueprint.arguments(AgainstQuery, location="query")
    @blueprint.response(200, schema_of(AgainstDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(422, description="A query that makes no sense")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: AgainstAsked, player_id: UUID) -> Any:
        """The player beside the mean of the others, none of the player's own shots in it, in all strokes and by
        category, adjusted for courses. The field is one figure and names nobody."""
        span, baseline = question_of(query).spans[0], named_baseline(query["baseline"])
        with reading(engine()) as connection:
            player = open_to(connection, player_id)
            everybody = players(connection)
            others = visible_only(everybody) if query["reference"] == SQUAD else _field(connection, everybody)
            asking: Asking = {
                "reference": query["reference"],
                "baseline": baseline,
                "level": query["level"],
                "span": span,
            }
            return answered_of_many(
                connection,
                query,
                [player, *(one for one in others if one.player_id != player.player_id)],
                baseline,
                lambda members: against_document(members[0], members[1:], asking, caller().may_read),
            )


@blueprint.route("/players/<uuid:player_id>/pair")
class Pair(MethodView):
    """Two players side by side."""

    @blueprint.arguments(PairQuery, location="query")
    @blueprint.response(200, schema_of(PairDocument))
    @blueprint.alt_response(404, description="No such player or baseline")
    @blueprint.alt_response(422, description="The same player twice, or a query that makes no sense")
    @blueprint.alt_response(423, description="A competition round of one of them is open (rule 4.3a)")
    def get(self, query: PairAsked, player_id: UUID) -> Any:
        """The player less another one in all strokes and by category, adjusted for courses and days, with the chance of
        being better, by the intervals of all rows together."""
        span, baseline = question_of(query).spans[0], named_baseline(query["baseline"])
        with reading(engine()) as connection:
            if not caller().may_read(str(query["other"])):
                abort(404, description=f"There is no player {query['other']} here.")
            known_player(connection, query["other"])
            both = [open_to(connection, one) for one in (player_id, query["other"])]
            if both[0] == both[1]:
                raise InvalidError([Fault("other", str(query["other"]), "another player", "is the same player")])
            return answered_of_many(
                connection,
                query,
                both,
                baseline,
                lambda members: pair_document(members[0], members[1], baseline, query["level"], span),
            )


def _field(connection: Connection, everybody: Sequence[Player]) -> list[Player]:
    """The players who may stand in the field: who share with anybody, and who may be read."""
    if caller().readable is None:
        return list(everybody)
    sharing = sharing_players(connection)
    return [one for one in everybody if one.player_id in sharing or caller().may_read(one.player_id)]


def _holes(connection: Connection, query: ChosenAsked, whose: Sequence[Player], baseline: Baseline) -> Response:
    span = question_of({name: value for name, value in query.items() if name != "course"}).spans[0]
    return answered_of_many(
        connection,
        query,
        whose,
        baseline,
        lambda members: holes_document(members, baseline, query["level"], span, query.get("course")),
    )


def answered_of_many(
    connection: Connection,
    query: Mapping[str, Any],
    whose: Sequence[Player],
    baseline: Baseline,
    make: Callable[[list[Member]], Any],
) -> Response:
    """The answer that this query had before while every log and the baseline are the same, else what `make` makes of
    the players; whose competition round is open has no shots in it."""
    put = asked_of_many(connection, whose, baseline)
    words = tuple(sorted((name, str(value)) for name, value in query.items()))
    read = frozenset(one.player_id for one in whose if caller().may_read(one.player_id))
    settings = tuple(whose)
    key = (request.endpoint, str(request.view_args), put.marks, settings, read, baseline, words)
    text = cached_answers().get(key)
    if text is None:
        text = cached_large_answers().get(key)
    if text is None:
        made = make(put.members(cached_tallies()))
        text = current_app.json.dumps(made, separators=(",", ":"), allow_nan=False)
        if len(text) <= LARGEST_OF_MANY:
            (cached_answers() if len(text) <= LARGEST_ANSWER else cached_large_answers()).put(key, text)
    return Response(f"{text}\n", content_type="application/json")
