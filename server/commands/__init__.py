"""The command line: results on stdout, progress and notes on stderr, exit code 2 and one clear line on bad input."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Final

import click
from sqlalchemy import Connection, Engine
from sqlalchemy.exc import SQLAlchemyError

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.game.practice import COURSE
from server.operation.settings import PREFIX, environment, number, text
from server.questions.competition_lock import LockedError
from server.questions.question import Asked, DaysError, Question, Snapshot, Span
from server.records.known_names import known_names
from server.store.accounts import normalize
from server.store.engine import (
    REFUSE,
    UPGRADE,
    MigrationError,
    NoDatabaseError,
    OldTablesError,
    open_database,
    reading,
)
from server.store.players import Player, players, players_by_name
from server.store.quotas import QuotaError, quotas_from, set_quotas
from server.store.squads import squad_players
from server.store.unavailable import UnavailableError

MAKERS: Final = "serve, demo, import and restore"
"""The commands that make a database where there is none."""


class InputError(click.ClickException):
    """Bad input: one clear line on stderr, exit code 2."""

    exit_code = 2

    def show(self, file: object = None) -> None:
        """Print the message alone."""
        click.echo(f"error: {self.format_message()}", err=True)


def refused(error: Exception) -> InputError:
    """The refusal in the error's own words; a LookupError shows its message in quotes."""
    return InputError(str(error.args[0] if error.args else error))


@contextmanager
def database(*, create: bool = False, older: str | None = None, setting: str = "DATABASE") -> Iterator[Engine]:
    """The database that the setting names, PENCILBAG_DATABASE where it names none, or the usual one; a new one only
    where `create` says so. Tables of an earlier step are upgraded by what creates, and refused by the rest unless
    `older` says otherwise. Raises InputError when there is none, when it cannot be opened, when another program holds
    it, and for a command that asks the competition lock and is refused."""
    try:
        quotas = quotas_from({f"{PREFIX}{name}": value for name, value in environment().items()})
    except ValueError as error:
        raise InputError(str(error)) from error
    setting = setting if text(setting) else "DATABASE"
    with opening(f"{PREFIX}{setting}"):
        wait_s = number("BUSY_WAIT_S")
        engine = open_database(text(setting), wait_s, create=create, older=older or (UPGRADE if create else REFUSE))
        set_quotas(engine, quotas)
    try:
        yield engine
    except QuotaError as error:
        raise InputError(f"{error}; nothing was stored") from error
    except LockedError as error:
        raise InputError(str(error)) from error
    except UnavailableError as error:
        raise InputError(f"{PREFIX}{setting}: {_first_line(error)}") from error
    finally:
        engine.dispose()


@contextmanager
def opening(setting: str = f"{PREFIX}DATABASE") -> Iterator[None]:
    """Turns what goes wrong while a database is opened into InputError, which names the setting."""
    try:
        yield
    except NoDatabaseError as error:
        raise InputError(f"{setting}: there is no database at {error}; {MAKERS} make one") from error
    except OldTablesError as error:
        raise InputError(f"{setting}: {error}; make a backup, stop the server, and run migrate") from error
    except ValueError as error:
        # A setting; its message names it.
        raise InputError(str(error)) from error
    except (SQLAlchemyError, MigrationError, OSError, ImportError, UnavailableError) as error:
        raise InputError(f"{setting}: the database cannot be opened: {_first_line(error)}") from error


def _first_line(error: BaseException) -> str:
    """What happened in one line, with the driver's own words where there are some."""
    cause = error.__cause__ if isinstance(error, UnavailableError) else None
    return " ".join(str(part).splitlines()[0] for part in (f"{error}:" if cause else error, cause) if part)


def named_player(connection: Connection, name: str | None) -> Player:
    """The player of that name; without a name the only one there is. InputError for none or several."""
    found = players(connection) if name is None else players_by_name(connection, name)
    if len(found) == 1:
        return found[0]
    known = known_names((player.name for player in players(connection)), name)
    known = known or "none yet; import a season or run demo"
    if name is None:
        raise InputError(f"--player: name one player: {known}")
    if found:
        raise InputError(f"--player: {len(found)} players are called {name!r}; rename one first")
    raise InputError(f"--player: {name!r} is not known; there is {known}")


def squad_named(connection: Connection, squad: str | None) -> list[Player]:
    """The players who share with a squad, by name; all of them without one. InputError for a squad that nobody shares
    with."""
    found = players(connection)
    if squad is None:
        return found
    shared = set(squad_players(connection, normalize(squad)))
    if not shared:
        raise InputError(f"--squad: nobody shares with a squad {squad!r}")
    return [player for player in found if player.player_id in shared]


def question_of(
    from_day: datetime | None = None,
    to_day: datetime | None = None,
    kinds: tuple[str, ...] = (),
    baseline: str | None = None,
    level: float = DEFAULT_LEVEL,
    *,
    tees: bool = False,
    course: str | None = None,
    source: str = COURSE,
) -> Question:
    """The question that options put. InputError for days the wrong way round."""
    first, last = (None if day is None else day.date() for day in (from_day, to_day))
    try:
        return Question((Span(first, last, kinds, course),), baseline, level, tees=tees, source=source)
    except DaysError as error:
        raise InputError(f"--from: {error.first} is after --to {error.last}") from error


@contextmanager
def asked(player: str | None, question: Question) -> Iterator[Asked]:
    """The question, put about the player of that name (`named_player`) in one read transaction. InputError for what
    cannot be asked, and while a competition round of the player is open."""
    with database() as engine, reading(engine) as connection:
        yield Asked(connection, named_player(connection, player), question)


def snapshot_of(put: Asked) -> Snapshot:
    """Everything that an answer reads. InputError for a baseline that is not there or cannot be used."""
    try:
        return put.snapshot()
    except (LookupError, ValueError) as error:
        raise refused(error) from error
