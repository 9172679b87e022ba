"""What servers share: attempts, answers, erasures, what one address asks at once; and what happens when it is gone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa

from server import create_app
from server.api import asking
from server.api.attempts import limiter
from server.operation.settings import SettingError
from server.operation.shared import LONGEST_S, MOST_AT_ONCE, REST_S, Shared, checked_address, limits_address
from server.store.engine import writing
from server.store.tables import SHOT
from tests.api.asking import problem
from tests.api.people import SECRET, House, house
from tests.store.stores import Store


@pytest.fixture(scope="module")
def running() -> Iterator[Store]:
    found = Store()
    yield found
    found.stop()


@pytest.fixture
def store(running: Store) -> Iterator[Store]:
    with running.client() as client:
        client.flushall()
    yield running
    if running.process.poll() is not None:
        running.start()
    # the counters of attempts are one object of the whole process
    create_app({"DATABASE": "sqlite://"}).extensions["pencilbag_engine"].dispose()


@pytest.fixture
def two(store: Store, tmp_path: Any) -> Iterator[tuple[House, House]]:
    """One house, asked through two applications that share a store."""
    url = f"sqlite:///{tmp_path / 'log.sqlite'}"
    first = house(url)
    apps = [create_app({"DATABASE": url, "SECRET": SECRET, "SHARED": store.address}) for _ in range(2)]
    yield replace(first, app=apps[0]), replace(first, app=apps[1])
    for app in apps:
        app.extensions["pencilbag_engine"].dispose()
    first.engine.dispose()


def summary(full: House, name: str = "Robin") -> Any:
    return full.client(name).get(f"/api/players/{full.robin.player_id}/strokes-gained")


def test_an_answer_of_one_server_is_given_by_the_other(two: tuple[House, House], monkeypatch: Any) -> None:
    first, second = two
    told = summary(first)
    assert told.status_code == 200

    def never(*_: Any, **__: Any) -> Any:
        raise AssertionError("worked out again")

    monkeypatch.setattr(asking.Asked, "snapshot", never)
    assert summary(second).data == told.data
    problem(summary(second, "Hazel"), 404)


def test_a_push_and_a_competition_end_what_is_shared(two: tuple[House, House]) -> None:
    first, second = two
    before = summary(first).get_json()
    body = {"played_on": "2026-06-20", "kind": "competition", "holes": [{"number": 1, "par": 4, "length_yd": 400}]}
    first.robin.changes.clear()
    round_id = first.robin.put("round", "cup", body | {"bag": []})
    sent = {"device_id": "phone", "changes": first.robin.changes}
    address = f"/api/players/{first.robin.player_id}/changes"
    assert first.client("Robin").post(address, json=sent).status_code == 200
    problem(summary(second), 423)
    parent = first.robin.changes[-1]["change_id"]
    first.robin.changes.clear()
    first.robin.put("round", "cup", body | {"bag": [], "closed": True}, parents=[parent])
    assert first.client("Robin").post(address, json=sent).status_code == 200
    assert round_id
    assert summary(second).get_json()["total"]["shots"] == before["total"]["shots"]


def test_who_was_erased_is_forgotten_in_the_store_and_by_the_other_server(
    two: tuple[House, House], store: Store
) -> None:
    first, second = two
    for one in two:
        assert summary(one).status_code == 200
        assert one.client("Sam").get(f"/api/players/{one.sam.player_id}/strokes-gained").status_code == 200
    answers = second.app.extensions["pencilbag_cache_answers"]
    assert len(answers._values) == 2
    with store.client() as client:
        assert client.keys(f"*{first.robin.player_id}*")
        meant = {"name": "Robin", "meant": "erase everything"}
        done = first.client("Robin").post(f"/api/players/{first.robin.player_id}/erasure", json=meant)
        assert done.status_code == 204, done.text
        assert not client.keys(f"*{first.robin.player_id}*")
    assert second.client("Sam").get(f"/api/players/{second.sam.player_id}/strokes-gained").status_code == 200
    assert len(answers._values) == 1, "of Sam alone"


def test_answers_stay_no_longer_than_in_memory(two: tuple[House, House], store: Store) -> None:
    first, _ = two
    summary(first)
    with store.client() as client:
        (key,) = client.keys("pencilbag:answers:*")
        assert 0 < client.ttl(key) <= LONGEST_S
        client.expire(key, 60)
        first.client("Robin").get(f"/api/players/{first.robin.player_id}/strokes-gained?by=lie")
        assert client.hlen(key) == 2
        assert client.ttl(key) <= 60, "one more answer does not let the others grow older"


def attempt(full: House) -> Any:
    return full.app.test_client().post("/api/sign-in", json={"name": "Robin", "password": "no"})


def test_attempts_are_counted_over_all_servers(two: tuple[House, House]) -> None:
    found = [attempt(two[turn % 2]).status_code for turn in range(12)]
    assert found == [401] * 10 + [429] * 2


def test_without_the_store_nobody_signs_in_and_answers_go_on(two: tuple[House, House], store: Store) -> None:
    first, second = two
    before = summary(first).data
    clients = first.client("Robin"), second.client("Robin")
    store.stop()
    for one in two:
        answer = problem(attempt(one), 503)
        assert "attempts cannot be counted" in answer["detail"]
    for client in clients:
        answer = client.get(f"/api/players/{first.robin.player_id}/strokes-gained")
        assert (answer.status_code, answer.data) == (200, before)
    with writing(first.engine) as connection:
        connection.execute(sa.select(SHOT.c.record_id).limit(1))
    meant = {"name": "Robin", "meant": "erase everything"}
    assert clients[0].post(f"/api/players/{first.robin.player_id}/erasure", json=meant).status_code == 204
    store.start()
    assert attempt(second).status_code == 401


def test_wrong_tokens_are_counted_without_the_store(two: tuple[House, House], store: Store) -> None:
    store.stop()
    client = two[0].app.test_client()
    wrong = {"Authorization": "Bearer " + "x" * 43}
    found = [client.get("/api/players", headers=wrong).status_code for _ in range(62)]
    assert found == [401] * 60 + [429] * 2


def test_what_one_address_asks_at_once_is_bounded_over_all_servers(store: Store) -> None:
    first, second = Shared(store.address), Shared(store.address)
    tokens = [(first, second)[turn % 2].begin("192.0.2.7") for turn in range(MOST_AT_ONCE)]
    assert None not in tokens
    assert first.begin("192.0.2.7") is None
    assert second.begin("192.0.2.8") is not None
    second.end("192.0.2.7", str(tokens[0]))
    assert first.begin("192.0.2.7") is not None


def test_a_store_that_failed_is_left_alone_for_a_while(store: Store) -> None:
    now = [0.0]
    shared = Shared(store.address, clock=lambda: now[0])
    shared.keep_answer("a player", "an answer", "words")
    assert shared.answer("a player", "an answer") == "words"
    store.stop()
    assert shared.answer("a player", "an answer") is None
    assert shared.begin("192.0.2.7"), "nothing is counted"
    store.start()
    shared.keep_answer("a player", "an answer", "words")
    assert shared.answer("a player", "an answer") is None, "it rests"
    now[0] = REST_S + 1
    shared.keep_answer("a player", "an answer", "words")
    assert shared.answer("a player", "an answer") == "words"


@pytest.mark.parametrize("address", ["localhost", "http://127.0.0.1/", "redis://", "unix://", "redis://h:no/0"])
def test_an_address_that_is_none_is_named_without_its_password(address: str) -> None:
    with pytest.raises(SettingError, match=r"PENCILBAG_SHARED: .* is no address of a store: redis://HOST"):
        checked_address(address)


def test_the_counters_take_the_same_address() -> None:
    create_app({"DATABASE": "sqlite://"}).extensions["pencilbag_engine"].dispose()
    assert limits_address("") == "memory://"
    assert limits_address("unix:///run/valkey.sock") == "redis+unix:///run/valkey.sock"
    assert limits_address("redis://127.0.0.1:6379/0") == "redis://127.0.0.1:6379/0"
    assert limiter.limiter.storage.check()
