"""Heavy answers come from worker processes, and are the same as without them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from server import create_app
from server.api.heavy import HEAVY, LOOKED_UP
from server.operation.workers import OverloadedError, WorkerDiedError, Workers
from tests.api.asking import problem
from tests.api.people import House, house
from tests.operation.test_health_and_metrics import counted

LEFT_OUT = {"X-Request-Id", "Date", "Content-Length"}


@pytest.fixture(scope="module")
def houses(
    new_database: Callable[[str, Path], str], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[House, House]]:
    """The same database with workers and without."""
    with ExitStack() as stack:
        plain = house(new_database("sqlite", tmp_path_factory.mktemp("heavy")))
        stack.callback(plain.engine.dispose)
        helped = house_on(plain, WORKERS=1)
        stack.callback(helped.engine.dispose)
        stack.callback(helped.app.extensions["pencilbag_workers"].close)
        yield helped, plain


def house_on(other: House, **config: Any) -> House:
    app = create_app({"DATABASE": other.app.config["DATABASE"], "SECRET": other.app.config["SECRET"], **config})
    return House(app, other.robin, other.sam, other.accounts)


def course_of(one: House) -> str:
    return next(raw["record_id"] for raw in one.robin.changes if raw["kind"] == "course")


def paths(one: House) -> list[str]:
    player = f"/api/players/{one.robin.player_id}"
    season = next(raw["body"]["played_on"][:4] for raw in one.robin.changes if raw["kind"] == "round")
    return [
        *(f"{player}/{what}" for what in ("strokes-gained", "scores", "putting", "part-swings", "priorities")),
        *(f"{player}/{what}" for what in ("patterns", "distances", "everything", "compared?beside_to=2026-01-01")),
        f"{player}/trial?a=driver&b=putter",
        f"{player}/hole-maps?course_id={course_of(one)}&frame=yards",
        f"{player}/tee-plan?course_id={course_of(one)}&hole=1",
        f"{player}/tee-plan?course_id={course_of(one)}&hole=99",
        "/api/squad",
        f"/api/season/{season}/datapackage.json",
        f"/api/season/{season}/shots.csv",
        f"/api/season/{season}/rounds.xlsx",
        "/api/season/1066/shots.csv",
    ]


def test_answers_are_the_same(houses: tuple[House, House]) -> None:
    helped, plain = houses
    one, other = helped.client("Robin"), plain.client("Robin")
    for path in paths(helped):
        for method in ("GET", "HEAD"):
            here, there = one.open(path, method=method), other.open(path, method=method)
            assert (here.status_code, here.data) == (there.status_code, there.data), path
            names = set(there.headers.keys()) - LEFT_OUT
            assert {name: here.headers.getlist(name) for name in names} == {
                name: there.headers.getlist(name) for name in names
            }, path
            assert LOOKED_UP not in here.headers
            if here.status_code == 200 and "ETag" in here.headers:
                again = one.get(path, headers={"If-None-Match": here.headers["ETag"]})
                assert (again.status_code, again.data) == (304, b""), path


def test_a_table_is_imported_and_a_player_erased(houses: tuple[House, House]) -> None:
    helped, _ = houses
    client, player = helped.client("Sam"), f"/api/players/{helped.sam.player_id}"
    table = "played_on,hole,par,length_yd,shot,lie,distance,club,holed\n2026-03-03,1,3,150,1,tee,150,7 iron,\n"
    table += "2026-03-03,1,3,150,2,green,10,putter,yes\n"
    told = client.post(f"{player}/import", json={"table": table, "dry_run": False}).get_json()
    assert (told["stored"], told["rows"]) == (True, 2)
    assert problem(client.post(f"{player}/import", json={"table": "nothing"}), 422)["errors"]
    name = helped.sam.changes[0]["body"]["name"]
    gone = client.post(f"{player}/erasure", json={"name": name, "meant": "erase everything"})
    assert (gone.status_code, gone.data) == (204, b"")
    assert "pencilbag_session=;" in gone.headers["Set-Cookie"]
    assert problem(client.get(f"{player}/scores"), 401)


def test_refused_requests_do_not_reach_the_workers(
    houses: tuple[House, House], monkeypatch: pytest.MonkeyPatch
) -> None:
    helped, _ = houses

    def never(*_: Any) -> None:
        raise AssertionError

    monkeypatch.setattr(Workers, "answer", never)
    for path in paths(helped):
        assert helped.client(None).get(path).status_code == 401
    assert helped.client("Hazel").get(f"/api/players/{helped.robin.player_id}/scores").status_code == 404


def test_light_requests_need_no_worker(houses: tuple[House, House], monkeypatch: pytest.MonkeyPatch) -> None:
    helped, _ = houses
    monkeypatch.setattr(Workers, "answer", _crowded)
    client, player = helped.client("Robin"), f"/api/players/{helped.robin.player_id}"
    sent = {"device_id": "phone", "changes": helped.robin.changes}
    assert client.post(f"{player}/changes", json=sent).status_code == 200
    for path in (f"{player}/changes", f"{player}/rounds", player, "/api/me"):
        assert client.get(path).status_code == 200


def _crowded(*_: Any) -> None:
    raise OverloadedError


def _died(*_: Any) -> None:
    raise WorkerDiedError


def test_over_the_bound_it_is_503_with_a_time(houses: tuple[House, House], monkeypatch: pytest.MonkeyPatch) -> None:
    helped, _ = houses
    monkeypatch.setattr(Workers, "answer", _crowded)
    answer = helped.client("Robin").get(f"/api/players/{helped.robin.player_id}/scores")
    assert "Too many" in problem(answer, 503)["detail"]
    assert int(answer.headers["Retry-After"]) > 0


def test_a_worker_that_dies_is_reported_as_our_fault(
    houses: tuple[House, House], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    helped, _ = houses
    monkeypatch.setattr(Workers, "answer", _died)
    problem(helped.client("Robin").get(f"/api/players/{helped.robin.player_id}/scores"), 500)
    assert "a worker ended" in caplog.text


def test_look_ups_in_workers_are_counted(houses: tuple[House, House]) -> None:
    helped, _ = houses
    client: FlaskClient = helped.client("Robin")
    before = [counted(client, "pencilbag_cache_lookups_total", result=result) for result in ("hit", "miss")]
    for _ in range(2):
        path = f"/api/players/{helped.robin.player_id}/strokes-gained?by=round&level=0.83"
        assert client.get(path).status_code == 200
    after = [counted(client, "pencilbag_cache_lookups_total", result=result) for result in ("hit", "miss")]
    assert after[0] > before[0]
    assert after[1] > before[1]


def test_every_heavy_endpoint_is_there(houses: tuple[House, House]) -> None:
    assert {rule.endpoint for rule in houses[0].app.url_map.iter_rules()} >= HEAVY
