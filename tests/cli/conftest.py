"""Running commands against a database of their own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from server.__main__ import main

Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """`run("summary", "--json")`: the command's exit code, stdout and stderr. Unexpected exceptions fail the test."""
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{tmp_path / 'cli.sqlite'}")

    def call(*arguments: str | Path) -> Result:
        result = CliRunner().invoke(main, [str(argument) for argument in arguments])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return call


@pytest.fixture
def file(tmp_path: Path) -> Callable[..., Path]:
    """A file with this content."""

    def write(content: bytes, name: str = "shots.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(content)
        return path

    return write
