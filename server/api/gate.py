"""The gate: who asks, and what they may do. Every route passes it before its view runs.

While there are no accounts the house is open, to this machine only. With accounts a request is signed in by a session
cookie or a bearer token; a player reads and writes its own, coaches and analysts read the players who share with
them, the owner keeps the accounts. What may not be seen does not exist: 404; what may be seen but not done: 403.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import urlsplit

from flask import abort, current_app, g, request

from server.api.database import engine
from server.store.accounts import any_account
from server.store.credentials import READ_OWN, READ_SQUAD, SESSION, TOKEN, WRITE_OWN, SignedIn, look_up
from server.store.engine import reading
from server.store.sharing import readable_players

COOKIE: Final = "pencilbag_session"
LOOPBACK_NAMES: Final = frozenset({"localhost", "127.0.0.1", "[::1]", "::1"})
SHORTEST_SECRET: Final = 32

PUBLIC: Final = frozenset(
    {
        "front_page",
        "front_file",
        "description",
        "nothing_here",
        "baselines.Baselines",
        "baselines.OneBaseline",
        "api-docs.openapi_json",
    }
    | {"accounts.SignIn", "accounts.Join", "accounts.Me"}
)
"""Endpoints that need no account: the app's files, the published tables, and the doors themselves."""

OWN_DATA: Final = frozenset({"sharing.Shares", "sharing.OneShare", "own_data.Everything", "own_data.Erasure"})
"""Endpoints about a player that only the player may use, reading included."""

NOTES: Final = frozenset({"sharing.Notes", "sharing.OneNote"})
QUESTIONS: Final = frozenset({"plans.TeePlan"})
"""Endpoints that are asked by POST and change nothing."""


@dataclass(frozen=True)
class Asker:
    """Who asks. `signed_in` is None in an open house (everything is allowed) and for strangers (nothing is)."""

    signed_in: SignedIn | None
    open_house: bool

    @property
    def readable(self) -> set[str] | None:
        """The players that may be read; None means all."""
        if self.open_house:
            return None
        if self.signed_in is None:
            return set()
        account, scopes = self.signed_in.account, self.signed_in.scopes
        with reading(engine()) as connection:
            found = readable_players(connection, account)
        needed = READ_OWN if account.role == "player" else READ_SQUAD
        return found if needed in scopes else set()

    def may_write(self, player_id: str) -> bool:
        """Whether the asker may change this player's records."""
        if self.open_house:
            return True
        account = None if self.signed_in is None else self.signed_in.account
        if self.signed_in is None or account is None:
            return False
        return account.role == "player" and account.player_id == player_id and WRITE_OWN in self.signed_in.scopes


def asker() -> Asker:
    """Who asks in this request."""
    found: Asker = g.asker
    return found


def key() -> str:
    """The server's secret, by which credentials are hashed."""
    return str(current_app.config.get("SECRET") or "")


def pass_gate() -> None:
    """Find out who asks; stop the request when it may not go on."""
    open_house = not _accounts_in_use()
    if open_house or not key():
        _this_machine_only()
    else:
        _known_host()
    g.asker = Asker(None if open_house else _signed_in(), open_house)
    if open_house or request.endpoint is None or request.endpoint in PUBLIC:
        return
    if g.asker.signed_in is None:
        abort(401, "Sign in first, or send a bearer token.")
    _same_site()
    player_id = (request.view_args or {}).get("player_id")
    if player_id is not None:
        _may_touch(str(player_id))


def _accounts_in_use() -> bool:
    """Whether there are accounts; once there are, the answer stays."""
    known = current_app.extensions
    if not known.get("pencilbag_accounts"):
        known["pencilbag_accounts"] = any_account(engine())
    return bool(known["pencilbag_accounts"])


def _may_touch(player_id: str) -> None:
    who = asker()
    account = who.signed_in.account if who.signed_in else None
    own = account is not None and account.role == "player" and account.player_id == player_id
    visible = player_id in (who.readable or set()) or own
    if not visible:
        abort(404, f"There is no player {player_id} here.")
    if request.endpoint in NOTES:
        return
    changes = request.method not in ("GET", "HEAD", "OPTIONS") and request.endpoint not in QUESTIONS
    if (request.endpoint in OWN_DATA or changes) and not who.may_write(player_id):
        abort(403, "Only the player may do this.")
    if not changes and not own and player_id not in (who.readable or set()):
        abort(403, "This token does not allow reading.")
    if not changes and own and player_id not in (who.readable or set()):
        abort(403, "This token does not allow reading.")


def _signed_in() -> SignedIn | None:
    header = request.headers.get("Authorization", "")
    if header.startswith("Bearer "):
        return look_up(engine(), key(), TOKEN, header.removeprefix("Bearer ").strip())
    secret = request.cookies.get(COOKIE)
    return look_up(engine(), key(), SESSION, secret) if secret else None


def _same_site() -> None:
    """A cookie alone never changes anything for a page of another site."""
    if request.method in ("GET", "HEAD", "OPTIONS") or "Authorization" in request.headers:
        return
    origin = request.headers.get("Origin")
    if origin is not None and urlsplit(origin).netloc != request.host:
        abort(403, "This request comes from another site.")
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        abort(403, "This request comes from another site.")


def _this_machine_only() -> None:
    try:
        near = ipaddress.ip_address(request.remote_addr or "").is_loopback
    except ValueError:
        near = False
    if not near or _host_name() not in LOOPBACK_NAMES:
        abort(403, "Without accounts and a secret this server answers 127.0.0.1 and localhost only.")


def _known_host() -> None:
    """PENCILBAG_HOSTS names the hosts that the server answers to besides this machine's own."""
    named = str(current_app.config.get("HOSTS") or "")
    allowed = {name.strip().lower() for name in named.split(",") if name.strip()}
    if _host_name() not in LOOPBACK_NAMES | allowed:
        abort(403, "This server is not asked by that name; PENCILBAG_HOSTS lists its names.")


def _host_name() -> str:
    host = request.host.lower()
    return host if host.endswith("]") else host.rsplit(":", 1)[0]


def visible_only(players: list[Any]) -> list[Any]:
    """Of these players the ones that the asker may read."""
    readable = asker().readable
    return [player for player in players if readable is None or player.player_id in readable]
