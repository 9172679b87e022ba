"""Listening: waitress, with bounds that no stranger can use up.

What waitress bounds by itself is set here: body, header, threads, idle time. What it does not bound is added:

- a full server and a crowded address make room for a newcomer by closing the connection that was idle for longest, so
  that idle clients lock nobody out;
- a request that drips in, and an answer that is hardly read, are ended by their rate, whatever they cost by then;
- what is refused before the application saw it is a problem document (RFC 9457) too.

All numbers are choices of this tool.
"""

from __future__ import annotations

import ipaddress
import json
import resource
import socket
import time
from collections import Counter
from collections.abc import Callable, Iterable
from typing import Any, Final, TypeAlias

from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import MultiSocketServer, TcpWSGIServer
from waitress.task import ErrorTask, ThreadedTaskDispatcher

THREADS: Final = 24
"""Of these at most 16 run or wait for a heavy answer (`server.api.heavy`); the others answer phones."""
RECEIVED_AT_ONCE: Final = 65_536
"""Bytes taken from a connection in one step: a pushed round in one or two."""

MOST_CONNECTIONS: Final = 1000
MOST_OF_AN_ADDRESS: Final = 100
"""A clubhouse of phones behind one line: a browser keeps up to six."""
FILES: Final = 4 * MOST_CONNECTIONS
"""File descriptors asked for: a connection, a long body and a long answer have one each."""

LARGEST_HEADER: Final = 32_768
IN_MEMORY: Final = 262_144
"""Bytes of a body or an answer that a connection holds in memory; what is more lies in a temporary file."""

IDLE_S: Final = 60
LOOK_S: Final = 5
"""Seconds between two looks at all connections."""
WINDOW_S: Final = 20.0
SLOWEST: Final = 1000
"""Bytes a second, over a window: a phone with the poorest signal has several times that."""
SLOWEST_OF_A_THREAD: Final = 262_144
"""The same of a reader who keeps a thread waiting: its answer is longer than what waits beside (16 MB)."""
LINGER_S: Final = 5.0
"""How long what is still sent after a refusal is thrown away, so that the sender sees the refusal."""

Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]
Listening: TypeAlias = TcpWSGIServer | MultiSocketServer


def listen(application: Application, host: str, port: int, largest_body: int, *, proxied: bool) -> Listening:
    """A server that listens and has not begun to run. OSError when the place is taken.

    `largest_body`: bytes of a request's body; `proxied`: connections come from a proxy, so their address says nothing.
    """
    _allow_files(FILES)
    settings = Adjustments(
        host=host,
        port=port,
        threads=THREADS,
        recv_bytes=RECEIVED_AT_ONCE,
        max_request_header_size=LARGEST_HEADER,
        # waitress refuses from this size on
        max_request_body_size=largest_body + 1,
        inbuf_overflow=IN_MEMORY,
        outbuf_overflow=IN_MEMORY,
        # beyond our own bound: waitress would leave everybody waiting, newcomers and their elders
        connection_limit=2 * MOST_CONNECTIONS,
        channel_timeout=IDLE_S,
        cleanup_interval=LOOK_S,
        asyncore_use_poll=True,
        # whom the application believes about forwarded requests is PENCILBAG_PROXIES' to say
        clear_untrusted_proxy_headers=False,
        ident=None,
    )
    dispatcher = ThreadedTaskDispatcher()
    dispatcher.set_thread_count(settings.threads)
    everything: dict[int, Any] = {}
    servers = []
    try:
        for place in settings.listen:
            made = BoundedServer(application, everything, dispatcher=dispatcher, adj=settings, sockinfo=place)
            made.most_of_an_address = MOST_CONNECTIONS if proxied else MOST_OF_AN_ADDRESS
            servers.append(made)
    except BaseException:
        dispatcher.shutdown()
        raise
    if len(servers) == 1:
        return servers[0]
    places = [(one.effective_host, one.effective_port) for one in servers]
    return MultiSocketServer(everything, settings, places, dispatcher, servers[0].log_info)


def _allow_files(wanted: int) -> None:
    """Let this process have so many open files, as far as the machine lets it."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    most = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
    if soft != resource.RLIM_INFINITY and soft < most:
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))


class ProblemTask(ErrorTask):  # type: ignore[misc]
    """Tells what waitress refused as a problem document."""

    def execute(self) -> None:
        """Write the answer; the connection ends with it."""
        error, settings = self.request.error, self.channel.adj
        largest = settings.max_request_body_size - 1
        reported = {
            413: f"A request may have up to {largest} bytes; send fewer changes.",
            431: f"The header of a request may hold up to {settings.max_request_header_size} bytes.",
        }.get(error.code, str(error.body))
        problem = {"type": "about:blank", "title": error.reason, "status": error.code, "detail": reported}
        body = json.dumps(problem).encode()
        self.status = f"{error.code} {error.reason}"
        self.response_headers += [("Content-Type", "application/problem+json"), ("X-Content-Type-Options", "nosniff")]
        self.set_close_on_finish()
        self.channel.has_refused = True
        self.content_length = len(body)
        self.write(body)


class BoundedChannel(HTTPChannel):  # type: ignore[misc]
    """One connection that is ended when it moves too little, and that lets a refusal arrive."""

    error_task_class = ProblemTask
    has_refused = False
    lingers_until: float | None = None

    def __init__(self, server: BoundedServer, sock: socket.socket, *more: Any, **named: Any) -> None:
        self.moved = 0
        self.window: tuple[float, int] | None = None
        super().__init__(server, sock, *more, **named)
        self.whose = _line_of(self.addr)

    @property
    def is_idle(self) -> bool:
        """Nothing is asked, and nothing is being sent."""
        return not self.requests and self.request is None and not self.total_outbufs_len

    @property
    def may_go(self) -> bool:
        """No thread works for it, and no answer waits to be read."""
        return not self.requests and not self.total_outbufs_len

    def recv(self, size: int) -> bytes:
        """What came in, counted."""
        found: bytes = super().recv(size)
        self.moved += len(found)
        return found

    def send(self, data: bytes, do_close: bool = True) -> int:
        """How much went out, counted."""
        sent: int = super().send(data, do_close)
        self.moved += sent
        return sent

    def look(self, now: float) -> None:
        """End it when it lingers too long, or when it moved too little while somebody waited for its other end."""
        if self.lingers_until is not None:
            if now >= self.lingers_until:
                self.end()
            return
        waits_for_reader = self.total_outbufs_len > 0
        if not waits_for_reader and (self.request is None or self.requests):
            self.window = None
        elif self.window is None:
            self.window = now, self.moved
        elif (spent := now - self.window[0]) >= WINDOW_S:
            holds_thread = self.requests and self.total_outbufs_len > self.adj.outbuf_high_watermark
            rate = SLOWEST_OF_A_THREAD if holds_thread else SLOWEST
            if self.moved - self.window[1] < rate * spent:
                self.end()
            self.window = now, self.moved

    def end(self) -> None:
        """Close it soon. Shut down it is ready to be written to, so that the loop closes it though nobody reads."""
        self.will_close, self.has_refused = True, False
        self.lingers_until = None
        try:
            self.socket.shutdown(socket.SHUT_RDWR)
        except OSError:
            return  # the other end is gone already, and the loop knows

    def readable(self) -> bool:
        """Whether more is to be taken from it."""
        return self.lingers_until is not None or bool(super().readable())

    def handle_read(self) -> None:
        """Take what came; after a refusal only to throw it away."""
        if self.lingers_until is None:
            super().handle_read()
            return
        try:
            gone = not self.recv(self.adj.recv_bytes)
        except OSError:
            gone = True
        if gone and self.connected:
            self.end()

    def handle_close(self) -> None:
        """Close it; after a refusal only this end at first, for a reset would overtake the answer."""
        if self.has_refused and self.connected:
            self.has_refused = self.will_close = False
            try:
                self.socket.shutdown(socket.SHUT_WR)
            except OSError:
                pass
            else:
                self.lingers_until = time.time() + LINGER_S
                return
        super().handle_close()


class BoundedServer(TcpWSGIServer):  # type: ignore[misc]
    """A listening socket whose connections are bounded in all and by address."""

    channel_class = BoundedChannel
    most_of_an_address = MOST_OF_AN_ADDRESS
    most = MOST_CONNECTIONS

    def handle_accept(self) -> None:
        """Take a newcomer in, and end another connection where that makes one too many."""
        super().handle_accept()
        channels = [one for one in self._map.values() if isinstance(one, BoundedChannel) and not one.will_close]
        if not channels:
            return
        newest = channels[-1]
        same = [one for one in channels if one.whose == newest.whose]
        if len(same) > self.most_of_an_address:
            _first_to_go(same).end()
        elif len(channels) > self.most:
            crowded, _ = Counter(one.whose for one in channels).most_common(1)[0]
            _first_to_go([one for one in channels if one.whose == crowded]).end()

    def maintenance(self, now: float) -> None:
        """Look at every connection, every few seconds."""
        super().maintenance(now)
        for channel in list(self.active_channels.values()):
            channel.look(now)


def _first_to_go(channels: list[BoundedChannel]) -> BoundedChannel:
    """The idle one that was quiet for longest; else the one whose request is longest on its way; else the newest."""
    idle = [one for one in channels[:-1] if one.is_idle] or [one for one in channels[:-1] if one.may_go]
    return min(idle, key=lambda one: one.last_activity, default=channels[-1])


def _line_of(address: Any) -> str:
    """Whose connections are counted together: an IPv4 address, or an IPv6 network of 64 bits, which is one line's."""
    stated = str(address[0]) if address else ""
    try:
        found = ipaddress.ip_address(stated.partition("%")[0])
    except ValueError:
        return stated
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is None:
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)
