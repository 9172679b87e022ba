"""Two real servers over PostgreSQL and a store, for a short while: no error, nothing lost, and a loss is noticed."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.bench import bench_servers as bench
from tests.store.cluster import Cluster
from tests.store.stores import Store
from tests.tiers import count

SECONDS = count(3, 20)
PHONES = 6


@pytest.fixture(scope="module")
def running(cluster: Cluster) -> Iterator[tuple[list[int], list[bench.Phone], Store]]:
    store = Store()
    url = cluster.fresh()
    phones = bench.made_phones(url, PHONES, 2)
    with bench.servers(url, store, 2) as ports:
        yield ports, phones, store
    store.stop()
    cluster.drop(url)


def test_two_servers_meet_no_error_and_lose_nothing(running: tuple[list[int], list[bench.Phone], Store]) -> None:
    ports, phones, store = running
    met = bench.loaded(ports, phones, 2, SECONDS, rest_s=0.1)
    assert met.wrong == []
    assert len(met.pushing) >= PHONES
    assert len(met.reading) >= 2
    with store.client() as client:
        assert client.keys("pencilbag:answers:*"), "answers are shared"


def test_the_store_gone_in_the_middle_loses_nothing(running: tuple[list[int], list[bench.Phone], Store]) -> None:
    ports, phones, store = running
    store.stop()
    met = bench.loaded(ports, phones, 2, SECONDS, rest_s=0.1)
    assert met.wrong == []
    assert len(met.reading) >= 2
    turns = bench.Turns(ports, 0)
    sent = {"name": "Player 1", "password": "whatever it may be"}
    assert turns.ask("POST", "/api/sign-in", phones[1].headers, sent)[0] == 503
    turns.close()


def test_a_loss_would_be_noticed(
    running: tuple[list[int], list[bench.Phone], Store], monkeypatch: pytest.MonkeyPatch
) -> None:
    ports, phones, _ = running
    log_of = bench.log_of
    monkeypatch.setattr(bench, "log_of", lambda port, phone: log_of(port, phone)[1:])
    met = bench.loaded(ports, phones[:2], 0, 0.1, rest_s=0.1)
    assert met.wrong == [f"player {k}: 1 changes lost, 0 too many" for k in range(2)]
