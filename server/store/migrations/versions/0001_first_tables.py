"""First tables: change log, quarantine, derived records."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "player",
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("last_seq", sa.BigInteger(), nullable=False),
        sa.Column("chain", sa.String(length=32), nullable=False),
        sa.Column("created_at", sa.String(length=24), nullable=False),
        sa.PrimaryKeyConstraint("player_id"),
    )
    op.create_table(
        "change",
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("seq", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("change_id", sa.String(length=36), nullable=False),
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("parents", sa.Text(), nullable=False),
        sa.Column("op", sa.String(length=6), nullable=False),
        sa.Column("body", sa.Text(), nullable=True),
        sa.Column("device_id", sa.String(length=80), nullable=False),
        sa.Column("client_time", sa.String(length=40), nullable=False),
        sa.Column("effective_time", sa.String(length=24), nullable=False),
        sa.Column("received_at", sa.String(length=24), nullable=False),
        sa.Column("schema_version", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("chain", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(
            ["player_id"],
            ["player.player_id"],
        ),
        sa.PrimaryKeyConstraint("player_id", "seq"),
        sqlite_with_rowid=False,
    )
    op.create_index("change_by_record", "change", ["record_id"], unique=False)
    op.create_index("change_once", "change", ["change_id"], unique=True)
    op.create_table(
        "quarantine",
        sa.Column("quarantine_id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("change_id", sa.String(length=80), nullable=True),
        sa.Column("raw", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("problem", sa.Text(), nullable=False),
        sa.Column("device_id", sa.String(length=80), nullable=False),
        sa.Column("received_at", sa.String(length=24), nullable=False),
        sa.Column("resolved_at", sa.String(length=24), nullable=True),
        sa.ForeignKeyConstraint(
            ["player_id"],
            ["player.player_id"],
        ),
        sa.PrimaryKeyConstraint("quarantine_id"),
    )
    op.create_index("quarantine_once", "quarantine", ["player_id", "digest"], unique=True)
    op.create_table(
        "record",
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("head", sa.String(length=36), nullable=False),
        sa.Column("deleted", sa.Boolean(), nullable=False),
        sa.Column("leaves", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["player_id"],
            ["player.player_id"],
        ),
        sa.PrimaryKeyConstraint("record_id"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "club",
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("label", sa.String(length=60), nullable=False),
        sa.Column("sort", sa.String(length=10), nullable=False),
        sa.Column("loft_deg", sa.Double(), nullable=True),
        sa.Column("on_trial", sa.Boolean(), nullable=False),
        sa.Column("retired_on", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["record_id"], ["record.record_id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("record_id"),
        sqlite_with_rowid=False,
    )
    op.create_index("club_by_player", "club", ["player_id"], unique=False)
    op.create_table(
        "course",
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("tees", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["record_id"], ["record.record_id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("record_id"),
        sqlite_with_rowid=False,
    )
    op.create_index("course_by_player", "course", ["player_id"], unique=False)
    op.create_table(
        "hole_map",
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("course_id", sa.String(length=36), nullable=False),
        sa.Column("hole", sa.Integer(), nullable=False),
        sa.Column("features", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["record_id"], ["record.record_id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("record_id"),
        sqlite_with_rowid=False,
    )
    op.create_index("hole_map_by_course", "hole_map", ["course_id", "hole"], unique=False)
    op.create_table(
        "player_record",
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("plays", sa.String(length=5), nullable=False),
        sa.Column("units", sa.String(length=6), nullable=False),
        sa.Column("baseline", sa.String(length=80), nullable=False),
        sa.Column("category_scheme", sa.String(length=20), nullable=False),
        sa.Column("short_game_yd", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(["record_id"], ["record.record_id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("record_id"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "round",
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("played_on", sa.Date(), nullable=False),
        sa.Column("kind", sa.String(length=11), nullable=False),
        sa.Column("course_id", sa.String(length=36), nullable=True),
        sa.Column("tees", sa.String(length=60), nullable=True),
        sa.Column("bag", sa.Text(), nullable=False),
        sa.Column("wind_mph", sa.Double(), nullable=True),
        sa.Column("temperature_c", sa.Double(), nullable=True),
        sa.Column("firmness", sa.String(length=6), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("deleted", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["record_id"], ["record.record_id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("record_id"),
        sqlite_with_rowid=False,
    )
    op.create_index("round_by_player", "round", ["player_id", "played_on"], unique=False)
    op.create_table(
        "setup",
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("club_id", sa.String(length=36), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("loft_deg", sa.Double(), nullable=True),
        sa.Column("shaft", sa.String(length=120), nullable=True),
        sa.Column("ball", sa.String(length=120), nullable=True),
        sa.ForeignKeyConstraint(["record_id"], ["record.record_id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("record_id"),
        sqlite_with_rowid=False,
    )
    op.create_index("setup_by_player", "setup", ["player_id"], unique=False)
    op.create_table(
        "shot",
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("round_id", sa.String(length=36), nullable=False),
        sa.Column("hole", sa.Integer(), nullable=False),
        sa.Column("ball", sa.Integer(), nullable=False),
        sa.Column("shot_order", sa.Integer(), nullable=False),
        sa.Column("lie", sa.String(length=8), nullable=False),
        sa.Column("distance_yd", sa.Double(), nullable=False),
        sa.Column("club_id", sa.String(length=36), nullable=False),
        sa.Column("holed", sa.Boolean(), nullable=False),
        sa.Column("penalty_strokes", sa.Integer(), nullable=False),
        sa.Column("penalty_reason", sa.String(length=13), nullable=True),
        sa.Column("end_lie", sa.String(length=8), nullable=True),
        sa.Column("end_distance_yd", sa.Double(), nullable=True),
        sa.Column("picked_up", sa.Boolean(), nullable=False),
        sa.Column("provisional", sa.Boolean(), nullable=False),
        sa.Column("swing", sa.String(length=4), nullable=True),
        sa.Column("planned_shape", sa.String(length=8), nullable=True),
        sa.Column("actual_shape", sa.String(length=8), nullable=True),
        sa.Column("target_yd", sa.Double(), nullable=True),
        sa.Column("right_yd", sa.Double(), nullable=True),
        sa.Column("long_yd", sa.Double(), nullable=True),
        sa.Column("strike", sa.String(length=6), nullable=True),
        sa.Column("lon", sa.Double(), nullable=True),
        sa.Column("lat", sa.Double(), nullable=True),
        sa.Column("accuracy_m", sa.Double(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("at", sa.String(length=40), nullable=True),
        sa.ForeignKeyConstraint(["record_id"], ["record.record_id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("record_id"),
        sqlite_with_rowid=False,
    )
    op.create_index("shot_by_round", "shot", ["player_id", "round_id"], unique=False)
    op.create_table(
        "round_hole",
        sa.Column("record_id", sa.String(length=36), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("par", sa.Integer(), nullable=False),
        sa.Column("length_yd", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["record_id"], ["round.record_id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("record_id", "number"),
        sqlite_with_rowid=False,
    )
