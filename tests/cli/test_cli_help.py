"""Help, its examples, completion in a shell, and progress on a terminal."""

from __future__ import annotations

import os
import pty
import re
import shlex
import termios
from pathlib import Path

import click
import pytest
from click.shell_completion import ShellComplete

from server.__main__ import main
from server.commands.examples import EXAMPLES, PROGRAM
from tests.forked import python

ROOT = Path(__file__).resolve().parents[2]


def commands(group: click.Group, before: str = "") -> dict[str, click.Command]:
    """Every command that does something, by its full name."""
    found: dict[str, click.Command] = {}
    for name, command in group.commands.items():
        full = f"{before} {name}".strip()
        found |= commands(command, full) if isinstance(command, click.Group) else {full: command}
    return found


def test_every_command_has_an_example_and_no_other() -> None:
    assert set(EXAMPLES) == set(commands(main))


def test_the_list_of_commands_names_each_once_in_a_whole_sentence() -> None:
    shown = main.get_help(click.Context(main, terminal_width=80)).splitlines()
    listed = [line for line in shown if re.match(r"  [a-z][a-z-]+  +[A-Z]", line)]
    assert sorted(line.split()[0] for line in listed) == sorted(main.commands)
    assert [line for line in listed if not line.endswith(".") or line.endswith("..")] == []


@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_are_what_the_command_takes(name: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Each is parsed by the command itself, up to doing it; files that a backup would have left are made."""
    command = commands(main)[name]
    words = [line.split(" > ", 1)[0] for line in EXAMPLES[name]]
    for line in words:
        given = shlex.split(line)
        assert given[: len(name.split())] == name.split()
        more = given[len(name.split()) :]
        if name == "restore":
            (tmp_path / more[0]).touch()
            monkeypatch.chdir(tmp_path)
        else:
            monkeypatch.chdir(ROOT)
        with command.make_context(name, more) as context:
            assert context.params.keys() == {one.name for one in command.params if one.expose_value}
    shown = command.get_help(click.Context(command))
    assert all(f"{PROGRAM} {line}" in shown for line in EXAMPLES[name])


def test_a_shell_completes_commands_and_choices() -> None:
    def offered(arguments: list[str], begun: str) -> list[str]:
        completion = ShellComplete(main, {}, "pencilbag", "_PENCILBAG_COMPLETE")
        return [item.value for item in completion.get_completions(arguments, begun)]

    assert offered([], "summ") == ["summary"]
    assert "category" in offered(["summary", "--by"], "c")
    assert "--minimum-effect" in offered(["trial"], "--m")


def test_the_line_of_the_guide_makes_bash_complete() -> None:
    """Bash itself asks the program, as the guide says it is set up."""
    asked = {"COMP_WORDS": "pencilbag summ", "COMP_CWORD": "1", "_PENCILBAG_COMPLETE": "bash_complete"}
    done = python("-c", "from server.__main__ import main; main(prog_name='pencilbag')", more=asked)
    assert done.stdout.split() == ["plain,summary"]


@pytest.mark.parametrize("watched", [True, False])
def test_progress_is_shown_on_a_terminal_alone(tmp_path: Path, watched: bool) -> None:
    ours, theirs = pty.openpty()
    termios.tcsetwinsize(ours, (24, 80))
    done = python(
        *("-m", "server", "import", "demo_rounds/worked_hole.csv"),
        more={"PENCILBAG_DATABASE": f"sqlite:///{tmp_path / 'log.sqlite'}"},
        err=os.ttyname(theirs) if watched else "",
    )
    shown = os.read(ours, 65536).decode() if watched else done.stderr
    os.close(theirs)
    os.close(ours)
    assert ("checking:" in shown) is watched
    assert done.returncode == 0
    assert done.stdout.startswith("3 shots in 1 round read; stored")
