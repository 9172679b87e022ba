"""Patterns and the distance ladder; their blueprint also holds the plans of `tee_plans`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import pandas as pd
from flask import abort
from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields, validate
from sqlalchemy import Connection

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.patterns.air import Air
from server.analysis.patterns.club_patterns import SPLITS
from server.analysis.patterns.distances import GAP_YD, OVERLAP
from server.api.baselines import named_baseline
from server.api.bodies import StrictParser
from server.api.cache import cached_shots
from server.api.chosen_shots import DaysQuery
from server.api.database import engine
from server.api.pattern_answers import PatternsSchema
from server.api.players import asked_selection, open_to
from server.records.fields import Text
from server.records.validation import Fault, InvalidError
from server.reports.patterns import distances_document, patterns_document
from server.store.engine import reading
from server.store.frames import clubs_on_trial
from server.store.players import Player

blueprint = Blueprint("plans", "plans", url_prefix="/api/players", description="Patterns, distances and plans")
blueprint.ARGUMENTS_PARSER = StrictParser()


class PatternsQuery(DaysQuery):
    """Which club, split by what."""

    club = Text(60, 1)
    split = fields.String(
        load_default="club",
        validate=validate.OneOf(list(SPLITS), error="is not one of its values"),
        metadata={"range": ", ".join(SPLITS)},
    )


def _number(low: float, high: float, unit: str, **more: Any) -> fields.Float:
    bounds = validate.Range(low, high, error="is outside its range")
    return fields.Float(validate=bounds, metadata={"range": f"{low:g} to {high:g} {unit}".strip()}, **more)


class DistancesQuery(DaysQuery):
    """The flags' settings; the correction for the air is off unless one of its three values is given."""

    gap_yd = _number(1, 100, "yd", load_default=GAP_YD)
    overlap = _number(0.01, 0.5, "", load_default=OVERLAP)
    temperature_c = _number(-30, 60, "degrees C")
    altitude_m = _number(-430, 4000, "m")
    head_wind_mph = _number(-60, 60, "mph, against is positive")
    measured_at_c = _number(-30, 60, "degrees C")
    measured_at_m = _number(-430, 4000, "m", load_default=0.0)
    per_density = _number(0, 1.5, "")


def player_shots(connection: Connection, player: Player, query: dict[str, Any], baseline: Baseline) -> pd.DataFrame:
    """The player's valued shots of the days, kind and course asked for. Faults: days the wrong way round, a course that
    the player does not have."""
    first, last = query.get("from_day"), query.get("to_day")
    if first and last and first > last:
        raise InvalidError([Fault("from", str(first), "a day", f"is after to, {last}")])
    return cached_shots(connection, player, asked_selection(connection, player, query, first, last), baseline)


@blueprint.route("/<uuid:player_id>/patterns")
class Patterns(MethodView):
    """Patterns of a player's clubs."""

    @blueprint.arguments(PatternsQuery, location="query")
    @blueprint.response(200, PatternsSchema)
    @blueprint.alt_response(404, description="No such player, or no finish of that club")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """Where each club finishes against its target, planned against actual shape, with intervals and warnings.

        With `club` the single finishes too.
        """
        with reading(engine()) as connection:
            player = open_to(connection, player_id)
            valued = player_shots(connection, player, query, named_baseline(player.baseline))
        days = query.get("from_day"), query.get("to_day")
        try:
            return patterns_document(player, valued, split=query["split"], club=query.get("club"), days=days)
        except LookupError as error:
            return abort(404, description=str(error.args[0]))


@blueprint.route("/<uuid:player_id>/distances")
class Distances(MethodView):
    """The distance ladder of a player."""

    @blueprint.arguments(DistancesQuery, location="query")
    @blueprint.response(200)
    @blueprint.alt_response(404, description="No such player")
    @blueprint.alt_response(423, description="A competition round is open (rule 4.3a)")
    def get(self, query: dict[str, Any], player_id: UUID) -> Any:
        """Full-swing distance of every club, gaps and overlaps with the next, and the air's correction when asked
        for."""
        with reading(engine()) as connection:
            player = open_to(connection, player_id)
            valued = player_shots(connection, player, query, named_baseline(player.baseline))
            on_trial = clubs_on_trial(connection, player.player_id)
        asked = {name for name in ("temperature_c", "altitude_m", "head_wind_mph") if name in query}
        given = {name: query[name] for name in Air.__dataclass_fields__ if name in query}
        air = Air(**given) if asked else None
        days = query.get("from_day"), query.get("to_day")
        limits = {"gap_yd": query["gap_yd"], "overlap": query["overlap"]}
        return distances_document(player, valued, **limits, air=air, on_trial=on_trial, days=days)
