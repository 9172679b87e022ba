"""A client that is generated from the description reads every JSON answer of a live server: the description holds for
programs that were not written beside it. The generator has an environment of its own, made once for a set of pins."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from waitress.server import create_server

from tests import tiers
from tests.api.asked_answers import World, body_asked, database_in, make_world, operations_of

PROJECT = Path(__file__).resolve().parents[2]
PINS = PROJECT / "tests" / "requirements-client.txt"
READER = Path(__file__).with_name("read_by_client.py")

pytestmark = [
    pytest.mark.processes,
    pytest.mark.skipif(not tiers.LONG, reason="in the long tier; see test_described_answers"),
]


def run(command: list[str], **more: Any) -> str:
    """What a command printed; with everything it said where it fails."""
    done = subprocess.run(command, capture_output=True, text=True, check=False, **more)
    if done.returncode:
        pytest.fail(f"{' '.join(command)} ended with {done.returncode}:\n{done.stdout}\n{done.stderr}", pytrace=False)
    return done.stdout


@pytest.fixture(scope="module")
def environment() -> Path:
    """The folder of an environment with the generator, made once for these pins."""
    said = f"{sys.version}\n{PINS.read_text(encoding='utf-8')}"
    folder = PROJECT / ".artifacts" / f"client-{hashlib.sha256(said.encode()).hexdigest()[:12]}"
    if not folder.is_dir():
        folder.parent.mkdir(exist_ok=True)
        being_made = Path(tempfile.mkdtemp(prefix="client-", dir=folder.parent))
        run([sys.executable, "-m", "venv", str(being_made)])
        run([str(being_made / "bin" / "python"), "-m", "pip", "install", "--quiet", "--requirement", str(PINS)])
        try:
            being_made.rename(folder)
        except OSError:  # another process was faster
            shutil.rmtree(being_made)
    return folder


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    made = make_world(database_in(tmp_path_factory.mktemp("client")))
    yield made
    made.house.engine.dispose()


@pytest.fixture(scope="module")
def address(world: World) -> Iterator[str]:
    """A live server of the world on this machine."""
    server = create_server(world.app, host="127.0.0.1", port=0, threads=4)
    serving = threading.Thread(target=server.run)
    serving.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    serving.join()


@pytest.fixture(scope="module")
def client(environment: Path, address: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the generated package. A warning of the generator is a failure: a piece would be missing."""
    folder = tmp_path_factory.mktemp("generated")
    python = str(environment / "bin" / "python")
    command = [python, "-m", "openapi_python_client", "generate", "--url", f"{address}/api/openapi.json"]
    # the generator calls the formatter that lies beside it
    path = f"{environment / 'bin'}{os.pathsep}{os.environ['PATH']}"
    more = ["--meta", "none", "--output-path", str(folder / "generated"), "--fail-on-warning"]
    run([*command, *more], env=os.environ | {"PATH": path}, cwd=folder)
    return folder


def test_a_generated_client_reads_every_answer(environment: Path, client: Path, world: World, address: str) -> None:
    operations = operations_of(world.app.test_client().get("/api/openapi.json").get_json())
    asks = [
        {
            "operation": ask.operation,
            "given": ask.given,
            "body": body_asked(ask, world.house),
            "cookies": world.house.cookies(ask.who or None),
        }
        for ask in world.asks
    ]
    sent = json.dumps({"address": address, "asks": asks})
    answers = json.loads(run([str(environment / "bin" / "python"), str(READER), str(client)], input=sent))
    wrong = []
    for ask, (status, type_, said_again) in zip(world.asks, answers, strict=True):
        schema = operations[ask.operation].answers.get(status, {})
        if not said_again or type_ != schema.get("$ref", "").rsplit("/", 1)[-1]:
            wrong.append(f"{ask}: {status}, {type_}, {'all' if said_again else 'not all'} of it was read")
    assert not wrong
    read = {ask.operation for ask in world.asks}
    assert read == {name for name, operation in operations.items() if operation.answers}
