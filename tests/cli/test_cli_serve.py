"""The command line as people start it: real processes, a real port on this machine."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from server.__main__ import main
from tests import tiers
from tests.files.tables import drive_and_putt, row, table
from tests.forked import python

PROJECT = Path(__file__).resolve().parents[2]
PATIENCE_S = 60
"""How long a process may take before the test gives it up; no test fails on being slow within it."""


def server(tmp_path: Path, *arguments: str, **more: str) -> subprocess.Popen[str]:
    """`python -m server ARGUMENTS` on a database of its own."""
    environment = os.environ | {"PENCILBAG_DATABASE": f"sqlite:///{tmp_path / 'served.sqlite'}"} | more
    return subprocess.Popen(
        [sys.executable, "-m", "server", *arguments],
        cwd=PROJECT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def done(process: subprocess.Popen[str]) -> tuple[int, str, str]:
    """Exit code, stdout and stderr of a process that ends by itself."""
    out, err = process.communicate(timeout=PATIENCE_S)
    return process.returncode, out, err


def called(tmp_path: Path, *arguments: str, database: str = "") -> tuple[int, str, str]:
    """The same in this process, for what a process of its own would not show otherwise."""
    environment = {"PENCILBAG_DATABASE": database or f"sqlite:///{tmp_path / 'served.sqlite'}"}
    result = CliRunner(env=environment).invoke(main, list(arguments))
    return result.exit_code, result.stdout, result.stderr


def forked(tmp_path: Path, *arguments: str) -> tuple[int, str, str]:
    """The same in a process that is not started anew."""
    result = python("-m", "server", *arguments, more={"PENCILBAG_DATABASE": f"sqlite:///{tmp_path / 'served.sqlite'}"})
    return result.returncode, result.stdout, result.stderr


@pytest.fixture
def serving(tmp_path: Path, workers: str) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """A server on a free port with so many processes for what takes long, and that port."""
    environment = {"PYTHONUNBUFFERED": "1", "PENCILBAG_WORKERS": workers}
    with server(tmp_path, "serve", "--port", "0", **environment) as process:
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        try:
            assert found, line
            yield process, int(found[1])
        finally:
            if process.poll() is None:
                process.kill()
            process.communicate(timeout=PATIENCE_S)


def asked(port: int, path: str) -> tuple[int, bytes]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    try:
        connection.request("GET", path)
        answer = connection.getresponse()
        return answer.status, answer.read()
    finally:
        connection.close()


@pytest.mark.parametrize(
    ("sign", "workers"),
    tiers.some([(sign, workers) for sign in (signal.SIGINT, signal.SIGTERM) for workers in ("0", "2")], 0, 3),
)
def test_it_serves_on_this_machine_until_it_is_stopped(
    serving: tuple[subprocess.Popen[str], int], sign: signal.Signals
) -> None:
    process, port = serving
    status, body = asked(port, "/api/openapi.json")
    assert (status, json.loads(body)["info"]["title"]) == (200, "Pencilbag")
    assert asked(port, "/api/players") == (200, b'{"players":[]}\n')
    with socket.socket() as other:
        # Only 127.0.0.1 is listened on: another loopback address is refused.
        assert other.connect_ex(("127.0.0.2", port)) != 0
    process.send_signal(sign)
    _, err = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, err.splitlines()[-1]) == (0, "stopped")


def test_a_port_in_use_is_one_line(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        code, out, err = forked(tmp_path, "serve", "--port", str(port))
    assert (code, out) == (2, "")
    assert err == f"error: --port: 127.0.0.1:{port} cannot be used: Address already in use\n"


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1", "pencilbag.example", ""])
def test_a_host_beyond_this_machine_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, host: str) -> None:
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{tmp_path / 'served.sqlite'}")
    result = CliRunner().invoke(main, ["serve", "--host", host])
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        f"error: --host: {host} is not this machine: PENCILBAG_SECRET has 0 characters, 32 are needed\n"
    )
    assert not (tmp_path / "served.sqlite").exists()


def test_a_database_that_cannot_be_opened_is_one_line(tmp_path: Path) -> None:
    code, out, err = called(tmp_path, "serve", "--port", "0", database="sqlite:////dev/null/x.sqlite")
    assert (code, out, len(err.splitlines())) == (2, "", 1)
    assert err.startswith("error: PENCILBAG_DATABASE: the database cannot be opened: ")


def test_results_go_to_stdout_notes_to_stderr_and_codes_to_the_shell(tmp_path: Path) -> None:
    path = tmp_path / "shots.csv"
    path.write_bytes(table(drive_and_putt()))
    code, out, err = called(tmp_path, "import", str(path))
    assert (code, out) == (0, "2 shots in 1 round read; stored 6 new or changed records\n")
    first, second = err.splitlines()[:2]
    assert first == "read as CSV, UTF-8, commas between cells"
    assert second.startswith("player 'Wren Quillfeather' is new")
    code, out, err = called(tmp_path, "summary", "--json")
    assert (code, json.loads(out)["total"]["shots"], err) == (0, 2, "")
    path.write_bytes(table([row(distance=812, holed="yes")]))
    code, out, err = forked(tmp_path, "import", str(path))
    assert (code, out) == (2, "")
    assert "row 2, distance: 812 yd is outside 0 to 700 yd" in err
    assert "Traceback" not in err


def test_an_unknown_command_is_named(tmp_path: Path) -> None:
    code, out, err = done(server(tmp_path, "caddie"))
    assert (code, out) == (2, "")
    assert err == "error: no such command 'caddie'; see python -m server --help\n"


def test_an_erasure_that_was_cut_off_is_finished_before_it_serves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{tmp_path / 'served.sqlite'}")
    monkeypatch.setenv("PENCILBAG_WORKERS", "0")
    monkeypatch.setattr("server.commands.serving.finish_erasures", lambda engine: done.append(engine.dialect.name))
    monkeypatch.setattr("server.commands.serving._run", lambda *_: done.append("serves"))
    result = CliRunner().invoke(main, ["serve", "--port", "0"])
    assert (result.exit_code, done) == (0, ["sqlite", "serves"])


@pytest.mark.parametrize("said", ["two", "-1", "1.5", "65"])
def test_a_bad_number_of_workers_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, said: str) -> None:
    monkeypatch.setenv("PENCILBAG_DATABASE", f"sqlite:///{tmp_path / 'served.sqlite'}")
    monkeypatch.setenv("PENCILBAG_WORKERS", said)
    result = CliRunner().invoke(main, ["serve", "--port", "0"])
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines()[-1].startswith("error: PENCILBAG_WORKERS: ")
    assert "0 to 64 processes" in result.stderr
