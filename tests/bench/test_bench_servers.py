"""Two real servers over PostgreSQL and a store, for a short while: no error, nothing lost, and a loss is noticed."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from server.api.attempts import WRONG_TOKENS
from tests.bench import bench_servers as bench
from tests.bench.proxy import Proxy
from tests.forked import start
from tests.store.cluster import Cluster
from tests.store.stores import Store
from tests.tiers import count

SECONDS = count(1, 20)
PHONES = 6


@pytest.fixture(scope="module")
def running(cluster: Cluster) -> Iterator[tuple[list[int], list[bench.Phone], Store]]:
    store = Store()
    url = cluster.fresh()
    phones = bench.made_phones(url, PHONES, 2)
    with bench.servers(url, store, 2, start=start) as ports:
        yield ports, phones, store
    store.stop()
    cluster.drop(url)


def test_two_servers_lose_nothing_with_their_store_and_without_it(
    running: tuple[list[int], list[bench.Phone], Store],
) -> None:
    ports, phones, store = running
    met = bench.loaded(ports, phones, 2, SECONDS, rest_s=0.1)
    assert met.wrong == []
    assert len(met.pushing) >= PHONES
    assert len(met.reading) >= 2
    with store.client() as client:
        assert client.keys("pencilbag:answers:*"), "answers are shared"
    store.stop()
    met = bench.loaded(ports, phones, 2, SECONDS, rest_s=0.1)
    assert met.wrong == []
    assert len(met.reading) >= 2
    turns = bench.Turns(ports, 0)
    sent = {"name": "Player 1", "password": "whatever it may be"}
    assert turns.ask("POST", "/api/sign-in", phones[1].headers, sent)[0] == 503
    turns.close()


def test_the_documented_proxy_before_two_servers(running: tuple[list[int], list[bench.Phone], Store]) -> None:
    """The guide's own configuration: both servers answer, nothing is lost, and limits count each client by itself,
    whatever address it claims to have."""
    ports, phones, store = running
    with Proxy(ports) as proxy:
        met = bench.loaded([proxy], phones[:4], 1, 0.5, rest_s=0.05)
        assert met.wrong == []
        guesser, other = (bench.Turns([proxy], 0, address) for address in ("127.2.0.1", "127.2.0.2"))
        wrong = phones[0].headers | {"Authorization": "Bearer of-nobody"}
        statuses = []
        while statuses[-1:] != [429] and len(statuses) < 200:
            claimed = {"X-Forwarded-For": f"203.0.113.{len(statuses)}"}
            statuses.append(guesser.ask("GET", "/api/players", wrong | claimed)[0])
        # without the store each of the two servers counts for itself
        counting = 1 if store.process.poll() is None else len(ports)
        assert WRONG_TOKENS.amount <= statuses.count(401) <= WRONG_TOKENS.amount * counting
        assert (statuses[-1], len(statuses)) == (429, statuses.count(401) + 1)
        assert other.ask("GET", "/api/players", wrong)[0] == 401
        connection = other.connections[0]
        connection.request("GET", "/api/players", headers=phones[0].headers)
        answer = connection.getresponse()
        assert (answer.status, answer.headers["Strict-Transport-Security"]) == (200, "max-age=31536000")
        guesser.close()
        other.close()
        asked = proxy.asked()
    assert {server for _, server, _ in asked} == {f"127.0.0.1:{port}" for port in ports}
    assert {client for client, _, _ in asked} == {*(phone.address for phone in phones[:4]), "127.2.0.1", "127.2.0.2"}


def test_a_loss_would_be_noticed(
    running: tuple[list[int], list[bench.Phone], Store], monkeypatch: pytest.MonkeyPatch
) -> None:
    ports, phones, _ = running
    log_of = bench.log_of
    monkeypatch.setattr(bench, "log_of", lambda way, phone: log_of(way, phone)[1:])
    met = bench.loaded(ports, phones[:2], 0, 0.1, rest_s=0.1)
    assert met.wrong == [f"player {k}: 1 changes lost, 0 too many" for k in range(2)]
