"""Accounts: making them, checking passwords, squads."""

from __future__ import annotations

import unicodedata
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

import sqlalchemy as sa

from server.records.changes import iso
from server.store.account_tables import ACCOUNT, CADDIE, CREDENTIAL, SQUAD_MEMBER
from server.store.engine import reading, writing
from server.store.rows import AccountKept, CredentialKept
from server.store.unavailable import translate_db_errors

SHORTEST_PASSWORD: Final = 10
LONGEST_PASSWORD: Final = 200
LONGEST_NAME: Final = 60

SCRYPT: Final = "scrypt:32768:8:1"
"""Cost, block size and lanes, as Werkzeug takes them by itself: 32 MB and about 0.1 s a try on a small server."""

NOBODY: Final = f"{SCRYPT}$nobody$" + 128 * "0"
"""A hash that no password has: checked for an unknown name, so that it takes as long as a wrong password."""


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


def normalize(name: str) -> str:
    """A name in the one spelling that is kept and looked up: composed characters (NFC), single spaces."""
    return " ".join(unicodedata.normalize("NFC", name).split())


def _sound(name: str, what: str) -> str:
    """`name` tidied. AccountError when it cannot be the name of an account or a squad."""
    found = normalize(name)
    if not 1 <= len(found) <= LONGEST_NAME or not found.isprintable():
        raise AccountError(f"{what}: {name!r} is not a name of 1 to {LONGEST_NAME} printable characters")
    return found


_ONE_ACCOUNT: Final = sa.select(ACCOUNT.c.account_id).limit(1)


def any_account(engine: sa.Engine) -> bool:
    """Whether accounts are in use at all. One statement, for every request asks it: it needs no transaction."""
    with translate_db_errors(), engine.connect() as connection:
        return connection.execute(_ONE_ACCOUNT).first() is not None


def add_account(
    engine: sa.Engine,
    name: str,
    role: str,
    password: str | None,
    *,
    player_id: str | None = None,
    squads: Sequence[str] = (),
) -> Account:
    """Make an account. AccountError when the name is taken or no name, or the password's length is out of range."""
    named = tuple(sorted({_sound(squad, "squad") for squad in squads}))
    account = Account(str(uuid.uuid4()), _sound(name, "name"), role, player_id, named)
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
            _write_squads(connection, account.account_id, named)
    except sa.exc.IntegrityError as error:
        raise AccountError(f"name: {name!r} is already taken") from error
    return account


def _write_squads(connection: sa.Connection, account_id: str, squads: Sequence[str]) -> None:
    rows = [{"account_id": account_id, "squad": squad} for squad in squads]
    if rows:
        connection.execute(sa.insert(SQUAD_MEMBER), rows)


def set_squads(engine: sa.Engine, name: str, squads: Sequence[str]) -> tuple[str, ...]:
    """The squads that an account reads from now on, in place of those it read. AccountError for unknown names."""
    named = tuple(sorted({_sound(squad, "squad") for squad in squads}))
    with writing(engine) as connection:
        account = _existing(connection, name)
        connection.execute(sa.delete(SQUAD_MEMBER).where(SQUAD_MEMBER.c.account_id == account.account_id))
        _write_squads(connection, account.account_id, named)
    return named


def hashed(password: str) -> str:
    """A password as it is stored: salted scrypt. AccountError when its length is out of range."""
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise AccountError(
            f"password: {len(password)} characters; {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} are needed"
        )
    from werkzeug.security import generate_password_hash  # noqa: PLC0415 - most commands know no password

    return generate_password_hash(password, method=SCRYPT)


def checked(engine: sa.Engine, name: str, password: str) -> Account | None:
    """The account of that name and password, or None; both failures take the same time."""
    from werkzeug.security import check_password_hash  # noqa: PLC0415

    with reading(engine) as connection:
        row = connection.execute(sa.select(ACCOUNT).where(ACCOUNT.c.name == normalize(name))).mappings().first()
        account = None if row is None else _account(connection, row)
    stored = row["password"] if row is not None and row["password"] else NOBODY
    right = check_password_hash(stored, password[:LONGEST_PASSWORD])
    return account if right and account is not None and not account.disabled else None


def account_by_id(connection: sa.Connection, account_id: str) -> Account | None:
    """An account, or None."""
    row = connection.execute(sa.select(ACCOUNT).where(ACCOUNT.c.account_id == account_id)).mappings().first()
    return None if row is None else _account(connection, row)


def account_by_name(connection: sa.Connection, name: str) -> Account | None:
    """An account, or None."""
    row = connection.execute(sa.select(ACCOUNT).where(ACCOUNT.c.name == normalize(name))).mappings().first()
    return None if row is None else _account(connection, row)


def accounts(connection: sa.Connection) -> list[Account]:
    """All accounts by name."""
    rows = connection.execute(sa.select(ACCOUNT).order_by(ACCOUNT.c.name)).mappings().all()
    return [_account(connection, row) for row in rows]


def accounts_of_player(connection: sa.Connection, player_id: str) -> list[AccountKept]:
    """What is kept of a player's accounts, but for every secret."""
    query = sa.select(ACCOUNT).where(ACCOUNT.c.player_id == player_id).order_by(ACCOUNT.c.created_at)
    names = ("kind", "label", "scopes", "created_at", "expires_at", "last_used_at", "revoked_at")
    found: list[AccountKept] = []
    for row in connection.execute(query).mappings().all():
        given = sa.select(*(CREDENTIAL.c[name] for name in names)).where(CREDENTIAL.c.account_id == row["account_id"])
        credentials = connection.execute(given.order_by(CREDENTIAL.c.created_at)).mappings()
        found.append(
            {
                "name": row["name"],
                "role": row["role"],
                "created_at": row["created_at"],
                "disabled_at": row["disabled_at"],
                "credentials": [_kept(one) for one in credentials],
            }
        )
    return found


def _kept(row: sa.RowMapping) -> CredentialKept:
    return {
        "kind": row["kind"],
        "label": row["label"],
        "scopes": row["scopes"],
        "created_at": row["created_at"],
        "expires_at": row["expires_at"],
        "last_used_at": row["last_used_at"],
        "revoked_at": row["revoked_at"],
    }


def _account(connection: sa.Connection, row: Any) -> Account:
    query = sa.select(SQUAD_MEMBER.c.squad).where(SQUAD_MEMBER.c.account_id == row["account_id"])
    squads = tuple(found[0] for found in connection.execute(query.order_by(SQUAD_MEMBER.c.squad)))
    disabled = row["disabled_at"] is not None
    return Account(row["account_id"], row["name"], row["role"], row["player_id"], squads, disabled)


def set_password(engine: sa.Engine, name: str, password: str) -> None:
    """Give a new password; every session, token, code and caddie of the account ends."""
    _change(engine, name, {"password": hashed(password)})


def disable(engine: sa.Engine, name: str) -> None:
    """End an account: it cannot sign in, and everything it signed in by ends."""
    _change(engine, name, {"disabled_at": now()})


def _existing(connection: sa.Connection, name: str) -> Account:
    found = account_by_name(connection, name)
    if found is None:
        raise AccountError(f"name: there is no account {name!r}")
    return found


def _change(engine: sa.Engine, name: str, values: Mapping[str, object]) -> None:
    with writing(engine) as connection:
        account = _existing(connection, name)
        connection.execute(sa.update(ACCOUNT).where(ACCOUNT.c.account_id == account.account_id).values(**values))
        still = sa.and_(CREDENTIAL.c.account_id == account.account_id, CREDENTIAL.c.revoked_at.is_(None))
        connection.execute(sa.update(CREDENTIAL).where(still).values(revoked_at=now()))
        caddies = sa.and_(CADDIE.c.player_id == account.player_id, CADDIE.c.ended_at.is_(None))
        connection.execute(sa.update(CADDIE).where(caddies).values(ended_at=now()))
