"""The gate: who asks, and what they may do. Every request passes it before its view runs.

While there are no accounts the server is open, to this machine only. With accounts a request is signed in by a session
cookie or a bearer token; a player reads and writes its own, coaches and analysts read the players who share with
them, the owner keeps the accounts. What may not be seen does not exist: 404; what may be seen but not done: 403.
What each endpoint asks for is listed in `server.api.permissions`.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, NoReturn
from urllib.parse import urlsplit

from flask import abort, current_app, g, request

from server.api.attempts import note_wrong_token, refuse_guessing
from server.api.database import engine
from server.api.permissions import (
    NOT_IN_PERSON,
    NOTING,
    PAGES,
    PUBLIC,
    READING,
    READING_OWN,
    REFUSALS,
    SAFE,
    THE_PLAYER,
    WRITING,
    in_person_only,
    need,
)
from server.api.problems import stop
from server.store.accounts import any_account
from server.store.credentials import (
    READ_OWN,
    READ_SQUAD,
    SESSION,
    SHORTEST_SECRET,
    TOKEN,
    WRITE_OWN,
    SignedIn,
    look_up,
    was_erased,
)
from server.store.engine import reading
from server.store.log import ErasedError
from server.store.sharing import readable_players

COOKIE: Final = "pencilbag_session"
SECURE_COOKIE: Final = "__Host-pencilbag_session"
"""Over TLS the name itself makes browsers refuse a cookie that another host of the domain has set (RFC 6265bis)."""

LOOPBACK_NAMES: Final = frozenset({"localhost", "127.0.0.1", "[::1]"})
FORWARDED: Final = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-IP", "Via")
IN_THE_ADDRESS: Final = frozenset({"access_token", "token", "code", "password", "secret"})


@dataclass
class Caller:
    """Who asks. `signed_in` is None without accounts (`open_house`: everything is allowed) and for who has not
    signed in (nothing is)."""

    signed_in: SignedIn | None
    open_house: bool

    @cached_property
    def readable(self) -> set[str] | None:
        """The players that may be read; None means all."""
        if self.open_house:
            return None
        if self.signed_in is None:
            return set()
        account = self.signed_in.account
        needed = READ_OWN if account.role == "player" else READ_SQUAD
        if needed not in self.signed_in.scopes:
            return set()
        with reading(engine()) as connection:
            return readable_players(connection, account)

    def may_read(self, player_id: str) -> bool:
        """Whether the caller may read this player."""
        return self.readable is None or player_id in self.readable

    def is_player(self, player_id: str) -> bool:
        """Whether the caller is this player, by whatever credential."""
        account = self.signed_in.account if self.signed_in else None
        return account is not None and account.role == "player" and account.player_id == player_id

    def may_write(self, player_id: str) -> bool:
        """Whether the caller may change this player's records."""
        granted = self.signed_in is not None and WRITE_OWN in self.signed_in.scopes
        return self.open_house or (granted and self.is_player(player_id))

    @property
    def in_person(self) -> bool:
        """Signed in with a password or a code; a script's token is not."""
        return self.signed_in is not None and self.signed_in.kind == SESSION

    def may(self, needed: str, player_id: str) -> bool:
        """Whether the caller may do what asks for `needed` (`server.api.permissions`) with a player that it may see."""
        if self.open_house:
            return True
        return {
            READING: self.may_read(player_id),
            WRITING: self.may_write(player_id),
            READING_OWN: self.is_player(player_id) and self.may_read(player_id),
            THE_PLAYER: self.is_player(player_id) and self.in_person,
            NOTING: self.in_person or self.may_write(player_id),
        }[needed]


def caller() -> Caller:
    """Who asks in this request. What a route shows of several players it takes from `caller().readable`."""
    found: Caller = g.caller
    return found


def key() -> str:
    """The server's secret, by which credentials are hashed."""
    return str(current_app.config.get("SECRET") or "")


def authorize() -> None:
    """Find out who asks; stop the request when it may not go on."""
    open_house = not _accounts_in_use()
    if open_house or len(key()) < SHORTEST_SECRET:
        _this_machine_only()
    else:
        _known_host()
    g.caller = Caller(None, open_house)
    if request.endpoint in PAGES:
        return
    _nothing_secret_in_the_address()
    if not open_house:
        g.caller = Caller(_signed_in(), open_house)
    _same_site()
    if open_house or request.endpoint is None or request.endpoint in PUBLIC:
        return
    if g.caller.signed_in is None:
        _stop_stranger()
    if in_person_only(request.endpoint) and not g.caller.in_person:
        abort(403, NOT_IN_PERSON)
    player_id = (request.view_args or {}).get("player_id")
    if player_id is not None:
        _may_touch(str(player_id))


def stop_unsigned(detail: str, error: str = "") -> NoReturn:
    """401 with the challenge that RFC 9110 and RFC 6750 ask for."""
    challenge = 'Bearer realm="pencilbag"' + (f', error="{error}"' if error else "")
    stop(401, detail, {"WWW-Authenticate": challenge})


def _stop_stranger() -> NoReturn:
    token, session = _bearer(), _session_cookie()
    kind, secret = (TOKEN, token) if token is not None else (SESSION, session)
    if secret and was_erased(engine(), key(), kind, secret):
        raise ErasedError
    if token is not None:
        stop_unsigned("This token is wrong, was ended, or is too old.", "invalid_token")
    stop_unsigned("Sign in first, or send a bearer token.")


def _accounts_in_use() -> bool:
    """Whether there are accounts; once there are, the answer stays."""
    known = current_app.extensions
    if not known.get("pencilbag_accounts"):
        known["pencilbag_accounts"] = any_account(engine())
    return bool(known["pencilbag_accounts"])


def _may_touch(player_id: str) -> None:
    who = caller()
    if not (who.is_player(player_id) or who.may_read(player_id)):
        abort(404, f"There is no player {player_id} here.")
    needed = need(request.endpoint, request.method)
    if not who.may(needed, player_id):
        abort(403, REFUSALS[needed])


def _bearer() -> str | None:
    scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
    return secret.strip() if scheme.lower() == "bearer" else None


def cookie_name() -> str:
    """The name of the session's cookie, by whether the browser speaks TLS."""
    return SECURE_COOKIE if request.is_secure else COOKIE


def _session_cookie() -> str | None:
    return request.cookies.get(cookie_name())


def _signed_in() -> SignedIn | None:
    token, session = _bearer(), _session_cookie()
    if token is None:
        return look_up(engine(), key(), SESSION, session) if session else None
    refuse_guessing()
    found = look_up(engine(), key(), TOKEN, token)
    if found is None:
        note_wrong_token()
    return found


def _nothing_secret_in_the_address() -> None:
    """Addresses are logged, kept in histories and passed on; RFC 6750, section 5.3, warns of tokens in them."""
    stated = IN_THE_ADDRESS & {name.lower() for name in request.args}
    if stated:
        names = ", ".join(sorted(stated))
        abort(
            400,
            f"{names}: never put a secret in an address; send the token as Authorization: Bearer, and end this one.",
        )


def _same_site() -> None:
    """Nothing is changed for a page of another site; a token, which no page sends by itself, may come from anywhere."""
    who = caller().signed_in
    if request.method in SAFE or (who is not None and who.kind == TOKEN):
        return
    origin = request.headers.get("Origin")
    foreign = origin is not None and urlsplit(origin).netloc.lower() != request.host.lower()
    if foreign or request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        abort(403, "This request comes from another site.")


def from_this_machine() -> bool:
    """Whether the request comes from this machine itself, by no proxy."""
    try:
        near = ipaddress.ip_address(request.remote_addr or "").is_loopback
    except ValueError:
        near = False
    return near and not any(name in request.headers for name in FORWARDED)


def _this_machine_only() -> None:
    if not from_this_machine() or _host_name() not in LOOPBACK_NAMES:
        abort(403, "Without accounts and a secret this server answers only 127.0.0.1 and localhost.")


def _known_host() -> None:
    """PENCILBAG_HOSTS names the hosts that the server answers to besides this machine's own."""
    named = str(current_app.config.get("HOSTS") or "")
    allowed = {name.strip().lower() for name in named.split(",") if name.strip()}
    if _host_name() not in LOOPBACK_NAMES | allowed:
        abort(403, "This server does not answer to that name; PENCILBAG_HOSTS lists its names.")


def _host_name() -> str:
    host = request.host.lower()
    return host if host.endswith("]") else host.rsplit(":", 1)[0]


def visible_only(players: list[Any]) -> list[Any]:
    """Of these players the ones that the caller may read."""
    return [player for player in players if caller().may_read(player.player_id)]
