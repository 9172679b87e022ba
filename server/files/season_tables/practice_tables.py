"""Frames of practice sessions and their balls, of the players of a season. There is no position: practice has none."""

from __future__ import annotations

import pandas as pd

from server.files.season_tables.seasons import Piece
from server.store.practice import sessions
from server.store.practice_frames import practice_frame

_WORDS = ("session_id", "place", "note", "ball_label", "from_file")
_COUNTS = ("balls", "putts", "clubs")
_FLAGS = ("closed", "deleted")


def practice_sessions(full: Piece) -> pd.DataFrame:
    """One row a session, by day and id: the columns of the table practice_sessions but the player's."""
    first, last = (day.isoformat() for day in full.season.days)
    found = [one for one in sessions(full.season.connection, full.player.player_id) if first <= one["date"] <= last]
    frame = pd.DataFrame(found, columns=["date", *_WORDS, *_COUNTS, *_FLAGS])
    days = pd.to_datetime(frame.pop("date")).astype("datetime64[s]")
    types = dict.fromkeys(_COUNTS, "int64") | dict.fromkeys(_FLAGS, "bool") | dict.fromkeys(_WORDS, "object")
    return frame.astype(types).assign(practised_on=days).sort_values(["practised_on", "session_id"], ignore_index=True)


def practice_balls(full: Piece) -> pd.DataFrame:
    """One row a ball, by day, session and order: the columns of the table practice_balls but the player's. A putt has
    no lie."""
    frame = practice_frame(full.season.connection, full.player.player_id, *full.season.days)
    lie = frame["lie"].astype("object").where(frame["length_ft"].isna())
    return frame.rename(columns={"round_id": "session_id", "played_on": "practised_on"}).assign(lie=lie)
