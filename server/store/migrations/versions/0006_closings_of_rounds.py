"""A round says when it was closed and opened again, how many holes were meant, and whether it was stopped."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns. What was stored before knows nothing of them."""
    op.add_column("round", sa.Column("closings", sa.Text()))
    op.add_column("round", sa.Column("holes_meant", sa.Integer()))
    op.add_column("round", sa.Column("stopped", sa.Boolean(), nullable=False, server_default=sa.false()))
