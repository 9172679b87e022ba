"""The frame of practice balls, for analysis: one row a ball, with its session and club."""

from __future__ import annotations

from datetime import date
from typing import Final

import pandas as pd
import sqlalchemy as sa

from server.game.practice import PLACES
from server.records import shot_fields
from server.records.practice_fields import BALL_FIELDS
from server.store.frames import UNKNOWN_CLUB, club_labels
from server.store.tables import PRACTICE_BALL, SESSION, SESSION_OF_BALL

_COLUMNS: Final = tuple(field.name for field in BALL_FIELDS if field.name not in ("session_id", "order"))
_NUMBERS: Final = tuple(field.name for field in BALL_FIELDS if field.type == shot_fields.NUMBER)


def practice_frame(
    connection: sa.Connection, player_id: str, first: date | None = None, last: date | None = None
) -> pd.DataFrame:
    """One row a practice ball of the player between two days (both included), sorted by day, session and order.

    Columns: ball_id, player_id, round_id (the session, in the place of the round in the frame of shots),
    played_on (datetime), place, order, the fields of a ball, club (label) and sort. Lengths in yards, of putts in feet.
    """
    query = (
        sa.select(
            PRACTICE_BALL.c.record_id.label("ball_id"),
            PRACTICE_BALL.c.player_id,
            PRACTICE_BALL.c.session_id.label("round_id"),
            SESSION.c.date.label("played_on"),
            SESSION.c.place,
            PRACTICE_BALL.c.ball_order.label("order"),
            *(PRACTICE_BALL.c[name] for name in _COLUMNS),
        )
        .join(SESSION, SESSION_OF_BALL)
        .where(PRACTICE_BALL.c.player_id == player_id)
        .order_by(SESSION.c.date, PRACTICE_BALL.c.session_id, "order", PRACTICE_BALL.c.record_id)
    )
    if first is not None:
        query = query.where(SESSION.c.date >= first)
    if last is not None:
        query = query.where(SESSION.c.date <= last)
    result = connection.execute(query)
    frame = pd.DataFrame(list(map(tuple, result)), columns=list(result.keys()))
    labels = club_labels(connection, player_id)
    known = [labels.get((player_id, club), (UNKNOWN_CLUB, "")) for club in frame["club_id"]]
    return frame.assign(
        **{name: pd.to_numeric(frame[name]).astype("float64") for name in _NUMBERS},
        holed=frame["holed"].astype("bool"),
        played_on=pd.to_datetime(frame["played_on"]).astype("datetime64[s]"),
        place=pd.Categorical(frame["place"], categories=list(PLACES)),
        club=pd.Categorical([label for label, _ in known]),
        sort=pd.Categorical([sort for _, sort in known]),
    )
