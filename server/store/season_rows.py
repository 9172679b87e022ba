"""Rows of a season that are no shots: players and days, rounds and holes, clubs and setups, the state of the logs."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import sqlalchemy as sa

from server.store.columns import NotExactError, places_among, read_columns
from server.store.engine import select_in
from server.store.frames import Selection, club_labels
from server.store.players import Player, players
from server.store.tables import (
    CLUB,
    COURSE,
    COURSE_OF_ROUND,
    KIND_TABLES,
    PLAYER,
    ROUND,
    ROUND_HOLE,
    ROUND_OF_SHOT,
    SETUP,
    SHOT,
)

_LIVE_SHOTS = sa.select(sa.func.count()).where(ROUND_OF_SHOT).scalar_subquery()
_LISTED = sa.or_(sa.not_(ROUND.c.deleted), _LIVE_SHOTS > 0)
"""A deleted round is listed only while shots live under it."""


def players_of_season(
    connection: sa.Connection, first: date, last: date, chosen: Collection[str] | None = None
) -> list[Player]:
    """The players who have a round from `first` to `last`, by name and id; `chosen`: only these ids."""
    query = sa.select(ROUND.c.player_id).where(ROUND.c.played_on.between(first, last), _LISTED).distinct()
    played = set(connection.execute(query).scalars())
    found = [player for player in players(connection) if player.player_id in played]
    taken = [player for player in found if chosen is None or player.player_id in chosen]
    return sorted(taken, key=lambda player: (player.name, player.player_id))


def days_played(connection: sa.Connection, player_id: str, first: date, last: date) -> list[tuple[date, int]]:
    """The days on which the player has rounds, in order, each with the number of shots."""
    query = sa.select(ROUND.c.played_on, sa.func.sum(_LIVE_SHOTS)).where(
        ROUND.c.player_id == player_id, ROUND.c.played_on.between(first, last), _LISTED
    )
    rows = connection.execute(query.group_by(ROUND.c.played_on).order_by(ROUND.c.played_on))
    return [(day, int(shots)) for day, shots in rows]


def shots_of_players(connection: sa.Connection, player_ids: Sequence[str], first: date, last: date) -> dict[str, int]:
    """How many shots each of these players has from `first` to `last`, of those who have a round."""
    query = (
        sa.select(ROUND.c.player_id, sa.func.sum(_LIVE_SHOTS))
        .where(ROUND.c.player_id.in_(player_ids), ROUND.c.played_on.between(first, last))
        .group_by(ROUND.c.player_id)
    )
    return {player_id: int(shots) for player_id, shots in connection.execute(query)}


def counts_of_season(connection: sa.Connection, player_id: str, first: date, last: date) -> tuple[int, int]:
    """How many shots the player has from `first` to `last`, and in how many rounds."""
    query = (
        sa.select(sa.func.count(), sa.func.count(SHOT.c.round_id.distinct()))
        .join_from(SHOT, ROUND, ROUND_OF_SHOT)
        .where(SHOT.c.player_id == player_id, ROUND.c.played_on.between(first, last))
    )
    shots, rounds = connection.execute(query).one()
    return int(shots), int(rounds)


def owners_in(connection: sa.Connection, kind: str, player_ids: Sequence[str]) -> set[str]:
    """Those of the players who have records of a kind."""
    table = KIND_TABLES[kind]
    mine = sa.exists().where(table.c.player_id == PLAYER.c.player_id)
    query = sa.select(PLAYER.c.player_id).where(PLAYER.c.player_id.in_(player_ids), mine)
    return set(connection.execute(query).scalars())


def rounds_frame(connection: sa.Connection, selection: Selection) -> pd.DataFrame:
    """One row a round, the players in the order in which the selection names several, else by id, each one's by day and
    round: player_id, round_id, played_on (datetime), kind, course, tees, closed, deleted, wind_mph, temperature_c,
    firmness, green_speed_ft, note, ball_label, lengths_taken, bag (JSON list of club ids), holes_meant, hole_conditions
    (JSON list, or None)."""
    weather = ("wind_mph", "temperature_c", "firmness", "green_speed_ft")
    words = ("note", "ball_label", "lengths_taken", "bag", "holes_meant", "hole_conditions")
    names = ("kind", "tees", "closed", "deleted", *weather, *words)
    query = (
        sa.select(
            ROUND.c.player_id,
            ROUND.c.record_id.label("round_id"),
            ROUND.c.played_on,
            COURSE.c.name.label("course"),
            *(ROUND.c[name] for name in names),
        )
        .outerjoin(COURSE, COURSE_OF_ROUND)
        .where(*selection.conditions(), _LISTED)
        .order_by(ROUND.c.player_id, ROUND.c.played_on, ROUND.c.record_id)
    )
    frame = _frame(connection, query)
    if selection.player_ids and len(selection.player_ids) > 1:
        rank = {player_id: place for place, player_id in enumerate(selection.player_ids)}
        rows = np.argsort([rank[player_id] for player_id in frame["player_id"]], kind="stable")
        frame = frame.iloc[rows].reset_index(drop=True)
    flags = {name: frame[name].astype("bool") for name in ("closed", "deleted")}
    numbers = {
        name: pd.to_numeric(frame[name]).astype("float64") for name in ("wind_mph", "temperature_c", "green_speed_ft")
    }
    return frame.assign(played_on=pd.to_datetime(frame["played_on"]).astype("datetime64[s]"), **flags, **numbers)


def holes_frame(connection: sa.Connection, selection: Selection, rounds: pd.DataFrame) -> pd.DataFrame:
    """One row a hole that the rounds define, in the order of `rounds`, as `rounds_frame` found them for the selection,
    and by number: player_id, round_id, hole, par, length_yd."""
    query = (
        sa.select(ROUND_HOLE.c.record_id, ROUND_HOLE.c.number, ROUND_HOLE.c.par, ROUND_HOLE.c.length_yd)
        .join_from(ROUND, ROUND_HOLE, ROUND_HOLE.c.record_id == ROUND.c.record_id)
        .where(*selection.conditions())
    )
    ids = pd.Index(rounds["round_id"], dtype="object")
    try:
        found = read_columns(connection, query)
        place = places_among(found["record_id"], ids)
        number, par, length = (found[name].to_numpy() for name in ("number", "par", "length_yd"))
    except NotExactError:
        rows = _frame(connection, query)
        place = ids.get_indexer(pd.Index(rows["record_id"], dtype="object"))
        number, par, length = (rows[name].to_numpy() for name in ("number", "par", "length_yd"))
    # of a deleted round without shots there is no row
    order = np.lexsort((number.astype(np.int64), place))[np.count_nonzero(place < 0) :]
    of = place[order]
    owner, owners = pd.factorize(rounds["player_id"])
    return pd.DataFrame(
        {
            "player_id": pd.Categorical.from_codes(owner[of], owners),
            "round_id": pd.Categorical.from_codes(of, ids),
            "hole": number[order].astype(np.int64),
            "par": par[order].astype(np.int64),
            "length_yd": length[order].astype(np.float64),
        },
        copy=False,
    )


def shots_of_clubs(
    connection: sa.Connection, player_ids: Sequence[str], first: date, last: date
) -> dict[tuple[str, str], int]:
    """How many shots each of the players has with each club from `first` to `last`, all balls, by player and club."""
    query = (
        sa.select(SHOT.c.player_id, SHOT.c.club_id, sa.func.count())
        .join(ROUND, ROUND_OF_SHOT)
        .where(SHOT.c.player_id.in_(player_ids), ROUND.c.played_on.between(first, last))
        .group_by(SHOT.c.player_id, SHOT.c.club_id)
    )
    return {(player_id, club_id): int(shots) for player_id, club_id, shots in connection.execute(query)}


def clubs_frame(
    connection: sa.Connection, player_ids: Sequence[str], shots: Mapping[tuple[str, str], int]
) -> pd.DataFrame:
    """One row a club of the players, theirs in their order, each one's sorted by label: player_id, club_id, club (made
    unique), sort, loft_deg, on_trial, retired_on, deleted, shots (as `shots` counts them)."""
    query = sa.select(
        CLUB.c.player_id,
        CLUB.c.record_id.label("club_id"),
        CLUB.c.sort,
        CLUB.c.loft_deg,
        CLUB.c.on_trial,
        CLUB.c.retired_on,
        CLUB.c.deleted,
    ).where(CLUB.c.player_id.in_(player_ids))
    labels = club_labels(connection, player_ids)
    rank = {player_id: place for place, player_id in enumerate(player_ids)}
    result = connection.execute(query)
    found = [(labels[row.player_id, row.club_id][0], row) for row in result]
    found.sort(key=lambda one: (rank[one[1].player_id], one[0], one[1].club_id))
    columns = list(zip(*(row for _, row in found), strict=True)) or [()] * len(result.keys())
    frame = pd.DataFrame(dict(zip(result.keys(), columns, strict=True)), dtype="object")
    return frame.assign(
        club=np.array([club for club, _ in found], dtype=object),
        shots=np.array([shots.get((row.player_id, row.club_id), 0) for _, row in found], dtype=np.int64),
        loft_deg=pd.to_numeric(frame["loft_deg"]).astype("float64"),
        **{name: frame[name].astype("bool") for name in ("on_trial", "deleted")},
    )


def setups_in_full(connection: sa.Connection, player_id: str) -> pd.DataFrame:
    """One row a setup of the player, sorted by club and day: setup_id, club_id, since (date), note, loft_deg, shaft,
    golf_ball."""
    query = (
        sa.select(
            SETUP.c.record_id.label("setup_id"),
            SETUP.c.club_id,
            SETUP.c.since,
            SETUP.c.note,
            SETUP.c.loft_deg,
            SETUP.c.shaft,
            SETUP.c.ball.label("golf_ball"),
        )
        .where(SETUP.c.player_id == player_id)
        .order_by(SETUP.c.club_id, SETUP.c.since, SETUP.c.record_id)
    )
    frame = _frame(connection, query)
    return frame.assign(loft_deg=pd.to_numeric(frame["loft_deg"]).astype("float64"))


def log_marks(connection: sa.Connection, player_ids: Sequence[str]) -> list[tuple[str, str]]:
    """(player, fingerprint of the log) of these players, by id: equal marks, equal records."""
    rows = select_in(connection, (PLAYER.c.player_id, PLAYER.c.chain), PLAYER.c.player_id, player_ids)
    return sorted((row.player_id, row.chain) for row in rows)


def _frame(connection: sa.Connection, query: sa.Select[Any]) -> pd.DataFrame:
    result = connection.execute(query)
    # as objects: to guess the type of every column takes longer than to read a few rows
    return pd.DataFrame(list(map(tuple, result.all())), columns=list(result.keys()), dtype="object")
