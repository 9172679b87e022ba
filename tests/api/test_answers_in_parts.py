"""Long answers in parts: progress, the answer as it comes alone, problems, and work that is stopped."""

from __future__ import annotations

import http.client
import json
import time
from collections.abc import Callable
from threading import Event, Thread
from typing import Any, TypedDict

import pytest
from flask import Flask, Response
from flask.testing import FlaskClient

from server.analysis.plan.solve import Progress, StoppedError
from server.api.cache import clear_caches
from server.api.progress import JSON_SEQ, in_parts
from server.operation.listening import listen
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError
from tests.api.asking import problem, stored
from tests.api.test_api_tee_plans import asked, season
from tests.records.made import Season

__all__ = ["season"]

IN_PARTS = {"Accept": f"{JSON_SEQ}, application/json"}


class Counted(TypedDict):
    """What the work of these tests answers."""

    counted: int


def records(text: str) -> list[dict[str, Any]]:
    """The records of a JSON text sequence, RFC 7464: each between a record separator and a line feed."""
    assert text.startswith("\x1e")
    assert text.endswith("\n")
    return [json.loads(record) for record in text.split("\x1e")[1:]]


def test_a_solved_plan_comes_with_its_progress_and_is_the_same(client: FlaskClient, season: Season) -> None:
    address = f"{stored(client, season)}/{asked(season, ahead='true')}"
    alone = client.get(address)
    assert alone.content_type == "application/json"
    kept = client.get(address, headers=IN_PARTS)
    assert (kept.content_type, kept.data) == ("application/json", alone.data)
    with client.application.app_context():
        clear_caches()
    answer = client.get(address, headers=IN_PARTS)
    assert (answer.status_code, answer.content_type) == (200, JSON_SEQ)
    *progress, last = records(answer.get_data(as_text=True))
    shares = [one["done"] for one in progress]
    assert len(shares) > 10
    assert shares == sorted(shares)
    assert 0 <= shares[0] < 0.1
    assert 0.9 < shares[-1] <= 1
    assert last == {"answer": alone.get_json()}


def test_a_kept_plan_goes_with_its_player(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    assert client.get(f"{address}/{asked(season)}").status_code == 200
    plans = client.application.extensions["pencilbag_cache_plans"]
    assert plans._values
    name = next(raw["body"]["name"] for raw in season.changes if raw["kind"] == "player")
    gone = client.post(f"{address}/erasure", json={"name": name, "meant": "erase everything"})
    assert gone.status_code == 204, gone.text
    assert not plans._values
    problem(client.get(f"{address}/{asked(season)}"), 404)


def test_what_tells_no_progress_and_what_is_refused_come_as_ever(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    quick = client.get(f"{address}/{asked(season)}", headers=IN_PARTS)
    assert quick.content_type == "application/json"
    assert quick.get_json() == client.get(f"{address}/{asked(season)}").get_json()
    (fault,) = problem(client.get(f"{address}/{asked(season, hole=2, ahead='true')}", headers=IN_PARTS), 422)["errors"]
    assert fault["field"] == "hole"


@pytest.fixture
def part_client(app: Flask) -> Callable[[Callable[[Progress], Any]], tuple[str, Response]]:
    """What work is answered with, asked for in parts: its text and the response, not read to its end."""

    def of(work: Callable[[Progress], Any]) -> tuple[str, Response]:
        with app.test_request_context("/api/players", headers=IN_PARTS):
            response = in_parts(work, schema_of(Counted))  # type: ignore[arg-type]
            return response.get_data(as_text=True), response

    return of


def test_an_error_after_the_first_part_is_a_problem_at_the_end(part_client: Any) -> None:
    def work(tell: Progress) -> Counted:
        tell(0.5)
        raise InvalidError([Fault("hole", "77", "1 to 18", "is outside its range")])

    first, last = records(part_client(work)[0])
    assert first == {"done": 0.5}
    assert last["problem"]["status"] == 422
    assert last["problem"]["errors"][0]["field"] == "hole"


def test_progress_is_reported_in_steps_and_never_backwards(part_client: Any) -> None:
    def work(tell: Progress) -> Counted:
        for share in (0.0, 0.004, 0.009, 0.011, 0.01, 0.5, 0.505, 1.0):
            tell(share)
        return {"counted": 8}

    *progress, last = records(part_client(work)[0])
    assert [one["done"] for one in progress] == [0.0, 0.011, 0.5, 1.0]
    assert last == {"answer": {"counted": 8}}


def test_work_is_stopped_when_its_reader_goes(app: Flask) -> None:
    ended: list[str] = []

    def work(tell: Progress) -> Counted:
        try:
            for share in range(1, 10_000):
                time.sleep(0.001)
                tell(share / 10_000)
        except StoppedError:
            ended.append("stopped")
            raise
        ended.append("through")
        return {"counted": 1}

    with app.test_request_context("/api/players", headers=IN_PARTS):
        response = in_parts(work, schema_of(Counted))  # type: ignore[arg-type]
        parts = iter(response.response)
        assert records(next(parts))[0]["done"] <= 0.01
        response.close()
    assert ended == ["stopped"]


def test_work_is_stopped_when_a_phone_hangs_up(app: Flask) -> None:
    """Over a real connection to the server that serves phones."""
    ended, stopped = [], Event()

    def work(tell: Progress) -> Counted:
        try:
            for share in range(1, 100_000):
                time.sleep(0.001)
                tell(share / 1000)
        except StoppedError:
            ended.append("stopped")
            stopped.set()
            raise
        return {"counted": 1}

    def application(environ: dict[str, Any], start: Any) -> Any:
        with app.request_context(environ):
            return in_parts(work, schema_of(Counted))(environ, start)  # type: ignore[arg-type]

    server = listen(application, "127.0.0.1", 0, 1_000_000, proxied=False)
    thread = Thread(target=server.run, daemon=True)
    thread.start()
    try:
        connection = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=30)
        connection.request("GET", "/", headers=IN_PARTS)
        answer = connection.getresponse()
        assert answer.read(16).startswith(b"\x1e")
        answer.close()
        connection.close()
        assert stopped.wait(30)
        assert ended == ["stopped"]
    finally:
        server.close()
