"""Credentials: browser sessions, tokens for scripts, one-time codes by which a phone joins or a coach may read.

The secret itself is given out once. Stored is its HMAC under PENCILBAG_SECRET, so a copy of the database alone signs
nobody in. A session in use goes on; one that nobody uses ends by itself, and none outlives a year.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import uuid
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa

from server.records.changes import iso
from server.store.account_tables import ACCOUNT, CREDENTIAL
from server.store.accounts import Account, account_by_id, now
from server.store.engine import reading, writing
from server.store.rows import HeldCredential
from server.store.tables import PLAYER
from server.store.unavailable import UnavailableError

SHORTEST_SECRET: Final = 32
"""Characters of PENCILBAG_SECRET: `python -c "import secrets; print(secrets.token_urlsafe(32))"` makes 43."""

SESSION: Final = "session"
TOKEN: Final = "token"
JOIN: Final = "join"
INVITATION: Final = "invitation"

LASTS: Final = {
    SESSION: timedelta(days=30),
    TOKEN: timedelta(days=90),
    JOIN: timedelta(minutes=15),
    INVITATION: timedelta(days=7),
}
LONGEST_TOKEN: Final = timedelta(days=366)
LONGEST_SESSION: Final = timedelta(days=366)
KEPT_AFTER_ITS_END: Final = timedelta(days=366)
NOTED_EVERY: Final = timedelta(hours=1)

READ_OWN: Final = "read_own"
WRITE_OWN: Final = "write_own"
READ_SQUAD: Final = "read_squad"
READ_METRICS: Final = "read_metrics"
SCOPES: Final[tuple[str, ...]] = (READ_OWN, WRITE_OWN, READ_SQUAD, READ_METRICS)

SCOPES_OF: Final[dict[str, tuple[str, ...]]] = {
    "player": (READ_OWN, WRITE_OWN),
    "coach": (READ_SQUAD,),
    "analyst": (READ_SQUAD,),
    "owner": (READ_METRICS,),
}
"""What a token of each role can be good for."""


@dataclass(frozen=True)
class SignedIn:
    """Who asks, by what, and what that allows: the account, the credential, its kind and its scopes."""

    account: Account
    credential_id: str
    kind: str
    scopes: frozenset[str]


def keyed_hash(key: str, secret: str) -> str:
    """What is stored of a secret: its HMAC under the server's own."""
    return hmac.new(key.encode("utf-8", "surrogateescape"), secret.encode(), hashlib.sha256).hexdigest()


def give(
    engine: sa.Engine,
    key: str,
    account_id: str,
    kind: str,
    *,
    label: str = "",
    scopes: tuple[str, ...] = SCOPES,
    lasts: timedelta | None = None,
) -> tuple[str, str]:
    """Make a credential; returns its id and its secret, which is not kept."""
    secret = secrets.token_urlsafe(32)
    moment = datetime.now(UTC)
    row = {
        "credential_id": str(uuid.uuid4()),
        "secret_hash": keyed_hash(key, secret),
        "kind": kind,
        "account_id": account_id,
        "label": label,
        "scopes": ",".join(scopes),
        "created_at": iso(moment),
        "expires_at": iso(moment + (lasts or LASTS[kind])),
    }
    with writing(engine) as connection:
        long_over = CREDENTIAL.c.expires_at < iso(moment - KEPT_AFTER_ITS_END)
        connection.execute(sa.delete(CREDENTIAL).where(long_over))
        connection.execute(sa.insert(CREDENTIAL), row)
    return str(row["credential_id"]), secret


def look_up(engine: sa.Engine, key: str, kind: str, secret: str) -> SignedIn | None:
    """Who a secret signs in, or None when it is unknown, expired, revoked, or its account ended."""
    moment = now()
    query = sa.select(CREDENTIAL).where(
        CREDENTIAL.c.secret_hash == keyed_hash(key, secret),
        CREDENTIAL.c.kind == kind,
        CREDENTIAL.c.revoked_at.is_(None),
        CREDENTIAL.c.expires_at > moment,
    )
    with reading(engine) as connection:
        row = connection.execute(query).mappings().first()
        account = None if row is None else account_by_id(connection, row["account_id"])
    if row is None or account is None or account.disabled:
        return None
    _note_use(engine, row, moment)
    return SignedIn(account, row["credential_id"], kind, frozenset(row["scopes"].split(",")))


def _note_use(engine: sa.Engine, row: Any, moment: str) -> None:
    """Write down the use now and then; a session in use goes on. A database that is busy is no reason to refuse."""
    last, asked_at = row["last_used_at"], datetime.fromisoformat(moment)
    if last is not None and asked_at - datetime.fromisoformat(last) < NOTED_EVERY:
        return
    values = {"last_used_at": moment}
    if row["kind"] == SESSION:
        latest = datetime.fromisoformat(row["created_at"]) + LONGEST_SESSION
        values["expires_at"] = iso(min(asked_at + LASTS[SESSION], latest))
    same = CREDENTIAL.c.credential_id == row["credential_id"]
    with suppress(UnavailableError), writing(engine) as connection:
        connection.execute(sa.update(CREDENTIAL).where(same, CREDENTIAL.c.revoked_at.is_(None)).values(**values))


def was_erased(engine: sa.Engine, key: str, kind: str, secret: str) -> bool:
    """Whether a secret that signs nobody in was given to a player who has been erased since."""
    query = (
        sa.select(PLAYER.c.player_id)
        .join(ACCOUNT, ACCOUNT.c.player_id == PLAYER.c.player_id)
        .join(CREDENTIAL, CREDENTIAL.c.account_id == ACCOUNT.c.account_id)
        .where(
            CREDENTIAL.c.secret_hash == keyed_hash(key, secret),
            CREDENTIAL.c.kind == kind,
            PLAYER.c.erased_at.is_not(None),
        )
    )
    with reading(engine) as connection:
        return connection.execute(query).first() is not None


def use_once(engine: sa.Engine, key: str, secret: str, kind: str = JOIN) -> Account | None:
    """The account that a one-time code is of; the code is spent with it, also when two try at once."""
    with writing(engine) as connection:
        return spent_in(connection, key, secret, kind)


def spent_in(connection: sa.Connection, key: str, secret: str, kind: str) -> Account | None:
    """The same within a transaction: when that is rolled back, the code is still good."""
    moment = now()
    still = sa.and_(
        CREDENTIAL.c.secret_hash == keyed_hash(key, secret),
        CREDENTIAL.c.kind == kind,
        CREDENTIAL.c.revoked_at.is_(None),
        CREDENTIAL.c.expires_at > moment,
    )
    account_id = connection.execute(sa.select(CREDENTIAL.c.account_id).where(still).with_for_update()).scalar()
    if account_id is None:
        return None
    spent = connection.execute(sa.update(CREDENTIAL).where(still).values(revoked_at=moment, last_used_at=moment))
    account = account_by_id(connection, account_id) if spent.rowcount == 1 else None
    return account if account is not None and not account.disabled else None


def held(connection: sa.Connection, account_id: str, kind: str) -> list[HeldCredential]:
    """The credentials of an account that still work, newest first; never their secrets."""
    names = ("credential_id", "kind", "label", "scopes", "created_at", "expires_at", "last_used_at")
    query = (
        sa.select(*(CREDENTIAL.c[name] for name in names))
        .where(
            CREDENTIAL.c.account_id == account_id,
            CREDENTIAL.c.kind == kind,
            CREDENTIAL.c.revoked_at.is_(None),
            CREDENTIAL.c.expires_at > now(),
        )
        .order_by(CREDENTIAL.c.created_at.desc(), CREDENTIAL.c.credential_id)
    )
    return [
        {
            "credential_id": row["credential_id"],
            "kind": row["kind"],
            "label": row["label"],
            "scopes": row["scopes"].split(","),
            "created_at": row["created_at"],
            "expires_at": row["expires_at"],
            "last_used_at": row["last_used_at"],
        }
        for row in connection.execute(query).mappings()
    ]


def revoke(engine: sa.Engine, account_id: str, credential_id: str, kind: str | None = None) -> bool:
    """End one credential of an account, if it is of `kind`. Returns whether there was one to end."""
    wanted = sa.true() if kind is None else CREDENTIAL.c.kind == kind
    with writing(engine) as connection:
        done = connection.execute(
            sa.update(CREDENTIAL)
            .where(
                CREDENTIAL.c.account_id == account_id,
                CREDENTIAL.c.credential_id == credential_id,
                CREDENTIAL.c.revoked_at.is_(None),
                wanted,
            )
            .values(revoked_at=now())
        )
    return done.rowcount == 1
