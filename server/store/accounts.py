"""Accounts: making them, checking passwords, squads."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

import sqlalchemy as sa
from werkzeug.security import check_password_hash, generate_password_hash

from server.records.changes import iso
from server.store.account_tables import ACCOUNT, CREDENTIAL, SQUAD_MEMBER
from server.store.engine import reading, writing

SHORTEST_PASSWORD = 10
LONGEST_PASSWORD = 200


@dataclass(frozen=True)
class Account:
    """Somebody who signs in. `player_id`: the player that a player's account is of."""

    account_id: str
    name: str
    role: str
    player_id: str | None
    squads: tuple[str, ...] = ()
    disabled: bool = False


class AccountError(ValueError):
    """An account that cannot be made or found, in plain words."""


def now() -> str:
    """This moment, as the store writes it."""
    return iso(datetime.now(UTC))


def any_account(engine: sa.Engine) -> bool:
    """Whether accounts are in use at all."""
    with reading(engine) as connection:
        return connection.execute(sa.select(ACCOUNT.c.account_id).limit(1)).first() is not None


def add_account(
    engine: sa.Engine,
    name: str,
    role: str,
    password: str | None,
    *,
    player_id: str | None = None,
    squads: tuple[str, ...] = (),
) -> Account:
    """Make an account. AccountError when the name is taken or the password too short."""
    account = Account(str(uuid.uuid4()), name.strip(), role, player_id, squads)
    row = {
        "account_id": account.account_id,
        "name": account.name,
        "role": role,
        "password": None if password is None else hashed(password),
        "player_id": player_id,
        "created_at": now(),
    }
    try:
        with writing(engine) as connection:
            connection.execute(sa.insert(ACCOUNT), row)
            for squad in squads:
                connection.execute(sa.insert(SQUAD_MEMBER), {"account_id": account.account_id, "squad": squad})
    except sa.exc.IntegrityError as error:
        raise AccountError(f"name: {name!r} is already taken") from error
    return account


def hashed(password: str) -> str:
    """A password as it is stored: salted scrypt. AccountError when its length is out of range."""
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise AccountError(
            f"password: {len(password)} characters; {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} are needed"
        )
    return generate_password_hash(password, method="scrypt")


@lru_cache(maxsize=1)
def _nobody() -> str:
    """A password hash that nothing matches, so that an unknown name takes as long as a wrong password."""
    return generate_password_hash(uuid.uuid4().hex, method="scrypt")


def checked(engine: sa.Engine, name: str, password: str) -> Account | None:
    """The account of that name and password, or None; both failures take the same time."""
    with reading(engine) as connection:
        row = connection.execute(sa.select(ACCOUNT).where(ACCOUNT.c.name == name.strip())).mappings().first()
        account = None if row is None else _account(connection, row)
    stored = row["password"] if row is not None and row["password"] else _nobody()
    right = check_password_hash(stored, password[:LONGEST_PASSWORD])
    return account if right and account is not None and not account.disabled else None


def account_by_id(connection: sa.Connection, account_id: str) -> Account | None:
    """An account, or None."""
    row = connection.execute(sa.select(ACCOUNT).where(ACCOUNT.c.account_id == account_id)).mappings().first()
    return None if row is None else _account(connection, row)


def account_by_name(connection: sa.Connection, name: str) -> Account | None:
    """An account, or None."""
    row = connection.execute(sa.select(ACCOUNT).where(ACCOUNT.c.name == name.strip())).mappings().first()
    return None if row is None else _account(connection, row)


def accounts(connection: sa.Connection) -> list[Account]:
    """All accounts by name."""
    rows = connection.execute(sa.select(ACCOUNT).order_by(ACCOUNT.c.name)).mappings().all()
    return [_account(connection, row) for row in rows]


def _account(connection: sa.Connection, row: Any) -> Account:
    query = sa.select(SQUAD_MEMBER.c.squad).where(SQUAD_MEMBER.c.account_id == row["account_id"])
    squads = tuple(found[0] for found in connection.execute(query.order_by(SQUAD_MEMBER.c.squad)))
    disabled = row["disabled_at"] is not None
    return Account(row["account_id"], row["name"], row["role"], row["player_id"], squads, disabled)


def set_password(engine: sa.Engine, name: str, password: str) -> None:
    """Give a new password; every session and token of the account ends."""
    _change(engine, name, {"password": hashed(password)})


def disable(engine: sa.Engine, name: str) -> None:
    """End an account: it cannot sign in, and everything it signed in by ends."""
    _change(engine, name, {"disabled_at": now()})


def _change(engine: sa.Engine, name: str, values: dict[str, Any]) -> None:
    with writing(engine) as connection:
        account = account_by_name(connection, name)
        if account is None:
            raise AccountError(f"name: there is no account {name!r}")
        connection.execute(sa.update(ACCOUNT).where(ACCOUNT.c.account_id == account.account_id).values(**values))
        still = sa.and_(CREDENTIAL.c.account_id == account.account_id, CREDENTIAL.c.revoked_at.is_(None))
        connection.execute(sa.update(CREDENTIAL).where(still).values(revoked_at=now()))
