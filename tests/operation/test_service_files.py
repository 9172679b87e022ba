"""The systemd unit and the container file name what is there, and settings that exist."""

from __future__ import annotations

import configparser
import re
import shlex
from pathlib import Path

from click.testing import CliRunner

from server.__main__ import main
from server.operation.settings import PREFIX, SETTINGS

PROJECT = Path(__file__).resolve().parents[2]
UNIT = PROJECT / "server" / "operation" / "pencilbag.service"
CONTAINER = PROJECT / "server" / "operation" / "Containerfile"


def serves(words: list[str]) -> bool:
    """Whether `python -m server ...` is a command line that the program takes, up to starting."""
    at = words.index("server")
    assert words[at - 1] == "-m"
    done = CliRunner().invoke(main, [*words[at + 1 :], "--help"])
    return done.exit_code == 0 and "Serve the phone page" in done.output


def test_the_unit_starts_the_server_with_settings_that_exist() -> None:
    parser = configparser.RawConfigParser(strict=False)
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read_string(UNIT.read_text(encoding="utf-8"))
    service = parser["Service"]
    assert serves(shlex.split(service["ExecStart"]))
    assert service["ProtectSystem"] == "strict"
    named = set(re.findall(rf"{PREFIX}(\w+)", UNIT.read_text(encoding="utf-8")))
    assert named <= set(SETTINGS)
    assert {"DATABASE", "SECRET", "HOSTS"} <= named
    state = f"/var/lib/{service['StateDirectory']}/"
    assert f"PENCILBAG_DATABASE=sqlite:///{state}" in UNIT.read_text(encoding="utf-8")


def test_the_container_copies_what_is_there_and_serves() -> None:
    words = CONTAINER.read_text(encoding="utf-8")
    for source in re.findall(r"^COPY (\S+) ", words, re.MULTILINE):
        assert (PROJECT / source).exists(), source
    command = re.findall(r'"([^"]*)"', re.search(r"^CMD (.*)$", words, re.MULTILINE)[1])  # type: ignore[index]
    assert serves(command)
    assert set(re.findall(rf"{PREFIX}(\w+)", words)) <= set(SETTINGS)
    assert re.search(r"^USER pencilbag$", words, re.MULTILINE)
