"""What the commands that read tables share: how a file is read, and how one that cannot be taken is reported."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final

import click

from server.commands import InputError
from server.commands.options import Command, OneOf
from server.files.decimal_marks import DECIMALS
from server.files.sheet_texts import SEPARATORS
from server.files.spreadsheets import Reading
from server.files.table_days import FORMATS
from server.files.table_faults import TableError

MOST_FAULTS_SHOWN: Final = 50


def reading_options(command: Callable[..., None]) -> Command:
    """The options that settle how a file is read, given to the command as `reading`."""

    @functools.wraps(command)
    def with_reading(
        separator: str | None, decimal: str | None, date_format: str | None, sheet: str | None, **more: Any
    ) -> None:
        command(**more, reading=Reading(separator, decimal, date_format, sheet))

    options = (
        click.option("--separator", type=OneOf(SEPARATORS), help="Between the cells of a CSV; default: by its header."),
        click.option("--decimal", type=OneOf(DECIMALS), help="Decimal mark; default: by the number cells."),
        click.option(
            "--date-format",
            type=OneOf(FORMATS, case_sensitive=False),
            help="How days are written besides YYYY-MM-DD.",
        ),
        click.option("--sheet", help="The sheet of a workbook with several."),
    )
    found: Command = with_reading
    for option in reversed(options):
        found = option(found)
    return found


@contextmanager
def table_errors(name: str) -> Iterator[None]:
    """Turns a table that cannot be taken into InputError; its faults go to stderr before, equal ones counted."""
    try:
        yield
    except TableError as error:
        groups = error.counts.groups()
        for one in groups[:MOST_FAULTS_SHOWN]:
            option = one.first.option
            click.echo(f"{one}{f' (--{option})' if option else ''}", err=True)
        more = sum(one.count for one in groups[MOST_FAULTS_SHOWN:]) + error.counts.beyond
        if more:
            click.echo(f"... and {more} more", err=True)
        settles = f" (--{error.option} settles it)" if error.option else ""
        raise InputError(f"{name}: {error}{settles}; nothing was stored") from error
