"""Clients that connect and do nothing, drip, or do not read: everybody else is answered all the same."""

from __future__ import annotations

import http.client
import json
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from waitress import wasyncore

from server import create_app
from server.operation import listening
from server.operation.listening import MOST_OF_AN_ADDRESS, listen
from tests.bench.bench_sync import MOMENT, change, running
from tests.forked import start

PATIENCE_S = 30
HERE, THERE = "127.0.0.1", "127.0.0.2"
LARGEST = 100_000


def connected(port: int, source: str = HERE) -> socket.socket:
    return socket.create_connection((HERE, port), timeout=PATIENCE_S, source_address=(source, 0))


def asked(port: int, source: str = HERE, method: str = "GET", path: str = "/api/me", sent: Any = None) -> Any:
    """Status and JSON of a request on a connection of its own."""
    with closing(http.client.HTTPConnection(HERE, port, timeout=PATIENCE_S, source_address=(source, 0))) as connection:
        body = None if sent is None else json.dumps(sent)
        connection.request(method, path, body, {"Content-Type": "application/json"} if body else {})
        answer = connection.getresponse()
        return answer.status, json.loads(answer.read())


def is_open(connection: socket.socket) -> bool:
    connection.setblocking(False)
    try:
        return connection.recv(1) != b""
    except BlockingIOError:
        return True
    except OSError:
        return False


def still_open(connections: list[socket.socket]) -> int:
    return sum(map(is_open, connections))


def until(true: Callable[[], bool]) -> None:
    ends = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < ends, "it never came true"
        time.sleep(0.02)


@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    folder: Path = tmp_path_factory.mktemp("connections")
    with running(f"sqlite:///{folder / 'log.sqlite'}", start) as found:
        yield found


@contextmanager
def listened(application: Any, *, proxied: bool = False) -> Iterator[int]:
    """A server of this process, in a thread."""
    server: Any = listen(application, HERE, 0, LARGEST, proxied=proxied)
    stopped = threading.Event()

    def run() -> None:
        with suppress(OSError, ValueError):
            while not stopped.is_set():
                server.asyncore.loop(timeout=0.05, use_poll=True, map=server._map, count=1)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        yield server.effective_port
    finally:
        stopped.set()
        thread.join(PATIENCE_S)
        server.task_dispatcher.shutdown()
        server.trigger.close()
        wasyncore.close_all(server._map)


@pytest.fixture
def hurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows of half a second instead of twenty."""
    monkeypatch.setattr(listening, "WINDOW_S", 0.5)
    monkeypatch.setattr(listening, "LOOK_S", 0)


def small(_environ: dict[str, Any], start: Callable[..., Any]) -> list[bytes]:
    start("200 OK", [("Content-Type", "text/plain"), ("Content-Length", "2")])
    return [b"ok"]


def test_idle_clients_of_one_address_make_room(port: int) -> None:
    with ExitStack() as stack:
        idle = [stack.enter_context(connected(port, THERE)) for _ in range(MOST_OF_AN_ADDRESS + 50)]
        assert asked(port)[0] == 200
        assert asked(port, THERE)[0] == 200
        # those that asked last took the places of the eldest
        until(lambda: still_open(idle) <= MOST_OF_AN_ADDRESS)
        assert still_open(idle) >= MOST_OF_AN_ADDRESS - 5
        assert not is_open(idle[0])
        assert is_open(idle[-1])


def test_behind_a_proxy_addresses_say_nothing() -> None:
    with listened(small, proxied=True) as own, ExitStack() as stack:
        through = [stack.enter_context(connected(own)) for _ in range(MOST_OF_AN_ADDRESS + 20)]
        stack.enter_context(connected(own, THERE))
        time.sleep(0.5)
        assert still_open(through) == len(through)


def test_a_full_house_makes_room_at_the_most_crowded_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listening.BoundedServer, "most", 20)
    with listened(small) as own, ExitStack() as stack:
        friend = stack.enter_context(connected(own))
        idle = [stack.enter_context(connected(own, THERE)) for _ in range(30)]
        until(lambda: still_open(idle) <= 20)
        assert is_open(friend)
        friend.setblocking(True)
        friend.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert friend.recv(100).startswith(b"HTTP/1.1 200 OK")


def test_a_push_is_answered_beside_500_idle_connections_slow_bodies_and_slow_readers(port: int) -> None:
    with ExitStack() as stack:
        addresses = [f"127.0.1.{number}" for number in range(1, 7)]
        for number in range(500):
            stack.enter_context(connected(port, addresses[number % 5]))
        for _ in range(50):
            slow = stack.enter_context(connected(port, addresses[5]))
            head = b"POST /api/players/x/changes HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
            slow.sendall(head + b"Content-Length: 3000000\r\n\r\n{")
            reader = stack.enter_context(connected(port, addresses[5]))
            reader.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            reader.sendall(b"GET /api/openapi.json HTTP/1.1\r\nHost: localhost\r\n\r\n")
        player, club = str(change("club", {})["record_id"]), change("club", {"label": "7 iron", "sort": "iron"})
        sent = {"device_id": "phone", "now": MOMENT, "changes": [club]}
        status, told = asked(port, HERE, "POST", f"/api/players/{player}/changes", sent)
        assert (status, told["acknowledged"]) == (200, [club["change_id"]])
        assert asked(port, addresses[5])[0] == 200


@pytest.mark.usefixtures("hurried")
def test_a_body_that_drips_is_ended_and_one_that_moves_is_not() -> None:
    with listened(small) as own, connected(own) as slow, connected(own) as quick:
        head = b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 50000\r\n\r\n"
        slow.sendall(head)
        quick.sendall(head)
        ended = 0
        for _ in range(50):
            quick.sendall(b"x" * 1000)
            if not ended:
                try:
                    slow.sendall(b"x")
                    ended = 0 if is_open(slow) else 1
                except OSError:
                    ended = 1
                slow.setblocking(True)
            time.sleep(0.05)
        assert ended
        assert quick.recv(100).startswith(b"HTTP/1.1 200 OK")


@pytest.mark.usefixtures("hurried")
def test_a_header_that_drips_is_ended() -> None:
    with listened(small) as own, connected(own) as slow:
        slow.sendall(b"GET / HTTP/1.1\r\nX-Slow: ")

        def ended() -> bool:
            try:
                slow.send(b"x")
            except BlockingIOError:
                return False
            except OSError:
                return True
            return not is_open(slow)

        until(ended)


@pytest.mark.usefixtures("hurried")
def test_a_reader_who_does_not_read_gives_its_thread_back() -> None:
    ended = threading.Event()

    def endless(_environ: dict[str, Any], start: Callable[..., Any]) -> Iterator[bytes]:
        start("200 OK", [("Content-Type", "text/plain")])
        try:
            while True:
                yield b"x" * 1_000_000
        finally:
            ended.set()

    with listened(endless) as own, connected(own) as reader:
        reader.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert ended.wait(PATIENCE_S)


@pytest.mark.usefixtures("hurried")
def test_an_answer_that_takes_its_time_is_not_ended() -> None:
    def slow(_environ: dict[str, Any], start: Callable[..., Any]) -> Iterator[bytes]:
        start("200 OK", [("Content-Type", "text/plain"), ("Content-Length", "2")])
        yield b"o"
        time.sleep(1.5)
        yield b"k"

    with listened(slow) as own, closing(http.client.HTTPConnection(HERE, own, timeout=PATIENCE_S)) as connection:
        connection.request("GET", "/")
        assert connection.getresponse().read() == b"ok"


def test_a_body_that_is_too_large_is_refused_before_it_is_sent(port: int) -> None:
    with connected(port) as sender:
        head = b"POST /api/players/x/changes HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        sender.sendall(head + b"Content-Length: 150000000\r\n\r\n")
        answer = http.client.HTTPResponse(sender)
        answer.begin()
        told = json.loads(answer.read())
    assert (answer.status, answer.headers["Content-Type"]) == (413, "application/problem+json")
    assert told["detail"] == "A request may have up to 4000000 bytes; send fewer changes."


def test_who_sends_on_all_the_same_still_reads_the_refusal() -> None:
    with listened(small) as own:
        for _ in range(10):
            with closing(http.client.HTTPConnection(HERE, own, timeout=PATIENCE_S)) as connection:
                connection.request("POST", "/", b"x" * 3_000_000)
                answer = connection.getresponse()
                assert (answer.status, json.loads(answer.read())["status"]) == (413, 413)


def test_the_largest_body_is_taken() -> None:
    def length(environ: dict[str, Any], start: Callable[..., Any]) -> list[bytes]:
        start("200 OK", [("Content-Type", "text/plain")])
        return [str(len(environ["wsgi.input"].read())).encode()]

    with listened(length) as own:
        for sent in (LARGEST, LARGEST + 1):
            with closing(http.client.HTTPConnection(HERE, own, timeout=PATIENCE_S)) as connection:
                connection.request("POST", "/", b"x" * sent)
                answer = connection.getresponse()
                assert answer.status == (200 if sent == LARGEST else 413)


def test_a_header_that_is_too_large_is_a_problem_document(port: int) -> None:
    with connected(port) as sender:
        sender.sendall(b"GET /api/me HTTP/1.1\r\nHost: localhost\r\nX-Long: " + b"x" * 40_000)
        answer = http.client.HTTPResponse(sender)
        answer.begin()
        told = json.loads(answer.read())
    assert (answer.status, told["detail"]) == (431, "The header of a request may hold up to 32768 bytes.")


def test_the_application_says_the_same_of_a_body_that_is_too_large() -> None:
    """Where another server stands before it."""
    app = create_app({"DATABASE": "sqlite://", "MAX_CONTENT_LENGTH": 1000})
    told = app.test_client().post("/api/sign-in", data="x" * 1001, content_type="application/json").json
    assert told["detail"] == "A request may have up to 1000 bytes; send fewer changes."
