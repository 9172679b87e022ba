"""The shots that a query chooses: a player's, between two days, of a kind of round, against a baseline."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import abort
from marshmallow import fields, validate

from server.analysis.intervals import LEVELS, USUAL_LEVEL
from server.api.answers import Query
from server.api.baselines import named_baseline
from server.api.database import engine
from server.api.players import known_player
from server.game.order_of_play import KINDS
from server.records.fields import Text
from server.season.documents import LOCK, is_locked
from server.season.heading import Chosen
from server.season.valued import scheme_of, valued_shots
from server.store.engine import reading
from server.store.frames import Selection
from server.store.players import club_ids, rounds


class ChosenQuery(Query):
    """Which shots, against which baseline."""

    from_day = fields.Date(data_key="from", metadata={"range": "a day, YYYY-MM-DD"})
    to_day = fields.Date(data_key="to", metadata={"range": "a day, YYYY-MM-DD"})
    kind = fields.String(
        validate=validate.OneOf(KINDS, error="is not one of its values"), metadata={"range": ", ".join(KINDS)}
    )
    baseline = Text(80, 1)
    level = fields.Float(
        load_default=USUAL_LEVEL,
        validate=validate.Range(*LEVELS, error="is outside its range"),
        metadata={"range": f"{LEVELS[0]:g} to {LEVELS[1]:g}"},
    )


class ClubQuery(ChosenQuery):
    """The same of one club."""

    club = Text(80, 1)


class PuttingQuery(ClubQuery):
    """The same of one putter, and which to compare it with."""

    against = Text(80, 1)


def chosen_shots(player_id: UUID, query: dict[str, Any]) -> Chosen:
    """The shots; 404 for player or baseline, 422 for days the wrong way round, 423 in an open competition round."""
    first, last = query.get("from_day"), query.get("to_day")
    if first and last and first > last:
        abort(422, description=f"from: {first} is after to: {last}")
    kinds = (query["kind"],) if "kind" in query else ()
    with reading(engine()) as connection:
        player = known_player(connection, player_id)
        if any(is_locked(found) for found in rounds(connection, player.player_id)):
            abort(423, description=LOCK)
        baseline = named_baseline(query.get("baseline", player.baseline))
        selection = Selection(player.player_id, first, last, kinds)
        valued = valued_shots(connection, selection, baseline, scheme_of(player))
        clubs = tuple(sorted(club_ids(connection, player.player_id)))
    return Chosen(player, valued, baseline, clubs, first, last, query["level"])
