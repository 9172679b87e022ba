"""Tables of accounts: who signs in, by what, who reads whom, what readers noted, and who enters a round for a player.

Secrets are never stored: passwords by scrypt, everything else (sessions, tokens, join codes) by a keyed hash.
"""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa

from server.store.tables import ID, METADATA, TIME

ACCOUNT = sa.Table(
    "account",
    METADATA,
    sa.Column("account_id", ID, primary_key=True),
    sa.Column("name", sa.String(60), nullable=False, unique=True),
    sa.Column("role", sa.String(10), nullable=False),
    sa.Column("password", sa.String(255)),
    sa.Column("player_id", ID),
    sa.Column("created_at", TIME, nullable=False),
    sa.Column("disabled_at", TIME),
)

SQUAD_MEMBER = sa.Table(
    "squad_member",
    METADATA,
    sa.Column("account_id", ID, sa.ForeignKey("account.account_id"), primary_key=True),
    sa.Column("squad", sa.String(60), primary_key=True),
)

CREDENTIAL = sa.Table(
    "credential",
    METADATA,
    sa.Column("credential_id", ID, primary_key=True),
    sa.Column("secret_hash", sa.String(64), nullable=False, unique=True),
    sa.Column("kind", sa.String(10), nullable=False),
    sa.Column("account_id", ID, sa.ForeignKey("account.account_id"), nullable=False),
    sa.Column("label", sa.String(80), nullable=False),
    sa.Column("scopes", sa.String(120), nullable=False),
    sa.Column("created_at", TIME, nullable=False),
    sa.Column("expires_at", TIME, nullable=False),
    sa.Column("last_used_at", TIME),
    sa.Column("revoked_at", TIME),
    sa.Index("credential_by_account", "account_id", "kind"),
)

SHARE = sa.Table(
    "share",
    METADATA,
    sa.Column("share_id", ID, primary_key=True),
    sa.Column("player_id", ID, nullable=False),
    sa.Column("reader_id", ID, sa.ForeignKey("account.account_id")),
    sa.Column("squad", sa.String(60)),
    sa.Column("since", TIME, nullable=False),
    sa.Column("ended_at", TIME),
    sa.Index("share_by_player", "player_id"),
    sa.Index("share_by_reader", "reader_id"),
)

NOTE = sa.Table(
    "note",
    METADATA,
    sa.Column("note_id", ID, primary_key=True),
    sa.Column("player_id", ID, nullable=False),
    sa.Column("author_id", ID, sa.ForeignKey("account.account_id"), nullable=False),
    sa.Column("about", sa.String(10), nullable=False),
    sa.Column("about_id", sa.String(200), nullable=False),
    sa.Column("words", sa.Text, nullable=False),
    sa.Column("written_at", TIME, nullable=False),
    sa.Index("note_by_player", "player_id"),
)

CADDIE = sa.Table(
    "caddie",
    METADATA,
    sa.Column("caddie_id", ID, primary_key=True),
    sa.Column("player_id", ID, nullable=False),
    sa.Column("round_id", ID, nullable=False),
    sa.Column("code_hash", sa.String(64), nullable=False, unique=True),
    sa.Column("secret_hash", sa.String(64), unique=True),
    sa.Column("name", sa.String(60)),
    sa.Column("device_id", sa.String(80)),
    sa.Column("created_at", TIME, nullable=False),
    sa.Column("expires_at", TIME, nullable=False),
    sa.Column("taken_at", TIME),
    sa.Column("last_used_at", TIME),
    sa.Column("ended_at", TIME),
    sa.Column("log_bytes", sa.BigInteger, nullable=False, server_default="0"),
    sa.Index("caddie_by_player", "player_id"),
)
"""An invitation to enter the shots of one round, and from `taken_at` on the caddie who took it up."""

ROLES: Final[tuple[str, ...]] = ("player", "coach", "analyst", "owner")
