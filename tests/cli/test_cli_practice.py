"""Practice on the command line: bad input is one line that names it, and nothing is stored."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from tests.files.tables import drive_and_putt, table

Run = Callable[..., Result]
Write = Callable[..., Path]


@pytest.fixture
def played(run: Run, file: Write) -> Run:
    """One player with a round."""
    assert run("import", file(table(drive_and_putt()))).exit_code == 0
    return run


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("practice-targets", "--seed", "-1"), "--seed: -1 is outside 0 to"),
        (("practice-targets", "--count", "0"), "--count: 0 is outside 1 to"),
        (("patterns", "--source", "moon"), "--source: 'moon' is not one of course, practice, both"),
        (("practice-targets", "--player", "Nobody"), "Nobody"),
    ],
)
def test_a_bad_option_is_one_line(played: Run, words: tuple[str, ...], said: str) -> None:
    done = played(*words)
    assert done.exit_code == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02\x03", "range.csv"),
        (b"PK\x03\x04 no book", "range.csv"),
        (b"moon,sun\n1,2\n", "club"),
        (b"club,carry\n8 iron,9000\n", "row 2, carry: 9000 yd is outside 0 to 400 yd"),
    ],
)
def test_a_file_that_cannot_be_read_stores_nothing(played: Run, tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "range.csv"
    path.write_bytes(content)
    before = played("practice", "--json").stdout
    done = played("import-practice", str(path), "--date", "2026-06-01")
    assert done.exit_code == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert played("practice", "--json").stdout == before


def test_a_file_that_is_not_there_or_a_folder_is_named(played: Run, tmp_path: Path) -> None:
    for path in (tmp_path / "no such.csv", tmp_path):
        done = played("import-practice", str(path))
        assert done.exit_code == 2
        assert str(path) in done.stderr
