"""Limits on attempts to sign in and on wrong tokens, counted in the memory of each server process."""

from __future__ import annotations

import hashlib
import ipaddress
import time
from typing import Final

from flask import request
from flask_limiter import Limiter
from limits import parse

from server.api.problems import stop
from server.store.accounts import normalize

FOR_ONE_NAME: Final = "10 per minute; 50 per hour"
FOR_ONE_NAME_FROM_ANYWHERE: Final = "200 per hour"
FOR_ONE_ADDRESS: Final = "60 per minute; 300 per hour"
"""Few for one name from one address; more for an address that a whole club shares; and a bound for one name however
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


limiter = Limiter(address, storage_uri="memory://", headers_enabled=True)


def refuse_guessing() -> None:
    """429 while this address has sent too many wrong tokens."""
    counted = (WRONG_TOKENS, "wrong token", address())
    if not limiter.limiter.test(*counted):
        wait = max(1, round(limiter.limiter.get_window_stats(*counted).reset_time - time.time()))
        stop(429, TOO_MANY, {"Retry-After": str(wait)})


def note_wrong_token() -> None:
    """Count one wrong token of this address."""
    limiter.limiter.hit(WRONG_TOKENS, "wrong token", address())
