"""Limits on attempts to sign in and on wrong tokens, counted in the memory of a server process, or in the store that
several servers share (`PENCILBAG_SHARED`). Without that store nobody signs in: a limit that does not count is none.
Tokens go on being looked at; wrong ones are then counted by each process: no token is guessed in sixty tries a minute.
"""

from __future__ import annotations

import hashlib
import ipaddress
import time
from typing import Final

from flask import Flask, Response, request
from flask_limiter import Limiter
from limits import parse
from limits.errors import StorageError
from limits.storage import MemoryStorage
from limits.strategies import FixedWindowRateLimiter

from server.api.problems import problem, stop
from server.operation.shared import WAIT_S, limits_address
from server.store.accounts import normalize

FOR_ONE_NAME: Final = "10 per minute; 50 per hour"
FOR_ONE_NAME_FROM_ANYWHERE: Final = "200 per hour"
FOR_ONE_ADDRESS: Final = "60 per minute; 300 per hour"
"""Few for one name from one address; more for an address that an entire club shares; and a bound for one name however
many addresses ask, wide enough that a stranger cannot lightly keep somebody out. Values: judgement, no source."""

WRONG_TOKENS: Final = parse("60 per minute")
"""Wrong tokens from one address; then tokens from it are not looked at for the rest of the minute."""

TOO_MANY: Final = "Too many attempts; wait as long as Retry-After says."


def address() -> str:
    """Whose attempts are counted together: an IPv4 address, or an IPv6 network of 64 bits, which is one line's."""
    stated = request.remote_addr or "unknown"
    try:
        found = ipaddress.ip_address(stated)
    except ValueError:
        return stated[:60]
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is None:
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)


def name() -> str:
    """The account that a sign-in names, in the one spelling that finds it, as a short fingerprint."""
    sent = request.get_json(silent=True)
    stated = sent.get("name") if isinstance(sent, dict) else None
    spelled = normalize(stated) if isinstance(stated, str) else ""
    return hashlib.sha256(spelled.encode("utf-8", "replace")).hexdigest()[:16]


def name_and_address() -> str:
    """An account's name from one address."""
    return f"{address()} {name()}"


limiter = Limiter(address, headers_enabled=True)
_WITHOUT_THE_STORE: Final = FixedWindowRateLimiter(MemoryStorage())

CLOSED: Final = (
    "Signing in waits: attempts cannot be counted now, because the store that the servers share is not reached. Those "
    "who are signed in go on; try again in a little while."
)
CLOSED_RETRY_S: Final = 10


def add_limits(app: Flask) -> None:
    """Count this application's attempts where its setting SHARED says."""
    app.config["RATELIMIT_STORAGE_URI"] = limits_address(app.config["SHARED"])
    waits = {"socket_timeout": WAIT_S, "socket_connect_timeout": WAIT_S}
    app.config["RATELIMIT_STORAGE_OPTIONS"] = {"wrap_exceptions": True, **(waits if app.config["SHARED"] else {})}
    limiter.init_app(app)
    _WITHOUT_THE_STORE.storage.reset()
    app.register_error_handler(StorageError, _closed)


def _closed(_error: StorageError) -> Response:
    return problem(503, CLOSED, (), {"Retry-After": str(CLOSED_RETRY_S)})


def refuse_guessing() -> None:
    """429 while this address has sent too many wrong tokens."""
    counted = (WRONG_TOKENS, "wrong token", address())
    for counter in (limiter.limiter, _WITHOUT_THE_STORE):
        try:
            if counter.test(*counted):
                continue
            wait = max(1, round(counter.get_window_stats(*counted).reset_time - time.time()))
        except StorageError:
            continue
        stop(429, TOO_MANY, {"Retry-After": str(wait)})


def note_wrong_token() -> None:
    """Count one wrong token of this address."""
    try:
        limiter.limiter.hit(WRONG_TOKENS, "wrong token", address())
    except StorageError:
        _WITHOUT_THE_STORE.hit(WRONG_TOKENS, "wrong token", address())
