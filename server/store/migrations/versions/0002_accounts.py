"""Accounts, credentials, sharing, notes; erased players; clubs that keep their label when deleted."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables and the columns."""
    op.add_column("player", sa.Column("erased_at", sa.String(length=24), nullable=True))
    op.add_column("club", sa.Column("deleted", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.create_table(
        "account",
        sa.Column("account_id", sa.String(length=36), nullable=False),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("password", sa.String(length=255), nullable=True),
        sa.Column("player_id", sa.String(length=36), nullable=True),
        sa.Column("created_at", sa.String(length=24), nullable=False),
        sa.Column("disabled_at", sa.String(length=24), nullable=True),
        sa.PrimaryKeyConstraint("account_id"),
        sa.UniqueConstraint("name"),
    )
    op.create_table(
        "credential",
        sa.Column("credential_id", sa.String(length=36), nullable=False),
        sa.Column("secret_hash", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("account_id", sa.String(length=36), nullable=False),
        sa.Column("label", sa.String(length=80), nullable=False),
        sa.Column("scopes", sa.String(length=120), nullable=False),
        sa.Column("created_at", sa.String(length=24), nullable=False),
        sa.Column("expires_at", sa.String(length=24), nullable=False),
        sa.Column("last_used_at", sa.String(length=24), nullable=True),
        sa.Column("revoked_at", sa.String(length=24), nullable=True),
        sa.ForeignKeyConstraint(
            ["account_id"],
            ["account.account_id"],
        ),
        sa.PrimaryKeyConstraint("credential_id"),
        sa.UniqueConstraint("secret_hash"),
    )
    op.create_index("credential_by_account", "credential", ["account_id", "kind"], unique=False)
    op.create_table(
        "note",
        sa.Column("note_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("author_id", sa.String(length=36), nullable=False),
        sa.Column("about", sa.String(length=10), nullable=False),
        sa.Column("about_id", sa.String(length=200), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("written_at", sa.String(length=24), nullable=False),
        sa.ForeignKeyConstraint(
            ["author_id"],
            ["account.account_id"],
        ),
        sa.PrimaryKeyConstraint("note_id"),
    )
    op.create_index("note_by_player", "note", ["player_id"], unique=False)
    op.create_table(
        "share",
        sa.Column("share_id", sa.String(length=36), nullable=False),
        sa.Column("player_id", sa.String(length=36), nullable=False),
        sa.Column("reader_id", sa.String(length=36), nullable=True),
        sa.Column("squad", sa.String(length=60), nullable=True),
        sa.Column("since", sa.String(length=24), nullable=False),
        sa.Column("ended_at", sa.String(length=24), nullable=True),
        sa.ForeignKeyConstraint(
            ["reader_id"],
            ["account.account_id"],
        ),
        sa.PrimaryKeyConstraint("share_id"),
    )
    op.create_index("share_by_player", "share", ["player_id"], unique=False)
    op.create_index("share_by_reader", "share", ["reader_id"], unique=False)
    op.create_table(
        "squad_member",
        sa.Column("account_id", sa.String(length=36), nullable=False),
        sa.Column("squad", sa.String(length=60), nullable=False),
        sa.ForeignKeyConstraint(
            ["account_id"],
            ["account.account_id"],
        ),
        sa.PrimaryKeyConstraint("account_id", "squad"),
    )
