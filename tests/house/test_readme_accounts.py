"""What server/README.md says of accounts is done as it stands there: the commands, curl, pandas, limits, the proxy."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from server.__main__ import main
from server.api.app import LARGEST_REQUEST
from server.api.attempts import FOR_ONE_ADDRESS, FOR_ONE_NAME, FOR_ONE_NAME_FROM_ANYWHERE, WRONG_TOKENS
from server.store.account_tables import ACCOUNT
from server.store.engine import open_database, reading
from server.store.players import players
from server.store.sharing import share
from tests.forked import start
from tests.made_once import copy_demo

ROOT = Path(__file__).parents[2]
README = (ROOT / "server" / "README.md").read_text(encoding="utf-8")
SECTION = README.partition("## Accounts and sharing")[2].partition("\n## ")[0]
SECRET = "a secret for tests, and for nothing else"


def block(kind: str) -> str:
    """The one block of that kind in the section."""
    (found,) = re.findall(rf"```{kind}\n(.*?)```", SECTION, flags=re.DOTALL)
    return str(found)


def commands() -> list[str]:
    """The command lines of the section."""
    return re.findall(r"^\.venv/bin/python -m server (.*)$", SECTION, flags=re.MULTILINE)


@dataclass
class Live:
    """A server with the demo season and the accounts of the section."""

    address: str
    player_id: str
    token: str
    environment: dict[str, str]

    def filled(self, text: str) -> str:
        """A text of the section with its placeholders filled."""
        placed = text.replace("http://127.0.0.1:8000", self.address).replace("/ID/", f"/{self.player_id}/")
        return placed.replace("TOKEN", self.token)


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Live]:
    file = tmp_path_factory.mktemp("readme") / "log.sqlite"
    copy_demo(file)
    place = f"sqlite:///{file}"
    environment = {"PENCILBAG_DATABASE": place, "PENCILBAG_SECRET": SECRET}
    with pytest.MonkeyPatch.context() as patched:
        for name, value in environment.items():
            patched.setenv(name, value)
        runner = CliRunner()
        token = ""
        for line in commands():
            words = shlex.split(line)
            words += ["--password-stdin"] if words[:2] == ["account", "add"] else []
            done = runner.invoke(main, words, input="correct horse battery\n")
            assert done.exit_code == 0, done.output
            token = done.stdout.strip()
    engine = open_database(place)
    with reading(engine) as connection:
        (player,) = players(connection)
        owned = connection.execute(sa.select(ACCOUNT.c.player_id).where(ACCOUNT.c.name == "wren")).scalar()
    assert owned == player.player_id
    share(engine, player.player_id, reader=None, squad="north")
    engine.dispose()
    with start(os.environ | environment) as server:
        yield Live(f"http://127.0.0.1:{server.port}", player.player_id, token, environment)


def summary(live: Live, *more: str) -> list[dict[str, Any]]:
    """The rows of `summary --json`."""
    done = CliRunner(env=live.environment).invoke(main, ["summary", "--json", *more])
    return list(json.loads(done.stdout)["rows"])


def test_the_commands_are_those_of_the_first_day() -> None:
    assert [shlex.split(line)[:2] for line in commands()] == [
        ["account", "add"],
        ["account", "add"],
        ["account", "join"],
        ["token", "add"],
    ]


def test_curl_gets_the_summary(live: Live) -> None:
    done = subprocess.run(live.filled(block("sh")), shell=True, capture_output=True, text=True, check=True)
    assert json.loads(done.stdout)["rows"] == summary(live)


def test_curl_gets_nothing_without_the_token(live: Live) -> None:
    without = re.sub(r'-H "[^"]*"', "", live.filled(block("sh")))
    done = subprocess.run(without, shell=True, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (22, "")


def test_pandas_gets_the_season_and_the_summary(live: Live) -> None:
    names: dict[str, Any] = {}
    exec(live.filled(block("python")), names)
    pd.testing.assert_frame_equal(names["clubs"], pd.DataFrame(summary(live)))
    shots = names["shots"].groupby("club")["strokes_gained"].sum()
    expected = names["clubs"].set_index("club")["strokes_gained"]
    assert len(expected) > 10
    pd.testing.assert_series_equal(shots.sort_index(), expected.sort_index(), rtol=0, atol=1e-9, check_index_type=False)


def test_the_limits_are_those_of_the_server() -> None:
    words = re.sub(r"\s+", " ", SECTION)
    assert (FOR_ONE_NAME, FOR_ONE_NAME_FROM_ANYWHERE) == ("10 per minute; 50 per hour", "200 per hour")
    assert (FOR_ONE_ADDRESS.split(";")[0], str(WRONG_TOKENS)) == ("60 per minute", "60 per 1 minute")
    assert "10 a minute and 50 an hour for a name from one address" in words
    assert "200 an hour for a name, 60 a minute for an address, and wrong tokens to 60 a minute" in words


def test_the_proxy_passes_on_what_the_server_believes() -> None:
    lines = block("nginx")
    headers = dict(re.findall(r"proxy_set_header (\S+) (\S+);", lines))
    assert headers == {"Host": "$http_host", "X-Forwarded-For": "$remote_addr", "X-Forwarded-Proto": "$scheme"}
    size = re.search(r"client_max_body_size (\d+)m;", lines)
    assert size
    assert int(size[1]) * 2**20 > LARGEST_REQUEST
