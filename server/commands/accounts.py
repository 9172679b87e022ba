"""Commands on accounts and tokens."""

from __future__ import annotations

import os
import sys
import uuid
from datetime import timedelta

import click
import segno
from sqlalchemy import Engine

from server.commands import BadInput, database, named_player
from server.commands.tables import aligned
from server.store.account_tables import ROLES
from server.store.accounts import Account, AccountError, account_by_name, accounts, add_account, disable, set_password
from server.store.credentials import JOIN, LASTS, LONGEST_TOKEN, SCOPES, TOKEN, give, held, revoke
from server.store.engine import reading


def _key() -> str:
    return os.environ.get("PENCILBAG_SECRET", "")


def _password(from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\n")
    word: str = click.prompt("Password", hide_input=True, confirmation_prompt=True, err=True)
    return word


def _named(engine: Engine, name: str) -> Account:
    with reading(engine) as connection:
        found = account_by_name(connection, name)
    if found is None:
        raise BadInput(f"name: there is no account {name!r}; account list names them")
    return found


@click.group()
def account() -> None:
    """Accounts: who signs in, as what. With the first account the server asks everybody to sign in."""


@account.command()
@click.argument("name")
@click.option("--role", type=click.Choice(ROLES), required=True)
@click.option(
    "--player", help="For the role player: whose rounds. Left out, a new player of the account's name begins."
)
@click.option("--squad", "squads", multiple=True, help="A squad that a coach or analyst reads; may be repeated.")
@click.option("--password-stdin", is_flag=True, help="Read the password from standard input.")
def add(name: str, role: str, player: str | None, squads: tuple[str, ...], password_stdin: bool) -> None:
    """Make an account."""
    with database() as engine:
        player_id = None
        if role == "player":
            player_id = _player_for(engine, player)
        elif player is not None:
            raise BadInput(f"--player: goes with the role player, not with {role}")
        try:
            made = add_account(engine, name, role, _password(password_stdin), player_id=player_id, squads=squads)
        except AccountError as error:
            raise BadInput(str(error)) from error
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
    click.echo(
        aligned(["name", "role", "squads", "state"], rows) if rows else "there are no accounts: the house is open"
    )


@account.command("password")
@click.argument("name")
@click.option("--password-stdin", is_flag=True, help="Read the password from standard input.")
def password_(name: str, password_stdin: bool) -> None:
    """Give an account a new password; it is signed out everywhere."""
    with database() as engine:
        try:
            set_password(engine, name, _password(password_stdin))
        except AccountError as error:
            raise BadInput(str(error)) from error
    click.echo(f"{name!r} has a new password and is signed out everywhere")


@account.command("end")
@click.argument("name")
def end_(name: str) -> None:
    """End an account at once. Its player's rounds stay."""
    with database() as engine:
        try:
            disable(engine, name)
        except AccountError as error:
            raise BadInput(str(error)) from error
    click.echo(f"account {name!r} is ended")


@account.command()
@click.argument("name")
@click.option(
    "--address", default="http://127.0.0.1:8000/", show_default=True, help="Where the phone reaches the server."
)
def join(name: str, address: str) -> None:
    """Print a one-time link, and its QR code, that signs one phone in within a quarter of an hour."""
    with database() as engine:
        _, code = give(engine, _key(), _named(engine, name).account_id, JOIN, label="joined by code")
    link = f"{address.rstrip('/')}/#/join/{code}"
    click.echo(link)
    segno.make(link, error="l").terminal(out=sys.stderr, compact=True)


@click.group()
def token() -> None:
    """Tokens for scripts: shown once, kept as a hash."""


@token.command("add")
@click.argument("name")
@click.option("--label", default="script", show_default=True)
@click.option("--scope", "scopes", type=click.Choice(SCOPES), multiple=True, required=True, help="May be repeated.")
@click.option("--days", type=click.IntRange(1, LONGEST_TOKEN.days), default=LASTS[TOKEN].days, show_default=True)
def add_token(name: str, label: str, scopes: tuple[str, ...], days: int) -> None:
    """Make a token for the account NAME; its secret is printed this once."""
    with database() as engine:
        account_id = _named(engine, name).account_id
        lasts = timedelta(days=days)
        token_id, secret = give(engine, _key(), account_id, TOKEN, label=label, scopes=scopes, lasts=lasts)
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
        if not revoke(engine, _named(engine, name).account_id, token_id):
            raise BadInput(f"token_id: {name!r} has no token {token_id}")
    click.echo("the token is ended")
