"""Commands on accounts and tokens."""

from __future__ import annotations

import sys
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta

import click
import segno
from sqlalchemy import Engine

from server.commands import InputError, database, named_player
from server.commands.options import OneOf, WholeNumber
from server.commands.tables import aligned
from server.operation.settings import text
from server.store.account_tables import ROLES
from server.store.accounts import (
    Account,
    AccountError,
    account_by_name,
    accounts,
    add_account,
    disable,
    set_password,
    set_squads,
)
from server.store.credentials import JOIN, LASTS, LONGEST_TOKEN, SCOPES, SCOPES_OF, TOKEN, give, held, revoke
from server.store.engine import reading
from server.store.sharing import READERS

LONGEST_LABEL = 80


def _key() -> str:
    """The server's secret: what is given out here is good only where the server runs with the same."""
    found = text("SECRET")
    if not found:
        click.echo("PENCILBAG_SECRET is not set: this is good only for a server that runs without it", err=True)
    return found


def _password(from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    word: str = click.prompt("Password", hide_input=True, confirmation_prompt=True, err=True)
    return word


def _named(engine: Engine, name: str) -> Account:
    with reading(engine) as connection:
        found = account_by_name(connection, name)
    if found is None:
        raise InputError(f"name: there is no account {name!r}; account list names them")
    return found


def _running(engine: Engine, name: str) -> Account:
    found = _named(engine, name)
    if found.disabled:
        raise InputError(f"name: the account {name!r} is ended")
    return found


@contextmanager
def _plainly() -> Iterator[None]:
    """Turns what the store refuses into one line."""
    try:
        yield
    except AccountError as error:
        raise InputError(str(error)) from error


@click.group()
def account() -> None:
    """Accounts: who signs in, as what.

    With the first account the server asks everybody to sign in.
    """


@account.command()
@click.argument("name")
@click.option("--role", type=OneOf(ROLES), required=True, help="What the account may do.")
@click.option(
    "--player", help="For the role player: whose rounds. Left out, a new player of the account's name begins."
)
@click.option("--squad", "squads", multiple=True, help="A squad that a coach or analyst can see; may be repeated.")
@click.option("--password-stdin", is_flag=True, help="Read the password from standard input.")
def add(name: str, role: str, player: str | None, squads: tuple[str, ...], password_stdin: bool) -> None:
    """Create an account. After the first one everybody must sign in."""
    if player is not None and role != "player":
        raise InputError(f"--player: goes with the role player, not with {role}")
    if squads and role not in READERS:
        raise InputError(f"--squad: goes with the roles {' and '.join(READERS)}; a player shares with a squad instead")
    with database() as engine, _plainly():
        player_id = _player_for(engine, player) if role == "player" else None
        made = add_account(engine, name, role, _password(password_stdin), player_id=player_id, squads=squads)
    click.echo(f"account {made.name!r} made, role {made.role}")


def _player_for(engine: Engine, player: str | None) -> str:
    if player is None:
        return str(uuid.uuid4())
    with reading(engine) as connection:
        return named_player(connection, player).player_id


@account.command("list")
def list_() -> None:
    """Name every account."""
    with database() as engine, reading(engine) as connection:
        found = accounts(connection)
    rows = [[one.name, one.role, ", ".join(one.squads), "ended" if one.disabled else ""] for one in found]
    click.echo(aligned(["name", "role", "squads", "state"], rows) if rows else "no accounts: no sign-in")


@account.command("squads")
@click.argument("name")
@click.argument("squads", nargs=-1)
def squads_(name: str, squads: tuple[str, ...]) -> None:
    """Set the SQUADS that a coach or an analyst can see, replacing earlier ones; none: no squad."""
    with database() as engine, _plainly():
        if _named(engine, name).role not in READERS:
            raise InputError(f"name: {name!r} is no {' and no '.join(READERS)}")
        named = set_squads(engine, name, squads)
    click.echo(f"{name!r} sees {', '.join(named) or 'no squad'}")


@account.command("password")
@click.argument("name")
@click.option("--password-stdin", is_flag=True, help="Read the password from standard input.")
def password_(name: str, password_stdin: bool) -> None:
    """Give an account a new password; it is signed out everywhere."""
    with database() as engine, _plainly():
        set_password(engine, name, _password(password_stdin))
    click.echo(f"{name!r} has a new password and is signed out everywhere")


@account.command("end")
@click.argument("name")
def end_(name: str) -> None:
    """End an account at once. Its player's rounds stay."""
    with database() as engine, _plainly():
        disable(engine, name)
    click.echo(f"account {name!r} is ended")


@account.command()
@click.argument("name")
@click.option(
    "--address", default="http://127.0.0.1:8000/", show_default=True, help="Where the phone reaches the server."
)
def join(name: str, address: str) -> None:
    """Print a one-time link, and its QR code, that signs one phone in, within 15 minutes."""
    with database() as engine:
        _, code = give(engine, _key(), _running(engine, name).account_id, JOIN, label="joined by code")
    link = f"{address.rstrip('/')}/#/join/{code}"
    click.echo(link)
    segno.make(link, error="l").terminal(out=sys.stderr, compact=True)


@click.group()
def token() -> None:
    """Tokens for scripts: shown once, kept as a hash."""


@token.command("add")
@click.argument("name")
@click.option("--label", default="script", show_default=True, help="What the token is for, 1 to 80 characters.")
@click.option("--scope", "scopes", type=OneOf(SCOPES), multiple=True, required=True, help="May be repeated.")
@click.option(
    "--days",
    type=WholeNumber(1, LONGEST_TOKEN.days),
    default=LASTS[TOKEN].days,
    show_default=True,
    help="How long it works.",
)
def add_token(name: str, label: str, scopes: tuple[str, ...], days: int) -> None:
    """Create a token for the account NAME; its secret is printed only once."""
    if not 1 <= len(label) <= LONGEST_LABEL:
        raise InputError(f"--label: {len(label)} characters; 1 to {LONGEST_LABEL} are needed")
    with database() as engine:
        found = _running(engine, name)
        useful = SCOPES_OF[found.role]
        if idle := [scope for scope in scopes if scope not in useful]:
            allowed = ", ".join(useful) or "nothing"
            raise InputError(f"--scope: {', '.join(idle)}: a token of role {found.role} is good for {allowed}")
        scopes = tuple(dict.fromkeys(scopes))
        lasts = timedelta(days=days)
        token_id, secret = give(engine, _key(), found.account_id, TOKEN, label=label, scopes=scopes, lasts=lasts)
    click.echo(f"token {token_id}: good for {days} days, {', '.join(scopes)}", err=True)
    click.echo(secret)


@token.command("list")
@click.argument("name")
def list_tokens(name: str) -> None:
    """List the tokens of the account NAME."""
    with database() as engine:
        account_id = _named(engine, name).account_id
        with reading(engine) as connection:
            found = held(connection, account_id, TOKEN)
    rows = [[one["credential_id"], one["label"], ", ".join(one["scopes"]), one["expires_at"][:10]] for one in found]
    click.echo(aligned(["token", "label", "scopes", "until"], rows) if rows else f"{name!r} has no tokens")


@token.command("end")
@click.argument("name")
@click.argument("token_id")
def end_token(name: str, token_id: str) -> None:
    """End a token of the account NAME."""
    with database() as engine:
        if not revoke(engine, _named(engine, name).account_id, token_id, TOKEN):
            raise InputError(f"token_id: {name!r} has no token {token_id}")
    click.echo("the token is ended")
