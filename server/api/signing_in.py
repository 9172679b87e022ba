"""The doors: signing in by password or by a one-time code, signing out, and who asks."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, TypedDict, cast

from flask import Response, abort, current_app, g, request
from flask.views import MethodView
from flask_smorest import Blueprint

from server.api.answers import Query
from server.api.attempts import (
    FOR_ONE_ADDRESS,
    FOR_ONE_NAME,
    FOR_ONE_NAME_FROM_ANYWHERE,
    TOO_MANY,
    limiter,
    name,
    name_and_address,
)
from server.api.authorization import Caller, caller, cookie_name, key, stop_unsigned
from server.api.bodies import StrictParser
from server.api.database import engine
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.store.accounts import Account, checked
from server.store.credentials import LONGEST_SESSION, SCOPES, SESSION, SignedIn, give, revoke, use_once
from server.store.engine import reading
from server.store.players import players
from server.store.quotas import quotas_of, used

blueprint = Blueprint("signing_in", "signing_in", url_prefix="/api", description="Signing in and out")
blueprint.ARGUMENTS_PARSER = StrictParser()

LONGEST_LABEL = 80
MOST_LISTED = 100
"""Players whose storage is reported while there are no accounts."""


class SignInSchema(Query):
    """A name and a password."""

    name = Text(60, 1, required=True)
    password = Text(200, 1, required=True, metadata={"secret": True})


class JoinSchema(Query):
    """A one-time code."""

    code = Text(200, 1, required=True, metadata={"secret": True})


class AccountSeen(TypedDict):
    """An account, as it sees itself."""

    name: str
    role: str
    player_id: str | None
    squads: list[str]


class Storage(TypedDict):
    """What one player's log and quarantine hold, and the most that they may, in bytes."""

    player_id: str
    log_bytes: int
    most_log_bytes: int
    quarantine_bytes: int
    most_quarantine_bytes: int


class Asking(TypedDict):
    """Who asks."""

    open_house: Annotated[bool, "no sign-in: everybody on this machine has access"]
    account: AccountSeen | None


class AskingAndStorage(Asking):
    """Who asks, and the storage of the player whom the account is; without accounts of the first players."""

    storage: list[Storage]


def signed_in() -> SignedIn:
    """The account that asks, by a session or a token; 403 while there are no accounts."""
    found = caller().signed_in
    if found is None:
        abort(403, "This server has no accounts; create the first with account add.")
    return found


def _described(who: Caller) -> Asking:
    account = who.signed_in.account if who.signed_in else None
    seen: AccountSeen | None = None
    if account is not None:
        seen = {
            "name": account.name,
            "role": account.role,
            "player_id": account.player_id,
            "squads": list(account.squads),
        }
    return {"open_house": who.open_house, "account": seen}


def _storage(who: Caller) -> list[Storage]:
    """Use and limits of the players whose log the one who asks fills."""
    account = who.signed_in.account if who.signed_in else None
    most = quotas_of(engine())
    with reading(engine()) as connection:
        own = [account.player_id] if account and account.player_id else []
        ids = [player.player_id for player in players(connection)[:MOST_LISTED]] if who.open_house else own
        found = used(connection, ids)
    return [
        {
            "player_id": player_id,
            "log_bytes": found[player_id].log,
            "most_log_bytes": most.log,
            "quarantine_bytes": found[player_id].quarantine,
            "most_quarantine_bytes": most.quarantine,
        }
        for player_id in ids
        if player_id in found
    ]


def begin_session(account: Account, label: str) -> Response:
    """A new session with a new secret, whatever cookie the browser brought; a session that it brought ends.

    The cookie outlasts the session, which the server ends by itself: a session in use goes on.
    """
    before = caller().signed_in
    if before is not None and before.kind == SESSION:
        revoke(engine(), before.account.account_id, before.credential_id)
    credential_id, secret = give(engine(), key(), account.account_id, SESSION, label=label)
    g.caller = Caller(SignedIn(account, credential_id, SESSION, frozenset(SCOPES)), False)
    response = cast(Response, current_app.json.response(_described(g.caller)))
    response.headers["Cache-Control"] = "no-store"
    response.set_cookie(
        cookie_name(),
        secret,
        max_age=LONGEST_SESSION,
        httponly=True,
        samesite="Strict",
        secure=request.is_secure,
        path="/",
    )
    return response


def browser() -> str:
    """What the browser calls itself, as a label of its session."""
    return request.headers.get("User-Agent", "")[:LONGEST_LABEL]


@blueprint.route("/me")
class Me(MethodView):
    """Who asks."""

    @blueprint.response(200, schema_of(AskingAndStorage))
    def get(self) -> Any:
        """The account that asks, or none; `open_house` while there are no accounts; how full the log is."""
        return {**_described(caller()), "storage": _storage(caller())}


@blueprint.route("/sign-in")
class SignIn(MethodView):
    """The door."""

    decorators: ClassVar[list[Any]] = [
        limiter.limit(FOR_ONE_NAME, key_func=name_and_address, error_message=TOO_MANY),
        limiter.limit(FOR_ONE_NAME_FROM_ANYWHERE, key_func=name, error_message=TOO_MANY),
        limiter.limit(FOR_ONE_ADDRESS, error_message=TOO_MANY),
    ]

    @blueprint.arguments(SignInSchema)
    @blueprint.response(200, schema_of(Asking))
    @blueprint.alt_response(401, description="Name or password is wrong")
    @blueprint.alt_response(429, description="Too many attempts")
    def post(self, sent: dict[str, str]) -> Any:
        """Begin a session: the answer sets an HttpOnly cookie."""
        account = checked(engine(), sent["name"], sent["password"])
        if account is None:
            stop_unsigned("The name or the password is wrong.")
        return begin_session(account, browser())


@blueprint.route("/join")
class Join(MethodView):
    """The door for a phone."""

    decorators: ClassVar[list[Any]] = [limiter.limit(FOR_ONE_ADDRESS, error_message=TOO_MANY)]

    @blueprint.arguments(JoinSchema)
    @blueprint.response(200, schema_of(Asking))
    @blueprint.alt_response(401, description="The code is wrong, used or too old")
    @blueprint.alt_response(429, description="Too many attempts")
    def post(self, sent: dict[str, str]) -> Any:
        """Begin a session by a one-time code."""
        account = use_once(engine(), key(), sent["code"])
        if account is None:
            stop_unsigned("This code is wrong, was used, or is older than 15 minutes; make a new one.")
        return begin_session(account, f"joined by code: {browser()}"[:LONGEST_LABEL])


@blueprint.route("/sign-out")
class SignOut(MethodView):
    """The way out."""

    @blueprint.response(204)
    def post(self) -> Any:
        """End this session."""
        found = signed_in()
        revoke(engine(), found.account.account_id, found.credential_id)
        response = Response(status=204)
        name_here, secure = cookie_name(), request.is_secure
        response.delete_cookie(name_here, path="/", samesite="Strict", httponly=True, secure=secure)
        return response
