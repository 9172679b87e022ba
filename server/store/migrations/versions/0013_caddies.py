"""Caddies: who enters the shots of one round for a player, by an invitation."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "caddie",
        sa.Column("caddie_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("round_id", sa.String(length=36), nullable=False),
        sa.Column("code_hash", sa.String(length=64), nullable=False),
        sa.Column("secret_hash", sa.String(length=64), nullable=True),
        sa.Column("name", sa.String(length=60), nullable=True),
        sa.Column("device_id", sa.String(length=80), nullable=True),
        sa.Column("created_at", sa.String(length=24), nullable=False),
        sa.Column("expires_at", sa.String(length=24), nullable=False),
        sa.Column("taken_at", sa.String(length=24), nullable=True),
        sa.Column("last_used_at", sa.String(length=24), nullable=True),
        sa.Column("ended_at", sa.String(length=24), nullable=True),
        sa.Column("log_bytes", sa.BigInteger(), nullable=False, server_default="0"),
        sa.PrimaryKeyConstraint("caddie_id"),
        sa.UniqueConstraint("code_hash"),
        sa.UniqueConstraint("secret_hash"),
    )
    op.create_index("caddie_by_player", "caddie", ["player_id"], unique=False)
