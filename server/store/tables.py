"""Tables: the append-only change log, the quarantine, and the typed records derived from the log.

The tables of `KIND_TABLES` and the holes of rounds can be rebuilt from `CHANGE`: of each record they hold what its head
has. Heads, other versions and owners of records are read from the log itself. `record_seq` numbers the changes of each
record: its first is number 1, so that of two players who bring the same new record in one moment the database lets one
through. Times are ISO 8601 UTC text with milliseconds, so that their order as text is their order in time on every
database. Without rowids SQLite keeps a table as one tree by its key: good for narrow rows. The log and the shots lie in
the order in which they came, or each row of a push would touch a page of its own. SQLite keeps the ids of shots unique
by an index, `shot_once`, in place of a primary key: an import takes it away and makes it again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import sqlalchemy as sa

from server.records import shot_fields
from server.records.practice_fields import BALL_FIELDS
from server.records.shot_fields import POSITION, SHOT_FIELDS, ShotField

METADATA: Final = sa.MetaData()
ID: Final = sa.String(36)
TIME: Final = sa.String(24)
CHAIN: Final = sa.String(32)
"""A fingerprint of a log up to and including a change: see `server.store.cursors`."""

PLAYER = sa.Table(
    "player",
    METADATA,
    sa.Column("player_id", ID, primary_key=True),
    sa.Column("last_seq", sa.BigInteger, nullable=False),
    sa.Column("chain", CHAIN, nullable=False),
    sa.Column("created_at", TIME, nullable=False),
    sa.Column("erased_at", TIME),
    sa.Column("log_bytes", sa.BigInteger, nullable=False, server_default="0"),
    sa.Column("quarantine_bytes", sa.BigInteger, nullable=False, server_default="0"),
)

CHANGE = sa.Table(
    "change",
    METADATA,
    sa.Column("player_id", ID, sa.ForeignKey("player.player_id"), primary_key=True),
    sa.Column("seq", sa.BigInteger, primary_key=True, autoincrement=False),
    sa.Column("change_id", ID, nullable=False),
    sa.Column("record_id", ID, nullable=False),
    sa.Column("kind", sa.String(40), nullable=False),
    sa.Column("parents", sa.Text, nullable=False),
    sa.Column("op", sa.String(6), nullable=False),
    sa.Column("body", sa.Text),
    sa.Column("device_id", sa.String(80), nullable=False),
    sa.Column("client_time", sa.String(40), nullable=False),
    sa.Column("effective_time", TIME, nullable=False),
    sa.Column("received_at", TIME, nullable=False),
    sa.Column("schema_version", sa.Integer, nullable=False),
    sa.Column("digest", sa.String(64), nullable=False),
    sa.Column("chain", CHAIN, nullable=False),
    sa.Column("record_seq", sa.Integer, nullable=False),
    sa.Index("change_once", "change_id", unique=True),
    sa.Index("change_by_record", "record_id", "record_seq", unique=True),
)

QUARANTINE = sa.Table(
    "quarantine",
    METADATA,
    sa.Column("quarantine_id", sa.Integer, primary_key=True),
    sa.Column("player_id", ID, sa.ForeignKey("player.player_id"), nullable=False),
    sa.Column("change_id", sa.String(80)),
    sa.Column("raw", sa.Text, nullable=False),
    sa.Column("digest", sa.String(64), nullable=False),
    sa.Column("problem", sa.Text, nullable=False),
    sa.Column("device_id", sa.String(80), nullable=False),
    sa.Column("received_at", TIME, nullable=False),
    sa.Column("resolved_at", TIME),
    sa.Index("quarantine_once", "player_id", "digest", unique=True),
)


def _kind_table(
    name: str, *columns: sa.Column[Any] | sa.Index, in_order: bool = False, once: sa.Index | None = None
) -> sa.Table:
    """`in_order`: its rows lie in the order in which they came. `once`: what keeps the ids unique on SQLite in place of
    the primary key."""
    key = sa.PrimaryKeyConstraint("record_id")
    return sa.Table(
        name,
        METADATA,
        sa.Column("record_id", ID, nullable=False),
        sa.Column("player_id", ID, nullable=False),
        *columns,
        *((key,) if once is None else (key.ddl_if(dialect="postgresql"), once.ddl_if(dialect="sqlite"))),
        sqlite_with_rowid=in_order,
    )


PLAYER_RECORD = _kind_table(
    "player_record",
    sa.Column("name", sa.String(80), nullable=False),
    sa.Column("plays", sa.String(5), nullable=False),
    sa.Column("units", sa.String(6), nullable=False),
    sa.Column("baseline", sa.String(80), nullable=False),
    sa.Column("category_scheme", sa.String(20), nullable=False),
    sa.Column("short_game_yd", sa.Double),
)

CLUB = _kind_table(
    "club",
    sa.Column("label", sa.String(60), nullable=False),
    sa.Column("sort", sa.String(10), nullable=False),
    sa.Column("loft_deg", sa.Double),
    sa.Column("on_trial", sa.Boolean, nullable=False),
    sa.Column("retired_on", sa.Date),
    sa.Column("deleted", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Index("club_by_player", "player_id"),
)

SETUP = _kind_table(
    "setup",
    sa.Column("club_id", ID, nullable=False),
    sa.Column("since", sa.Date, nullable=False),
    sa.Column("note", sa.Text, nullable=False),
    sa.Column("loft_deg", sa.Double),
    sa.Column("shaft", sa.String(120)),
    sa.Column("ball", sa.String(120)),
    sa.Index("setup_by_player", "player_id"),
)

COURSE = _kind_table(
    "course",
    sa.Column("name", sa.String(120), nullable=False),
    sa.Column("tees", sa.Text, nullable=False),
    sa.Index("course_by_player", "player_id"),
)

HOLE_MAP = _kind_table(
    "hole_map",
    sa.Column("course_id", ID, nullable=False),
    sa.Column("hole", sa.Integer, nullable=False),
    sa.Column("features", sa.Text, nullable=False),
    sa.Index("hole_map_by_course", "course_id", "hole"),
)

ROUND = _kind_table(
    "round",
    sa.Column("played_on", sa.Date, nullable=False),
    sa.Column("kind", sa.String(11), nullable=False),
    sa.Column("course_id", ID),
    sa.Column("tees", sa.String(60)),
    sa.Column("bag", sa.Text, nullable=False),
    sa.Column("wind_mph", sa.Double),
    sa.Column("temperature_c", sa.Double),
    sa.Column("firmness", sa.String(6)),
    sa.Column("note", sa.Text),
    sa.Column("closed", sa.Boolean, nullable=False),
    sa.Column("deleted", sa.Boolean, nullable=False),
    sa.Column("closings", sa.Text),
    sa.Column("holes_meant", sa.Integer),
    sa.Column("stopped", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Column("ball_label", sa.String(60)),
    sa.Column("lengths_taken", sa.String(8)),
    sa.Column("green_speed_ft", sa.Double),
    sa.Column("hole_conditions", sa.Text),
    sa.Index("round_by_player", "player_id", "played_on"),
)

ROUND_HOLE = sa.Table(
    "round_hole",
    METADATA,
    sa.Column("record_id", ID, sa.ForeignKey("round.record_id", ondelete="CASCADE"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("par", sa.Integer, nullable=False),
    sa.Column("length_yd", sa.Double, nullable=False),
    sqlite_with_rowid=False,
)

COURSE_OF_ROUND: Final = sa.and_(COURSE.c.record_id == ROUND.c.course_id, COURSE.c.player_id == ROUND.c.player_id)
"""Ids in records are whatever a device wrote: what one names is looked up among records of the same player alone."""


def _shot_columns(field: ShotField, names: Mapping[str, str]) -> list[sa.Column[Any]]:
    """The columns of a field of a shot or a practice ball; `names`: of columns that have another, for `order`
    is a word of SQL."""
    if field.type == POSITION:
        return [sa.Column(name, sa.Double) for name in ("lon", "lat", "accuracy_m")]
    types: dict[str, sa.types.TypeEngine[Any] | type[sa.types.TypeEngine[Any]]] = {
        shot_fields.ID: ID,
        shot_fields.INTEGER: sa.Integer,
        shot_fields.NUMBER: sa.Double,
        shot_fields.FLAG: sa.Boolean,
        shot_fields.CHOICE: sa.String(max(map(len, field.one_of), default=0)),
        shot_fields.TEXT: sa.String(field.longest) if field.longest <= LONGEST_STRING else sa.Text,
    }
    return [sa.Column(names.get(field.name, field.name), types[field.type], nullable=field.nullable)]


LONGEST_STRING: Final = 250
SHOT_COLUMN_NAMES: Final = {"order": "shot_order"}
SHOT = _kind_table(
    "shot",
    *(column for field in SHOT_FIELDS for column in _shot_columns(field, SHOT_COLUMN_NAMES)),
    sa.Index("shot_by_round", "player_id", "round_id"),
    in_order=True,
    once=sa.Index("shot_once", "record_id", unique=True),
)

SESSION = _kind_table(
    "practice_session",
    sa.Column("date", sa.Date, nullable=False),
    sa.Column("place", sa.String(13), nullable=False),
    sa.Column("note", sa.Text),
    sa.Column("ball_label", sa.String(60)),
    sa.Column("from_file", sa.String(120)),
    sa.Column("at", sa.String(40)),
    sa.Column("deleted", sa.Boolean, nullable=False),
    sa.Column("closed", sa.Boolean, nullable=False, server_default=sa.false()),
    sa.Index("practice_session_by_player", "player_id", "date"),
)

BALL_COLUMN_NAMES: Final = {"order": "ball_order"}
PRACTICE_BALL = _kind_table(
    "practice_ball",
    *(column for field in BALL_FIELDS for column in _shot_columns(field, BALL_COLUMN_NAMES)),
    sa.Index("practice_ball_by_session", "player_id", "session_id"),
    in_order=True,
)

KIND_TABLES: Final[dict[str, sa.Table]] = {
    "player": PLAYER_RECORD,
    "club": CLUB,
    "setup": SETUP,
    "course": COURSE,
    "hole_map": HOLE_MAP,
    "round": ROUND,
    "shot": SHOT,
    "session": SESSION,
    "practice_ball": PRACTICE_BALL,
}
"""The typed table of every kind of record."""

ROUND_OF_SHOT: Final = sa.and_(ROUND.c.record_id == SHOT.c.round_id, ROUND.c.player_id == SHOT.c.player_id)
"""As `COURSE_OF_ROUND`: a shot belongs to a round of its own player."""

SESSION_OF_BALL: Final = sa.and_(
    SESSION.c.record_id == PRACTICE_BALL.c.session_id, SESSION.c.player_id == PRACTICE_BALL.c.player_id
)
"""As `ROUND_OF_SHOT`: a practice ball belongs to a session of its own player."""
