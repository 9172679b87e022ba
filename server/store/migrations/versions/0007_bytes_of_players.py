"""A player's row says how many bytes its log and its quarantine hold."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns and count what is there; of erased players nothing counts."""
    for name in ("log_bytes", "quarantine_bytes"):
        op.add_column("player", sa.Column(name, sa.BigInteger(), nullable=False, server_default="0"))
    op.execute(
        "UPDATE player SET log_bytes = (SELECT COALESCE(SUM(400 + COALESCE(LENGTH(body), 0) + LENGTH(parents)), 0) "
        "FROM change WHERE change.player_id = player.player_id), "
        "quarantine_bytes = (SELECT COALESCE(SUM(400 + LENGTH(raw) + LENGTH(problem)), 0) "
        "FROM quarantine WHERE quarantine.player_id = player.player_id) WHERE erased_at IS NULL"
    )
