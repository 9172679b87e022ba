"""Logs: one access line a request, with what an operator needs and nothing that is a player's."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator

import pytest
from flask.testing import FlaskClient

from server.operation.logs import ACCESS, ACCESS_FIELDS, configure
from tests.api.people import House, house
from tests.records.made import change


class Lines(logging.Handler):
    """Keeps the records of a logger."""

    def __init__(self) -> None:
        super().__init__()
        self.records: list[logging.LogRecord] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.records.append(record)


@pytest.fixture
def lines() -> Iterator[list[logging.LogRecord]]:
    handler, level = Lines(), ACCESS.level
    ACCESS.addHandler(handler)
    ACCESS.setLevel(logging.INFO)
    yield handler.records
    ACCESS.removeHandler(handler)
    ACCESS.setLevel(level)


@pytest.fixture
def full(tmp_path) -> Iterator[House]:  # type: ignore[no-untyped-def]
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    yield made
    made.engine.dispose()


@pytest.fixture(autouse=True)
def _as_before() -> Iterator[None]:
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    yield
    root.handlers[:] = handlers
    root.setLevel(level)


def test_a_request_leaves_one_line_with_every_field(full: House, lines: list[logging.LogRecord]) -> None:
    address = f"/api/players/{full.robin.player_id}"
    with full.client("Ash").get(f"{address}/rounds?limit=2") as answer:
        text = answer.data
    (line,) = lines
    assert (line.method, line.route, line.status) == ("GET", "/api/players/<uuid:player_id>/rounds", 200)  # type: ignore[attr-defined]
    assert line.caller == full.accounts["Ash"].account_id  # type: ignore[attr-defined]
    assert line.bytes == len(text)  # type: ignore[attr-defined]
    assert 0 < line.ms < 60_000  # type: ignore[attr-defined]
    assert line.request_id == answer.headers["X-Request-Id"]  # type: ignore[attr-defined]


def test_the_bytes_of_a_stream_are_counted(full: House, lines: list[logging.LogRecord]) -> None:
    with full.client("Ash").get("/api/season/2026/shots.csv", buffered=True) as answer:
        assert answer.status_code == 200
        text = answer.data
    assert [line.bytes for line in lines] == [len(text)]  # type: ignore[attr-defined]
    assert len(text) > 100


def test_a_stranger_and_an_unknown_address_have_lines_too(full: House, lines: list[logging.LogRecord]) -> None:
    client = full.client(None)
    for path, status in (("/api/players", 401), ("/page-of-nobody", 404)):
        with client.get(path) as answer:
            assert answer.status_code == status
    assert [(line.caller, line.status) for line in lines] == [("-", 401), ("-", 404)]  # type: ignore[attr-defined]
    assert lines[1].route == "/<front:name>"  # type: ignore[attr-defined]


def test_a_request_id_of_a_proxy_is_kept_and_a_strange_one_replaced(full: House) -> None:
    client = full.client("Ash")
    kept = client.get("/api/players", headers={"X-Request-Id": "proxy-0123456789"})
    assert kept.headers["X-Request-Id"] == "proxy-0123456789"
    replaced = client.get("/api/players", headers={"X-Request-Id": "a b\x7f"})
    assert len(replaced.headers["X-Request-Id"]) == 32


@pytest.mark.parametrize("form", ["plain", "json"])
def test_no_line_holds_a_name_a_body_a_query_or_a_token(
    full: House, form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    configure(form)
    client: FlaskClient = full.client("Robin")
    token = full.bearer("Ash", "read_squad")
    player_id = full.robin.player_id
    secret_words = "a note that nobody else reads"
    body = {
        "device_id": "phone-of-robin",
        "changes": [change("player", {"name": secret_words, "plays": "left"}, player_id)],
    }
    client.post(f"/api/players/{player_id}/changes", json=body, buffered=True)
    client.get("/api/season/2026/rounds.csv?player=" + player_id, headers=token, buffered=True)
    client.post("/api/sign-in", json={"name": "Robin", "password": "not this one"}, buffered=True)
    said = capsys.readouterr().err
    assert said.count("/api/") >= 3
    for words in (
        secret_words,
        "phone-of-robin",
        "Robin",
        "not this one",
        player_id,
        token["Authorization"][7:],
        "player=",
    ):
        assert words not in said


def test_json_lines_are_json_with_the_fields_by_name(full: House, capsys: pytest.CaptureFixture[str]) -> None:
    configure("json")
    full.client("Ash").get("/api/players", buffered=True)
    (line,) = [json.loads(text) for text in capsys.readouterr().err.splitlines()]
    assert line["logger"] == "pencilbag.access"
    assert line["level"] == "INFO"
    assert set(ACCESS_FIELDS) < set(line)
    assert line["time"].startswith("20")


def test_plain_lines_can_be_read(full: House, capsys: pytest.CaptureFixture[str]) -> None:
    configure("plain")
    full.client("Ash").get("/api/players", buffered=True)
    said = capsys.readouterr().err
    assert " INFO pencilbag.access request request_id=" in said
    assert " method=GET route=/api/players status=200 ms=" in said


def test_below_the_level_nothing_is_reported(full: House, capsys: pytest.CaptureFixture[str]) -> None:
    configure("plain", "warning")
    full.client("Ash").get("/api/players", buffered=True)
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    ("form", "level", "words"),
    [
        ("xml", "INFO", "PENCILBAG_LOG: 'xml' is not one of plain, json"),
        ("plain", "LOUD", "PENCILBAG_LOG_LEVEL: 'LOUD' is not one of DEBUG, INFO, WARNING, ERROR"),
    ],
)
def test_other_forms_and_levels_are_refused(form: str, level: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        configure(form, level)
