"""Frames for analysis, read from typed columns: one row a shot, with its round, hole, club and setups."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
import pandas as pd
import sqlalchemy as sa

from server.game.lies import LIES
from server.records import shot_fields
from server.records.shot_fields import SHOT_FIELDS
from server.store.tables import (
    CLUB,
    COURSE,
    COURSE_OF_ROUND,
    PLAYER_RECORD,
    ROUND,
    ROUND_HOLE,
    ROUND_OF_SHOT,
    SETUP,
    SHOT,
)

UNKNOWN_CLUB: Final = "unknown club"

Labels = dict[tuple[str, str], tuple[str, str]]
"""Player and club id -> label and sort."""

_PLACED = ("round_id", "hole", "order", "position")
"""Fields of a shot that are elsewhere in the frame, or not at all."""
_SHOT_COLUMNS: Final = tuple(field.name for field in SHOT_FIELDS if field.name not in _PLACED)
_ROUND_WORDS: Final = (
    "player",
    "round_id",
    "kind",
    "course",
    "tees",
    "ball_label",
    "lengths_taken",
    "firmness",
    "club_id",
)
_ROUND_NUMBERS: Final = ("par", "length_yd", "wind_mph", "temperature_c")
_DTYPES: Final = {
    shot_fields.NUMBER: "float64",
    shot_fields.INTEGER: "int64",
    shot_fields.FLAG: "bool",
    shot_fields.CHOICE: "category",
}


@dataclass(frozen=True)
class Selection:
    """Which shots: one player, some or all, one round or some, between two days (both included), of some kinds of
    round, on the courses of one name."""

    player_id: str | None = None
    from_day: date | None = None
    to_day: date | None = None
    kinds: tuple[str, ...] = ()
    round_id: str | None = None
    course: str | None = None
    round_ids: tuple[str, ...] | None = None
    player_ids: tuple[str, ...] | None = None

    @property
    def named(self) -> tuple[str, ...]:
        """The players that it names, in their order. ValueError where it names none, which means all."""
        found = self.player_ids if self.player_id is None else (self.player_id,)
        if found is None:
            raise ValueError("selection: names no player")
        return found

    def conditions(self) -> list[sa.ColumnElement[bool]]:
        """The same in SQL."""
        found: list[sa.ColumnElement[bool]] = []
        if self.player_id is not None:
            found.append(ROUND.c.player_id == self.player_id)
        if self.player_ids is not None:
            found.append(ROUND.c.player_id.in_(self.player_ids))
        if self.from_day is not None:
            found.append(ROUND.c.played_on >= self.from_day)
        if self.to_day is not None:
            found.append(ROUND.c.played_on <= self.to_day)
        if self.kinds:
            found.append(ROUND.c.kind.in_(self.kinds))
        if self.round_id is not None:
            found.append(ROUND.c.record_id == self.round_id)
        if self.round_ids is not None:
            found.append(ROUND.c.record_id.in_(self.round_ids))
        if self.course is not None:
            found.append(sa.exists().where(COURSE_OF_ROUND, COURSE.c.name == self.course).correlate(ROUND))
        return found


def shots_frame(connection: sa.Connection, selection: Selection) -> pd.DataFrame:
    """One row a shot, sorted by player, day, round, hole, ball and order.

    Columns: player_id, player, round_id, played_on (date), kind, course, tees, ball_label, lengths_taken, wind_mph,
    temperature_c, firmness, hole, par, length_yd, ball, order, the fields of the shot, club_id, club (label,
    made unique within the player), sort. Distances in yards. Shots of a round deleted by a device that had not seen
    them are included.
    """
    labels = club_labels(connection, selection.player_id)
    query = (
        sa.select(
            SHOT.c.record_id.label("shot_id"),
            SHOT.c.player_id,
            PLAYER_RECORD.c.name.label("player"),
            SHOT.c.round_id,
            ROUND.c.played_on,
            ROUND.c.kind,
            COURSE.c.name.label("course"),
            ROUND.c.tees,
            ROUND.c.ball_label,
            ROUND.c.lengths_taken,
            ROUND.c.wind_mph,
            ROUND.c.temperature_c,
            ROUND.c.firmness,
            SHOT.c.hole,
            ROUND_HOLE.c.par,
            ROUND_HOLE.c.length_yd,
            SHOT.c.shot_order.label("order"),
            *(SHOT.c[name] for name in _SHOT_COLUMNS),
        )
        .join(ROUND, ROUND_OF_SHOT)
        .outerjoin(ROUND_HOLE, sa.and_(ROUND_HOLE.c.record_id == SHOT.c.round_id, ROUND_HOLE.c.number == SHOT.c.hole))
        .outerjoin(COURSE, COURSE_OF_ROUND)
        .outerjoin(PLAYER_RECORD, PLAYER_RECORD.c.record_id == SHOT.c.player_id)
        .where(*selection.conditions())
        .order_by("player", SHOT.c.player_id, ROUND.c.played_on, SHOT.c.round_id, SHOT.c.hole, SHOT.c.ball, "order")
        # two devices may give one number twice
        .order_by(SHOT.c.record_id)
    )
    result = connection.execute(query)
    # Plain tuples: pandas asks each row of SQLAlchemy's own kind what else it could be.
    frame = pd.DataFrame(list(map(tuple, result)), columns=list(result.keys()))
    return _typed(frame, labels)


def positions_frame(connection: sa.Connection, selection: Selection) -> pd.DataFrame:
    """Where shots were played, by shot id: lon, lat (WGS84 degrees), accuracy_m. Only shots that have a position.

    Positions are personal: ask only for a player who shares them (`server.store.players.shares_positions`).
    """
    names = ("lon", "lat", "accuracy_m")
    query = (
        sa.select(SHOT.c.record_id, *(SHOT.c[name] for name in names))
        .join(ROUND, ROUND_OF_SHOT)
        .where(*selection.conditions(), SHOT.c.lon.is_not(None))
    )
    frame = pd.DataFrame(list(map(tuple, connection.execute(query))), columns=["shot_id", *names])
    return frame.set_index("shot_id").astype("float64")


def _typed(frame: pd.DataFrame, labels: Labels) -> pd.DataFrame:
    """The columns' types, the same however many rows there are."""
    columns: dict[str, pd.Series] = {name: frame[name].astype("category") for name in _ROUND_WORDS}
    columns |= {name: pd.to_numeric(frame[name]).astype("float64") for name in _ROUND_NUMBERS}
    for field in SHOT_FIELDS:
        if field.name in frame and field.type in _DTYPES:
            found = pd.to_numeric(frame[field.name]) if field.type == shot_fields.NUMBER else frame[field.name]
            columns[field.name] = found.astype(_DTYPES[field.type])
    columns["lie"] = pd.Categorical(frame["lie"], categories=list(LIES))
    columns["played_on"] = pd.to_datetime(frame["played_on"]).astype("datetime64[s]")
    return with_clubs(frame.assign(**columns), labels)


def with_clubs(frame: pd.DataFrame, labels: Labels) -> pd.DataFrame:
    """The same rows with `club` (its label) and `sort`, found by `player_id` and `club_id`, a categorical."""
    ids, owners = frame["club_id"].cat, frame["player_id"].astype("category").cat
    pairs, owned = pd.factorize(owners.codes.astype("int64") * len(ids.categories) + ids.codes)
    places = (divmod(pair, len(ids.categories)) for pair in owned)
    known = [labels.get((owners.categories[owner], ids.categories[club])) for owner, club in places]
    columns: dict[str, pd.Categorical] = {}
    for place, name in enumerate(("club", "sort")):
        names = [(UNKNOWN_CLUB, "")[place] if label is None else label[place] for label in known]
        words = sorted(set(names))
        codes = np.array([words.index(one) for one in names], dtype=np.intp)
        columns[name] = pd.Categorical.from_codes(codes[pairs], categories=pd.Index(words))
    return frame.assign(**columns)


Owners = str | Sequence[str] | None
"""One player, some, or everybody."""


def _of(query: sa.Select[Any], column: sa.Column[Any], owners: Owners) -> sa.Select[Any]:
    if owners is None:
        return query
    return query.where(column == owners if isinstance(owners, str) else column.in_(owners))


def club_labels(connection: sa.Connection, owners: Owners) -> Labels:
    """Player and club id -> (label, sort); a label that a player gave twice gets a number behind it."""
    query = sa.select(CLUB.c.record_id, CLUB.c.player_id, CLUB.c.label, CLUB.c.sort).order_by(CLUB.c.record_id)
    clubs: Sequence[Any] = connection.execute(_of(query, CLUB.c.player_id, owners)).all()
    given = {(owner, label) for _, owner, label, _ in clubs}
    taken: set[tuple[str, str]] = set()
    labels = {}
    for club_id, owner, label, sort in clubs:
        name, count = label, 1
        while (owner, name) in taken or (count > 1 and (owner, name) in given):
            count += 1
            name = f"{label} ({count})"
        taken.add((owner, name))
        labels[owner, club_id] = (name, sort)
    return labels


def clubs_in_use(connection: sa.Connection, player_id: str) -> dict[str, str]:
    """Label, as `club_labels` makes it, -> sort of the player's clubs that are not retired."""
    query = sa.select(CLUB.c.record_id).where(
        CLUB.c.player_id == player_id, CLUB.c.retired_on.is_(None), sa.not_(CLUB.c.deleted)
    )
    labels = club_labels(connection, player_id)
    return dict(labels[player_id, row[0]] for row in connection.execute(query))


def clubs_on_trial(connection: sa.Connection, player_id: str) -> dict[str, str]:
    """Label, as `club_labels` makes it, -> sort of the player's clubs that are on trial and not retired."""
    query = sa.select(CLUB.c.record_id).where(
        CLUB.c.player_id == player_id, CLUB.c.on_trial, CLUB.c.retired_on.is_(None), sa.not_(CLUB.c.deleted)
    )
    labels = club_labels(connection, player_id)
    return dict(labels[player_id, row[0]] for row in connection.execute(query))


def setups_frame(connection: sa.Connection, owners: Owners) -> pd.DataFrame:
    """One row a setup: setup_id, player_id, club_id, since (date), note. Sorted by club and day."""
    query = sa.select(SETUP.c.record_id, SETUP.c.player_id, SETUP.c.club_id, SETUP.c.since, SETUP.c.note)
    query = _of(query, SETUP.c.player_id, owners)
    rows: Sequence[Any] = connection.execute(query.order_by(SETUP.c.club_id, SETUP.c.since, SETUP.c.record_id)).all()
    frame = pd.DataFrame(rows, columns=["setup_id", "player_id", "club_id", "since", "note"])
    return frame.assign(since=pd.to_datetime(frame["since"]).astype("datetime64[s]"))
