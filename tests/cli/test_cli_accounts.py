"""Accounts and tokens on the command line, and the server that opens beyond this machine only with both."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result

from server.__main__ import main
from server.store.accounts import account_by_name, checked
from server.store.credentials import JOIN, SESSION, TOKEN, look_up, use_once
from server.store.engine import open_database, reading
from server.store.log import push
from server.store.players import players
from tests.records.made import Season

SECRET = "a secret for tests, and for nothing else"
PASSWORD = "correct horse battery"
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """`run("account", "list", typed="...")` against an empty database of its own, with a secret set."""
    address = f"sqlite:///{tmp_path / 'cli.sqlite'}"
    open_database(address).dispose()
    monkeypatch.setenv("PENCILBAG_DATABASE", address)
    monkeypatch.setenv("PENCILBAG_SECRET", SECRET)

    def call(*arguments: str, typed: str | None = None) -> Result:
        result = CliRunner().invoke(main, list(arguments), input=typed)
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return call


@pytest.fixture
def engine(run: Run, tmp_path: Path) -> Iterator[sa.Engine]:
    opened = open_database(f"sqlite:///{tmp_path / 'cli.sqlite'}")
    yield opened
    opened.dispose()


def add(run: Run, name: str, role: str, *more: str, password: str = PASSWORD) -> Result:
    return run("account", "add", name, "--role", role, "--password-stdin", *more, typed=f"{password}\n")


def bad(result: Result) -> str:
    """The one line of a refusal."""
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("error: ")
    assert len(result.stderr.splitlines()) == 1
    return result.stderr.removeprefix("error: ").strip()


def test_accounts_are_made_listed_and_ended(run: Run, engine: sa.Engine) -> None:
    assert run("account", "list").stdout == "no accounts: no sign-in\n"
    made = add(run, "Ash", "coach", "--squad", "second", "--squad", "first")
    assert (made.exit_code, made.stdout) == (0, "account 'Ash' made, role coach\n")
    assert add(run, "Robin", "player").exit_code == 0
    assert add(run, "Olive", "owner").exit_code == 0
    assert run("account", "end", "Ash").stdout == "account 'Ash' is ended\n"
    listed = run("account", "list").stdout.splitlines()
    assert [line.split() for line in listed[2:]] == [
        ["Ash", "coach", "first,", "second", "ended"],
        ["Olive", "owner"],
        ["Robin", "player"],
    ]
    assert checked(engine, "Ash", PASSWORD) is None
    assert checked(engine, "Robin", PASSWORD) is not None


def test_an_account_of_a_player_who_has_rounds(run: Run, engine: sa.Engine) -> None:
    season = Season("Wren Quillfeather")
    push(engine, season.player_id, "phone", season.changes)
    assert add(run, "Wren", "player", "--player", "Wren Quillfeather").exit_code == 0
    assert add(run, "New", "player").exit_code == 0
    with reading(engine) as connection:
        wren, new = account_by_name(connection, "Wren"), account_by_name(connection, "New")
        assert [player.player_id for player in players(connection)] == [season.player_id]
    assert wren is not None
    assert new is not None
    assert wren.player_id == season.player_id
    assert new.player_id not in (None, season.player_id)
    assert "'Nobody' is not known" in bad(add(run, "Other", "player", "--player", "Nobody"))


@pytest.mark.parametrize(
    ("arguments", "password", "words"),
    [
        (("Ash", "coach"), PASSWORD, "name: 'Ash' is already taken"),
        (("Hazel", "coach"), "short", "password: 5 characters; 10 to 200 are needed"),
        (("Hazel", "coach"), "x" * 201, "password: 201 characters; 10 to 200 are needed"),
        (("  ", "coach"), PASSWORD, "name: '  ' is not a name of 1 to 60 printable characters"),
        (("Hazel", "coach", "--player", "Ash"), PASSWORD, "--player: goes with the role player, not with coach"),
        (("Hazel", "coach", "--squad", ""), PASSWORD, "squad: '' is not a name of 1 to 60 printable characters"),
        (("Hazel", "owner", "--squad", "x"), PASSWORD, "--squad: goes with the roles coach and analyst; a player"),
    ],
)
def test_an_account_that_cannot_be(run: Run, arguments: tuple[str, ...], password: str, words: str) -> None:
    add(run, "Ash", "coach")
    before = run("account", "list").stdout
    assert bad(add(run, *arguments, password=password)).startswith(words)
    assert run("account", "list").stdout == before


def test_a_password_is_typed_twice_and_never_shown(run: Run, engine: sa.Engine) -> None:
    result = run("account", "add", "Ash", "--role", "coach", typed=f"{PASSWORD}\n{PASSWORD}\n")
    assert result.exit_code == 0
    assert PASSWORD not in result.output
    again = run("account", "password", "Ash", typed="another password\nanother password\n")
    assert again.stdout == "'Ash' has a new password and is signed out everywhere\n"
    assert checked(engine, "Ash", PASSWORD) is None
    assert checked(engine, "Ash", "another password") is not None
    assert "there is no account 'Nobody'" in bad(
        run("account", "password", "Nobody", "--password-stdin", typed="another password\n")
    )


def test_squads_are_set_anew(run: Run, engine: sa.Engine) -> None:
    add(run, "Ash", "coach", "--squad", "first")
    add(run, "Robin", "player")
    assert run("account", "squads", "Ash", "third", "second").stdout == "'Ash' sees second, third\n"
    assert run("account", "squads", "Ash").stdout == "'Ash' sees no squad\n"
    assert "'Robin' is no coach and no analyst" in bad(run("account", "squads", "Robin", "first"))
    assert "there is no account 'Nobody'" in bad(run("account", "squads", "Nobody", "first"))
    with reading(engine) as connection:
        ash = account_by_name(connection, "Ash")
    assert ash is not None
    assert ash.squads == ()


def test_a_phone_joins_by_the_printed_link_once(run: Run, engine: sa.Engine) -> None:
    add(run, "Ash", "coach")
    result = run("account", "join", "Ash", "--address", "https://pencilbag.example/")
    found = re.fullmatch(r"https://pencilbag\.example/#/join/([\w-]{43})\n", result.stdout)
    assert found
    assert len(result.stderr.splitlines()) > 10  # the QR code
    assert look_up(engine, SECRET, SESSION, found[1]) is None
    assert look_up(engine, SECRET, JOIN, found[1]) is not None
    joined = use_once(engine, SECRET, found[1])
    assert joined is not None
    assert joined.name == "Ash"
    assert use_once(engine, SECRET, found[1]) is None
    run("account", "end", "Ash")
    assert bad(run("account", "join", "Ash")) == "name: the account 'Ash' is ended"


def test_tokens_are_made_listed_and_ended(run: Run, engine: sa.Engine) -> None:
    add(run, "Ash", "coach")
    made = run("token", "add", "Ash", "--scope", "read_squad", "--label", "weekly", "--days", "30")
    secret = made.stdout.strip()
    assert re.fullmatch(r"[\w-]{43}", secret)
    found = look_up(engine, SECRET, TOKEN, secret)
    assert found is not None
    assert (found.account.name, found.scopes) == ("Ash", {"read_squad"})
    assert made.stderr == f"token {found.credential_id}: good for 30 days, read_squad\n"
    listed = run("token", "list", "Ash").stdout
    assert secret not in listed
    until = re.search(rf"{found.credential_id}  weekly  read_squad  (\d{{4}}-\d\d-\d\d)", listed)
    assert until
    assert 29 <= (datetime.fromisoformat(until[1]).replace(tzinfo=UTC) - datetime.now(UTC)).days <= 30
    assert run("token", "end", "Ash", found.credential_id).stdout == "the token is ended\n"
    assert look_up(engine, SECRET, TOKEN, secret) is None
    assert run("token", "list", "Ash").stdout == "'Ash' has no tokens\n"
    assert f"'Ash' has no token {found.credential_id}" in bad(run("token", "end", "Ash", found.credential_id))


@pytest.mark.parametrize(
    ("name", "arguments", "words"),
    [
        ("Ash", ("--scope", "read_own"), "--scope: read_own: a token of role coach is good for read_squad"),
        ("Olive", ("--scope", "read_squad"), "--scope: read_squad: a token of role owner is good for read_metrics"),
        ("Nobody", ("--scope", "read_own"), "name: there is no account 'Nobody'; account list names them"),
        ("Ash", ("--scope", "read_squad", "--label", ""), "--label: 0 characters; 1 to 80 are needed"),
        ("Ended", ("--scope", "read_squad"), "name: the account 'Ended' is ended"),
    ],
)
def test_a_token_that_cannot_be(run: Run, name: str, arguments: tuple[str, ...], words: str) -> None:
    add(run, "Ash", "coach")
    add(run, "Olive", "owner")
    add(run, "Ended", "coach")
    run("account", "end", "Ended")
    assert bad(run("token", "add", name, *arguments)) == words


@pytest.mark.parametrize("arguments", [(), ("--scope", "all"), ("--scope", "read_squad", "--days", "367")])
def test_scopes_and_days_out_of_range(run: Run, arguments: tuple[str, ...]) -> None:
    add(run, "Ash", "coach")
    assert run("token", "add", "Ash", *arguments).exit_code == 2


def test_without_the_secret_it_explains_what_that_means(
    run: Run, monkeypatch: pytest.MonkeyPatch, engine: sa.Engine
) -> None:
    add(run, "Ash", "coach")
    monkeypatch.delenv("PENCILBAG_SECRET")
    made = run("token", "add", "Ash", "--scope", "read_squad")
    assert made.stderr.startswith("PENCILBAG_SECRET is not set: this is good only for a server that runs without it\n")
    assert look_up(engine, SECRET, TOKEN, made.stdout.strip()) is None
    assert look_up(engine, "", TOKEN, made.stdout.strip()) is not None


HOSTS = ["0.0.0.0", "::", "192.0.2.1", "pencilbag.example"]


@pytest.mark.parametrize("host", HOSTS)
@pytest.mark.parametrize("secret", ["", "x" * 31])
def test_beyond_this_machine_a_secret_is_needed(
    run: Run, monkeypatch: pytest.MonkeyPatch, host: str, secret: str
) -> None:
    add(run, "Ash", "coach")
    monkeypatch.setenv("PENCILBAG_SECRET", secret)
    words = f"--host: {host} is not this machine: PENCILBAG_SECRET has {len(secret)} characters, 32 are needed"
    assert bad(run("serve", "--host", host, "--port", "0")) == words


@pytest.mark.parametrize("host", HOSTS)
def test_beyond_this_machine_accounts_are_needed(run: Run, host: str) -> None:
    words = f"--host: {host} is not this machine, and there are no accounts; make one with account add"
    assert bad(run("serve", "--host", host, "--port", "0")) == words


def test_a_short_secret_is_a_mistake_on_this_machine_too(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PENCILBAG_SECRET", "short")
    assert bad(run("serve", "--port", "0")) == "PENCILBAG_SECRET has 5 characters, 32 are needed"


def test_with_both_it_serves(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is listened on here: what would listen is told apart from what is refused."""
    add(run, "Ash", "coach")
    asked: list[tuple[object, ...]] = []

    def listen(_app: object, *given: object, proxied: bool) -> None:
        asked.append((*given, proxied))
        raise OSError("enough")

    monkeypatch.setattr("server.commands.serving.listen", listen)
    words = bad_after_notes(run("serve", "--host", "0.0.0.0", "--port", "8000"))
    assert words == [
        "PENCILBAG_HOSTS names no host: only 127.0.0.1 and localhost are answered",
        "error: --port: 0.0.0.0:8000 cannot be used: enough",
    ]
    assert asked == [("0.0.0.0", 8000, 4_000_000, False)]
    monkeypatch.setenv("PENCILBAG_HOSTS", "pencilbag.example")
    monkeypatch.setenv("PENCILBAG_PROXIES", "1")
    assert len(bad_after_notes(run("serve", "--host", "0.0.0.0", "--port", "8000"))) == 1
    assert asked[1][-1] is True


def bad_after_notes(result: Result) -> list[str]:
    assert (result.exit_code, result.stdout) == (2, "")
    return result.stderr.splitlines()
