"""What several servers share in a Valkey or Redis: answers that are still true, who was erased, how much one address
asks at once. Attempts to sign in are counted there too, by `server.api.attempts`.

Nothing lies there alone: without the store answers are worked out, as by one server. It is asked with little patience,
and after a failure not at all for a while, so that no answer waits for it twice.
"""

from __future__ import annotations

import logging
import time
import uuid
import zlib
from collections.abc import Callable
from threading import Lock
from typing import Any, Final, TypeVar
from urllib.parse import urlsplit

import redis

from server.operation.settings import PREFIX, SettingError

LOG = logging.getLogger("pencilbag")

SCHEMES: Final = ("redis", "rediss", "unix")
WAIT_S: Final = 0.5
"""How long the store may take to connect and to answer."""
REST_S: Final = 5.0
"""How long it is not asked after it failed."""
LONGEST_S: Final = 150
"""How long an answer is kept, as in memory (`server.questions.cache`)."""
MOST_CONNECTIONS: Final = 32
"""Of one process."""
MOST_AT_ONCE: Final = 24
"""Answers that take long which one address may have in work at once, over all servers: a stated choice."""
LONGEST_ANSWER_S: Final = 600
"""After which one is no longer counted: its server may have died."""
_ANSWERS: Final = "pencilbag:answers:"
_ERASED: Final = "pencilbag:erased"
_RUNNING: Final = "pencilbag:running:"
_KEEP: Final = """
redis.call('HSET', KEYS[1], ARGV[1], ARGV[2])
redis.call('EXPIRE', KEYS[1], ARGV[3], 'NX')
"""
_BEGIN: Final = """
redis.call('ZREMRANGEBYSCORE', KEYS[1], '-inf', ARGV[1])
if redis.call('ZCARD', KEYS[1]) >= tonumber(ARGV[3]) then return 0 end
redis.call('ZADD', KEYS[1], ARGV[2], ARGV[4])
redis.call('EXPIREAT', KEYS[1], ARGV[2])
return 1
"""

T = TypeVar("T")


class Shared:
    """The store at an address. SettingError for an address that is none."""

    def __init__(self, address: str, clock: Callable[[], float] = time.monotonic) -> None:
        self.address = checked_address(address)
        self.client = redis.Redis(connection_pool=_pool(self.address))
        self._keep = self.client.register_script(_KEEP)
        self._begin = self.client.register_script(_BEGIN)
        self._clock = clock
        self._rests_until = 0.0
        self._erased: bytes | None = None
        self._lock = Lock()

    def answer(self, player_id: str, name: str) -> str | None:
        """The answer of that name about a player, None without one."""
        found = self._try(lambda: self.client.hget(f"{_ANSWERS}{player_id}", name), None)
        return None if found is None else zlib.decompress(found).decode()

    def keep_answer(self, player_id: str, name: str, text: str) -> None:
        """Keep it for all servers. All answers about a player go together, `LONGEST_S` after the first was kept."""

        given: list[str | int | bytes] = [name, zlib.compress(text.encode(), 1), LONGEST_S]
        self._try(lambda: self._keep(keys=[f"{_ANSWERS}{player_id}"], args=given), None)

    def forget(self, player_id: str) -> None:
        """Keep nothing of a player who was erased, and tell the other servers."""

        def drop() -> None:
            self.client.delete(f"{_ANSWERS}{player_id}")
            self.client.set(_ERASED, uuid.uuid4().hex)

        self._try(drop, None)

    def erased_elsewhere(self) -> bool:
        """Whether somebody was erased since this was asked last: then what this process keeps is to go."""
        found = self._try(lambda: self.client.get(_ERASED), self._erased)
        with self._lock:
            before, self._erased = self._erased, found
        return bool(before != found)

    def begin(self, address: str) -> str | None:
        """Count an answer that takes long which `address` asks for: what `end` wants; None when it has `MOST_AT_ONCE`
        in work. Without the store nothing is counted: each server has its own bounds."""
        token, now = uuid.uuid4().hex, time.time()
        given: list[str | int | float] = [now, int(now) + LONGEST_ANSWER_S, MOST_AT_ONCE, token]
        begun = self._try(lambda: self._begin(keys=[f"{_RUNNING}{address}"], args=given), 1)
        return token if begun else None

    def end(self, address: str, token: str) -> None:
        """It is answered."""
        self._try(lambda: self.client.zrem(f"{_RUNNING}{address}", token), None)

    def reachable(self) -> bool:
        """Whether the store answers now."""
        try:
            return bool(self.client.ping())
        except redis.RedisError:
            return False

    def _try(self, ask: Callable[[], Any], otherwise: Any) -> Any:
        if self._clock() < self._rests_until:
            return otherwise
        try:
            return ask()
        except redis.RedisError as error:
            self._rests_until = self._clock() + REST_S
            LOG.warning("%sSHARED is not reached, answers are worked out here: %s", PREFIX, type(error).__name__)
            return otherwise


def _pool(address: str) -> redis.ConnectionPool:
    return redis.ConnectionPool.from_url(
        address,
        max_connections=MOST_CONNECTIONS,
        socket_timeout=WAIT_S,
        socket_connect_timeout=WAIT_S,
        retry=None,
    )


def checked_address(address: str) -> str:
    """The address itself. SettingError, without the password in it, for one that is none.

    >>> checked_address("redis://127.0.0.1:6379/0")
    'redis://127.0.0.1:6379/0'
    """
    try:
        parts = urlsplit(address)
        sound = parts.scheme in SCHEMES and bool(parts.path if parts.scheme == "unix" else parts.hostname)
        sound = sound and (parts.scheme == "unix" or parts.port is None or parts.port > 0)
    except ValueError:
        sound = False
    if not sound:
        kinds = "redis://HOST:PORT/0, rediss://HOST:PORT/0 or unix:///run/valkey.sock"
        raise SettingError(f"{PREFIX}SHARED: {address.partition(':')[0]}:... is no address of a store: {kinds}")
    return address


def limits_address(address: str) -> str:
    """The same as the counters of attempts want it: without an address they lie in memory."""
    if not address:
        return "memory://"
    return f"redis+{address}" if address.startswith("unix:") else address
