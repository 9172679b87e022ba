"""Practice sessions and their balls.

An older server sets changes of these kinds aside in the quarantine, unaltered: `check --rebuild` takes them in. Its log
has nothing of them.
"""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables of both kinds."""
    op.create_table(
        "practice_session",
        sa.Column("record_id", sa.String(36), nullable=False),
        sa.Column("player_id", sa.String(36), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("place", sa.String(13), nullable=False),
        sa.Column("note", sa.Text()),
        sa.Column("ball_label", sa.String(60)),
        sa.Column("from_file", sa.String(120)),
        sa.Column("at", sa.String(40)),
        sa.Column("deleted", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("record_id"),
        sqlite_with_rowid=False,
    )
    op.create_index("practice_session_by_player", "practice_session", ["player_id", "date"])
    op.create_table(
        "practice_ball",
        sa.Column("record_id", sa.String(36), nullable=False),
        sa.Column("player_id", sa.String(36), nullable=False),
        sa.Column("session_id", sa.String(36), nullable=False),
        sa.Column("ball_order", sa.Integer(), nullable=False),
        sa.Column("club_id", sa.String(36), nullable=False),
        sa.Column("lie", sa.String(7), nullable=False),
        sa.Column("target_yd", sa.Double()),
        sa.Column("carry_yd", sa.Double()),
        sa.Column("total_yd", sa.Double()),
        sa.Column("right_yd", sa.Double()),
        sa.Column("long_yd", sa.Double()),
        sa.Column("swing", sa.String(4)),
        sa.Column("planned_shape", sa.String(8)),
        sa.Column("actual_shape", sa.String(8)),
        sa.Column("strike", sa.String(6)),
        sa.Column("length_ft", sa.Double()),
        sa.Column("holed", sa.Boolean(), nullable=False),
        sa.Column("left_ft", sa.Double()),
        sa.Column("duel_id", sa.String(36)),
        sa.Column("at", sa.String(40)),
        sa.PrimaryKeyConstraint("record_id"),
    )
    op.create_index("practice_ball_by_session", "practice_ball", ["player_id", "session_id"])
