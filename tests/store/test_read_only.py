"""A database file or a folder that cannot be written: what can be read is read, the rest is said in one line, and the
file can be written again as soon as its mode allows it."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from server.store.engine import open_database
from server.store.log import push
from tests.forked import python
from tests.records.made import Season

ASK = """
import json, sys
from server import create_app
app = create_app({"DATABASE": sys.argv[1]})
client = app.test_client()
player = json.loads(sys.argv[2])
answers = [client.get("/api/players"), client.get(f"/api/players/{player['id']}/strokes-gained"),
           client.post(f"/api/players/{player['id']}/changes", json={"device_id": "phone", "changes": player["more"],
                       "now": "2026-05-01T12:00:00.000Z"})]
print(json.dumps([[one.status_code, one.headers.get("Retry-After"), (one.get_json() or {}).get("detail")]
                  for one in answers]))
"""

CANNOT = "the database file or the folder it lies in cannot be written"


def done(*command: str, place: Path) -> subprocess.CompletedProcess[str]:
    return python(*command, more={"PENCILBAG_DATABASE": f"sqlite:///{place}"}, weak=True)


COMMANDS = """
import json, sys
from click.testing import CliRunner
from server.__main__ import main
found = [CliRunner().invoke(main, words) for words in json.loads(sys.argv[1])]
print(json.dumps([[one.exit_code, one.stdout, one.stderr] for one in found]))
"""


def commands(*lines: list[str], place: Path) -> list[tuple[int, str, str]]:
    """Exit code, stdout and stderr of each of some `python -m server ...`, one after the other in one process."""
    found = done("-c", COMMANDS, json.dumps(lines), place=place)
    assert (found.returncode, found.stderr) == (0, "")
    return [(code, out, err) for code, out, err in json.loads(found.stdout)]


def command(*words: str, place: Path) -> tuple[int, str, str]:
    """Exit code, stdout and stderr of `python -m server ...`."""
    found = done("-m", "server", *words, place=place)
    return found.returncode, found.stdout, found.stderr


@pytest.fixture
def kept(tmp_path: Path) -> tuple[Path, Season]:
    """A database with a season in a folder of its own."""
    place = tmp_path / "kept" / "log.sqlite"
    season = Season("Wren Quillfeather")
    engine = open_database(f"sqlite:///{place}")
    push(engine, season.player_id, "phone", season.changes)
    engine.dispose()
    return place, season


def test_a_read_only_file_is_read_and_says_what_it_cannot_take(kept: tuple[Path, Season], tmp_path: Path) -> None:
    place, _ = kept
    place.chmod(0o400)
    summary, *readings, add, demo = commands(
        ["summary"],
        ["check"],
        ["account", "list"],
        ["backup", str(tmp_path / "copy")],
        ["account", "add", "ash", "--role", "owner", "--password-stdin"],
        ["demo"],
        place=place,
    )
    assert (summary[0], summary[2]) == (0, "")
    assert summary[1].startswith("Wren Quillfeather: ")
    assert [reading[0] for reading in readings] == [0, 0, 0], readings
    assert add[:2] == (2, "")
    assert demo[0] == 2
    assert demo[2].splitlines()[-1].startswith(f"error: PENCILBAG_DATABASE: {CANNOT}: ")


def test_a_server_on_a_read_only_file_answers_reads_and_keeps_pushes_waiting(kept: tuple[Path, Season]) -> None:
    place, season = kept
    place.chmod(0o400)
    told = json.dumps({"id": season.player_id, "more": Season("Ash").changes[:1]})
    found = done("-c", ASK, f"sqlite:///{place}", told, place=place)
    assert found.returncode == 0, found.stderr
    players, summary, pushed = json.loads(found.stdout)
    assert (players[0], summary[0], pushed[0], pushed[1]) == (200, 200, 503, "5")
    assert CANNOT in pushed[2]
    assert "Traceback" not in found.stderr


def test_a_file_that_may_be_written_again_is_written(kept: tuple[Path, Season]) -> None:
    """SQLite leaves read-only files beside a file that was read while read-only."""
    place, _ = kept
    place.chmod(0o400)
    assert command("summary", place=place)[0] == 0
    place.chmod(0o600)
    code, _, err = command("demo", place=place)
    assert (code, "Traceback" in err) == (0, False), err


def test_in_a_read_only_folder_a_backup_can_be_read_and_all_else_says_why(kept: tuple[Path, Season]) -> None:
    place, _ = kept
    copy = place.with_name("copy.sqlite")
    assert command("backup", str(copy), place=place)[0] == 0
    for one in place.parent.iterdir():
        if one not in (place, copy):
            one.unlink()
    place.parent.chmod(0o500)
    try:
        summary, (code, out, err) = commands(["summary"], ["serve", "--port", "0"], place=copy)
        assert summary[0] == 0
        assert (code, out) == (2, "")
        assert err == f"error: {copy}.serving cannot be written: Permission denied\n"
        code, out, err = command("summary", place=place)
        assert (code, out, len(err.splitlines())) == (2, "", 1)
        assert f"the database cannot be opened: {CANNOT}: " in err
    finally:
        place.parent.chmod(0o700)


def test_these_tests_can_fail(tmp_path: Path) -> None:
    """The program that runs the commands really may not write what a mode forbids."""
    file = tmp_path / "file"
    file.touch(0o400)
    assert (
        done("-c", f"open({str(file)!r}, 'a')", place=file)
        .stderr.rstrip()
        .splitlines()[-1]
        .startswith("PermissionError")
    )
