"""What README.md shows must be what the tool does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from server.__main__ import main

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks() -> list[str]:
    """The fenced blocks of README.md, in order."""
    return re.findall(r"```\n(.*?)```", README, flags=re.DOTALL)


def test_worked_result_is_what_the_commands_print(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{tmp_path / 'readme.sqlite'}")
    place = next(index for index, block in enumerate(blocks()) if "worked_hole.csv" in block)
    commands, shown = blocks()[place], blocks()[place + 1]
    printed = ""
    for line in commands.strip().splitlines():
        words = re.findall(r'"[^"]*"|\S+', line.split("-m server ")[1])
        done = CliRunner().invoke(main, [word.strip('"') for word in words])
        assert done.exit_code == 0, done.output
        printed = done.stdout
    assert printed.strip() == shown.strip()


def test_worked_result_by_hand() -> None:
    """446 yd from the tee lies 6/20 between 4.08 (440) and 4.17 (460); the hole took three."""
    by_hand = 4.08 + 6 / 20 * (4.17 - 4.08) - 3
    assert f"{by_hand:+.3f}" in README


def test_the_two_commands_exist_and_run_by_themselves() -> None:
    for name in ("server/run", "tests/run", ".ci/run"):
        path = ROOT / name
        assert path.stat().st_mode & 0o111, f"{name} is not executable"
