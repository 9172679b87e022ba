"""Every option and argument that is a number, a day, a word of a list or a path refuses bad input in one line that
names it, the value and the range."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from server.__main__ import main
from server.commands.options import Day, FilePlace, OneOf, WholeNumber, Within
from server.commands.plans import Place
from server.commands.rounds_ahead import PinOfHole

FREE = {"Text", "Boolean"}
"""Types that take any words: what they name is looked up, or is a flag."""


def every_parameter(group: click.Group, before: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str, str]]:
    """Command, option (or argument) and type, of all commands."""
    for name, command in group.commands.items():
        words = (*before, name)
        if isinstance(command, click.Group):
            yield from every_parameter(command, words)
            continue
        for param in command.params:
            yield (
                words,
                param.opts[0] if isinstance(param, click.Option) else str(param.name),
                type(param.type).__name__,
            )


PARAMETERS = list(every_parameter(main))
OURS = {kind.__name__ for kind in (Day, Within, WholeNumber, OneOf, FilePlace, Place, PinOfHole)}


def test_every_option_has_a_type_that_speaks_plainly() -> None:
    others = [one for one in PARAMETERS if one[2] not in OURS and one[2] not in {"StringParamType", "BoolParamType"}]
    assert others == []
    assert {one[2] for one in PARAMETERS} >= OURS


BAD = {
    "Day": [
        "x",
        "",
        "2026-13-01",
        "2026-02-30",
        "20260101",
        "0000-01-01",
        "99999-01-01",
        "2026-01-01T10:00",
        "२०२६-01-01",
    ],
    "Within": ["x", "", "nan", "inf", "-inf", "1e400", "-99999", "99999", "1,5"],
    "WholeNumber": ["x", "", "1.5", "-5", "99999999999999999999", "0x10", "1e3"],
    "OneOf": ["x", "", "CLUB;--"],
    "Place": ["x", "", "1", "1,2,3", "nan,1", "1,inf", "1;2"],
    "PinOfHole": ["x", "", "3", "0:1,2", "99:1,2", "x:1,2", "1,2"],
}
SAYS = {
    "Day": "YYYY-MM-DD",
    "Within": " to ",
    "WholeNumber": " to ",
    "OneOf": " is not one of ",
    "Place": "yards",
    "PinOfHole": "a hole, a colon and a place",
}


@pytest.mark.parametrize(("command", "option", "kind"), [one for one in PARAMETERS if one[2] in BAD])
def test_a_bad_value_is_one_line(command: tuple[str, ...], option: str, kind: str) -> None:
    for value in BAD[kind]:
        line = refused(*command, f"{option}={value}")
        assert line.startswith(f"error: {option}: "), line
        assert SAYS[kind] in line, line
        assert value in line, line


def refused(*arguments: str) -> str:
    """The one line that a command says of its arguments."""
    result = CliRunner().invoke(main, list(arguments))
    assert (result.exit_code, result.stdout) == (2, "")
    assert len(result.stderr.splitlines()) == 1, result.stderr
    return result.stderr.strip()


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (("import",), "error: file: is missing"),
        (("export", "--to", "x"), "error: --season: is missing"),
        (("serve", "--port", "65536"), "error: --port: 65536 is outside 0 to 65535"),
        (("serve", "--port", "x"), "error: --port: 'x' is not a whole number, 0 to 65535"),
        (("import", "/nowhere"), "error: file: '/nowhere' does not exist"),
        (("import-practice", "/"), "error: file: '/' is a directory"),
        (("summary", "--from"), "error: --from: requires an argument"),
        (("summary", "--moon"), "error: no such option '--moon'; see main summary --help"),
        (("summary", "extra"), "error: got unexpected extra argument (extra); see main summary --help"),
        (("--moon",), "error: no such option '--moon'; see main --help"),
        (("moon",), "error: no such command 'moon'; see main --help"),
        (("token", "moon"), "error: no such command 'moon'; see main token --help"),
    ],
)
def test_what_cannot_be_understood_is_one_line(arguments: tuple[str, ...], line: str) -> None:
    assert refused(*arguments) == line


def test_without_a_command_the_commands_are_listed() -> None:
    assert "summary" in CliRunner().invoke(main, []).output
    assert "fit" in CliRunner().invoke(main, ["baseline"]).output


@pytest.mark.parametrize(
    ("name", "value", "line"),
    [
        ("PENCILBAG_BUSY_WAIT_S", "soon", "'soon' is not a number, 0 to 3600 seconds"),
        ("PENCILBAG_BUSY_WAIT_S", "nan", "'nan' is not a number, 0 to 3600 seconds"),
        ("PENCILBAG_BUSY_WAIT_S", "-1", "-1 is outside 0 to 3600 seconds"),
        ("PENCILBAG_PROXIES", "one", "'one' is not a whole number, 0 to 10 proxies"),
        ("PENCILBAG_PROXIES", "1.5", "'1.5' is not a whole number, 0 to 10 proxies"),
        ("PENCILBAG_PROXIES", "-1", "-1 is outside 0 to 10 proxies"),
        ("PENCILBAG_LOG_BYTES", "x", ""),
    ],
)
def test_a_bad_setting_is_named(
    name: str, value: str, line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{tmp_path / 'log.sqlite'}")
    monkeypatch.setenv(name, value)
    assert refused("serve", "--port", "0").startswith(f"error: {name}: {line}")
