"""The shots that a query chooses: a player's, between two days, of a kind of round, on a course, against a baseline."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

import pandas as pd
from flask import abort
from marshmallow import fields, validate

from server.analysis.evidence.intervals import DEFAULT_LEVEL, LEVELS
from server.analysis.strokes_gained.summaries import BALLS
from server.api.answers import Query
from server.api.baselines import named_baseline
from server.api.cache import cached_shots
from server.api.database import engine
from server.api.players import asked_selection, open_to
from server.game.lies import LIES
from server.game.order_of_play import KINDS
from server.records.fields import Text
from server.records.validation import Fault, InvalidError, shown
from server.reports.heading import Chosen
from server.reports.trial import Side, SideError, find_side, known_sides
from server.store.engine import reading
from server.store.frames import setups_frame
from server.store.players import club_ids


class DaysQuery(Query):
    """Which shots."""

    from_day = fields.Date(data_key="from", metadata={"range": "a day, YYYY-MM-DD"})
    to_day = fields.Date(data_key="to", metadata={"range": "a day, YYYY-MM-DD"})
    kind = fields.String(
        validate=validate.OneOf(KINDS, error="is not one of its values"), metadata={"range": ", ".join(KINDS)}
    )
    course = Text(120, 1, metadata={"description": "the name of a course of the player"})


class ChosenQuery(DaysQuery):
    """Which shots, against which baseline."""

    baseline = Text(80, 1)
    level = fields.Float(
        load_default=DEFAULT_LEVEL,
        validate=validate.Range(*LEVELS, error="is outside its range"),
        metadata={"range": f"{LEVELS[0]:g} to {LEVELS[1]:g}"},
    )


class ClubQuery(ChosenQuery):
    """The same of one club."""

    club = Text(80, 1)


class PuttingQuery(ClubQuery):
    """The same of one putter, and which to compare it with."""

    against = Text(80, 1)


class PartQuery(ChosenQuery):
    """Of these rounds the shots from one lie, or with one setup (or club), and which balls."""

    lie = fields.String(
        validate=validate.OneOf(LIES, error="is not one of its values"), metadata={"range": ", ".join(LIES)}
    )
    setup = Text(160, 1, metadata={"description": "a setup such as driver@2026-06-22, or a club"})
    balls = fields.String(
        validate=validate.OneOf(BALLS, error="is not one of its values"), metadata={"range": ", ".join(BALLS)}
    )


def ordered_days(query: dict[str, Any], before: str = "") -> tuple[date | None, date | None]:
    """First and last day asked for; 422 when the first is later."""
    first, last = query.get(f"{before}from_day"), query.get(f"{before}to_day")
    if first and last and first > last:
        abort(422, description=f"{before}from: {first} is after {before}to: {last}")
    return first, last


def chosen_shots(player_id: UUID, query: dict[str, Any], before: str = "") -> Chosen:
    """The shots; 404 for player or baseline, 422 for days the wrong way round or a course that the player does not
    have, 423 in an open competition round. `before`: what stands before the names of the days ("beside_")."""
    first, last = ordered_days(query, before)
    with reading(engine()) as connection:
        player = open_to(connection, player_id)
        selection = asked_selection(connection, player, query, first, last)
        baseline = named_baseline(query.get("baseline", player.baseline))
        valued = cached_shots(connection, player, selection, baseline)
        clubs = tuple(sorted(club_ids(connection, player.player_id)))
    return Chosen(player, valued, baseline, clubs, first, last, query["level"])


def asked_side(chosen: Chosen, query: dict[str, Any]) -> Side | None:
    """The setup or club that a query names, or None; 422 for one that the player does not have."""
    words = query.get("setup")
    if words is None:
        return None
    player_id = chosen.player.player_id
    with reading(engine()) as connection:
        known = known_sides(club_ids(connection, player_id), setups_frame(connection, player_id))
    try:
        return find_side("setup", words, known)
    except SideError as error:
        raise InvalidError([Fault(error.field, shown(words), "", str(error))]) from error


def asked_part(chosen: Chosen, query: dict[str, Any], side: Side | None) -> pd.Series | None:
    """Which of the shots a query asks for by lie and setup, bool by their index; None for all."""
    if side is None and "lie" not in query:
        return None
    valued = chosen.valued
    asked = pd.Series(True, index=valued.index) if side is None else pd.Series(side.of(valued), index=valued.index)
    return asked & valued["lie"].eq(query["lie"]) if "lie" in query else asked
