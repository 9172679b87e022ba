"""Options that several commands have, and the one way in which a command line that cannot be understood is refused."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

import click

from server.analysis.evidence.intervals import DEFAULT_LEVEL, LEVELS
from server.analysis.evidence.trials import MINIMUM_EFFECTS
from server.commands import InputError
from server.game.order_of_play import KINDS
from server.game.practice import COURSE, SOURCES

_PLAIN_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


class Day(click.ParamType[datetime]):
    """A day of the calendar."""

    name = "DAY"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> datetime:
        """The day at midnight."""
        if isinstance(value, datetime):
            return value
        if not _PLAIN_DAY.fullmatch(value):
            self.fail(f"{value!r} is not a day, YYYY-MM-DD", param, ctx)
        try:
            return datetime.fromisoformat(value)
        except ValueError:
            self.fail(f"{value!r} is not a day of the calendar, YYYY-MM-DD", param, ctx)


class Within(click.ParamType[float]):
    """A number between two bounds, both included."""

    name = "NUMBER"

    def __init__(self, low: float, high: float, unit: str = "") -> None:
        self.low, self.high = low, high
        self.range = f"{low:g} to {high:g} {unit}".strip()

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number."""
        try:
            number = float(value)
        except ValueError:
            number = math.nan
        if math.isnan(number):
            self.fail(f"{value!r} is not a number, {self.range}", param, ctx)
        if not self.low <= number <= self.high:
            self.fail(f"{value} is outside {self.range}", param, ctx)
        return number

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:
        """What help shows for the value: its range."""
        return f"[{self.range}]"


class WholeNumber(click.ParamType[int]):
    """An integer between two bounds, both included."""

    name = "WHOLE NUMBER"

    def __init__(self, low: int, high: int) -> None:
        self.low, self.high = low, high

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """The number."""
        allowed = f"{self.low} to {self.high}"
        try:
            number = int(value)
        except ValueError:
            self.fail(f"{value!r} is not a whole number, {allowed}", param, ctx)
        if not self.low <= number <= self.high:
            self.fail(f"{value} is outside {allowed}", param, ctx)
        return number

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:
        """What help shows for the value: its range."""
        return f"[{self.low} to {self.high}]"


class OneOf(click.Choice[str]):
    """One of some words, which are named when another comes."""

    def get_invalid_choice_message(self, value: Any, ctx: click.Context | None) -> str:
        """What is stated of another word."""
        return f"{value!r} is not one of {', '.join(self.choices)}"


class FilePlace(click.Path):
    """A file or a folder by its path."""

    def __init__(self, *, exists: bool = False, folder: bool = False, either: bool = False) -> None:
        super().__init__(exists=exists, file_okay=not folder, dir_okay=folder or either, path_type=Path)

    def fail(self, message: str, param: click.Parameter | None = None, ctx: click.Context | None = None) -> Any:
        """What is stated, begun with the path."""
        super().fail(message.removeprefix("File ").removeprefix("Directory ").removeprefix("Path "), param, ctx)


DATASET: Final = click.option(
    "--dataset", type=FilePlace(exists=True, folder=True), help="Read this dataset of export --workers, no database."
)

SOURCE_HELP: Final = "Balls of rounds, of practice sessions of these days, or of both."
DAY: Final = Day()
LEVEL: Final = Within(*LEVELS)
EFFECT_TYPE: Final = Within(*MINIMUM_EFFECTS, "strokes")

Command = Callable[..., None]


def choosing(command: Command) -> Command:
    """The options that choose shots of a player, and `--json`."""
    options = (
        click.option("--player", help="Whose shots; may be left out while there is one player."),
        click.option("--from", "from_day", type=DAY, help="First day, YYYY-MM-DD."),
        click.option("--to", "to_day", type=DAY, help="Last day, YYYY-MM-DD."),
        click.option("--kind", "kinds", type=OneOf(KINDS), multiple=True, help="Kind of round; may be repeated."),
        click.option("--course", help="Rounds on this course alone."),
        click.option("--level", type=LEVEL, default=DEFAULT_LEVEL, show_default=True, help="Chance of the intervals."),
        click.option("--baseline", help="Id of a baseline, or a CSV of your own. Default: the player's."),
        click.option("--json", "as_json", is_flag=True, help="For programs: unrounded numbers."),
    )
    for option in reversed(options):
        command = option(command)
    return command


def sourced(command: Command) -> Command:
    """The option that says whether practice counts."""
    return click.option("--source", type=OneOf(SOURCES), default=COURSE, show_default=True, help=SOURCE_HELP)(command)


def as_day(moment: datetime | None) -> date | None:
    """The day of an option of the type `DAY`."""
    return None if moment is None else moment.date()


class PlainGroup(click.Group):
    """The root of all commands: what cannot be understood is one line that begins with the option's name."""

    def make_context(self, *arguments: Any, **more: Any) -> click.Context:
        """The context of the root, whose options are read here."""
        try:
            return super().make_context(*arguments, **more)
        except click.UsageError as error:
            raise _plain(error) from error

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command, whose options are read here."""
        try:
            return super().invoke(ctx)
        except click.UsageError as error:
            raise _plain(error) from error


class SectionedGroup(PlainGroup):
    """A root that lists its commands in sections: titles with the names below them."""

    def __init__(self, *arguments: Any, sections: Mapping[str, Iterable[str]], **more: Any) -> None:
        super().__init__(*arguments, **more)
        self.sections = sections

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write each section's commands, one line each."""
        longest = max(len(name) for name in self.commands)
        room = formatter.width - longest - 6  # as click leaves it
        for title, names in self.sections.items():
            with formatter.section(title):
                lines = [(name.ljust(longest), self.commands[name].get_short_help_str(room)) for name in names]
                formatter.write_dl(lines)


def _plain(error: click.UsageError) -> click.ClickException:
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        return error
    words = error.message.removesuffix(".")
    if isinstance(error, click.exceptions.BadOptionUsage):
        return InputError(f"{error.option_name}: {words.partition(repr(error.option_name))[2].strip() or words}")
    if isinstance(error, click.BadParameter) and error.param is not None:
        words = words if error.message and not isinstance(error, click.MissingParameter) else "is missing"
        return InputError(f"{_name(error.param)}: {words}")
    return InputError(f"{words[:1].lower()}{words[1:]}; see {error.ctx.command_path if error.ctx else ''} --help")


def _name(param: click.Parameter) -> str:
    if isinstance(param, click.Option):
        return max(param.opts, key=len)
    return str(param.name)
