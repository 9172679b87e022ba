"""Accounts over HTTP: signing in and out, sessions, tokens, and the one-time link by which a phone joins."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import Any, ClassVar, cast
from uuid import UUID

import segno
from flask import Response, abort, current_app, g, request
from flask.views import MethodView
from flask_limiter import Limiter
from flask_limiter.util import get_remote_address
from flask_smorest import Blueprint
from marshmallow import fields, validate

from server.api.answers import Query
from server.api.database import engine
from server.api.gate import COOKIE, Asker, asker, key
from server.records.fields import Text
from server.store.accounts import Account, checked
from server.store.credentials import (
    JOIN,
    LASTS,
    LONGEST_TOKEN,
    SCOPES,
    SESSION,
    TOKEN,
    SignedIn,
    give,
    held,
    revoke,
    use_once,
)
from server.store.engine import reading

blueprint = Blueprint("accounts", "accounts", url_prefix="/api", description="Signing in")

FOR_ONE_NAME = "5 per minute; 20 per hour"
FOR_ONE_ADDRESS = "60 per minute; 300 per hour"
"""Attempts to sign in: few for one name from one address, more for an address that a whole club shares."""

limiter = Limiter(get_remote_address, storage_uri="memory://", headers_enabled=False)


def _name_and_address() -> str:
    sent = request.get_json(silent=True)
    name = sent.get("name") if isinstance(sent, dict) else None
    return f"{get_remote_address()} {name if isinstance(name, str) else ''}"[:200]


class SignInSchema(Query):
    """A name and a password."""

    name = Text(60, 1, required=True)
    password = Text(200, 1, required=True)


class JoinSchema(Query):
    """A one-time code."""

    code = Text(200, 1, required=True)


class TokenSchema(Query):
    """A token for a script: what for, what it may do, for how many days."""

    label = Text(80, 1, required=True)
    scopes = fields.List(
        fields.String(validate=validate.OneOf(SCOPES, error="is not one of its values")),
        required=True,
        validate=validate.Length(1, len(SCOPES)),
        metadata={"range": ", ".join(SCOPES)},
    )
    days = fields.Integer(
        load_default=LASTS[TOKEN].days,
        validate=validate.Range(1, LONGEST_TOKEN.days, error="is outside its range"),
        metadata={"range": f"1 to {LONGEST_TOKEN.days}"},
    )


def signed_in() -> SignedIn:
    """The account that asks, by a session or a token; 401 in an open house, where nobody is anybody."""
    found = asker().signed_in
    if found is None:
        abort(401, "There is no account to do this with.")
    return found


def by_session() -> Account:
    """The account that asks, by a session of its own: a token may not make or end credentials."""
    found = signed_in()
    if found.kind != SESSION:
        abort(403, "Sign in with a password for this; a token is not enough.")
    return found.account


def _described(who: Asker) -> dict[str, Any]:
    account = who.signed_in.account if who.signed_in else None
    return {
        "open_house": who.open_house,
        "account": None
        if account is None
        else {
            "name": account.name,
            "role": account.role,
            "player_id": account.player_id,
            "squads": list(account.squads),
        },
    }


def _begin_session(account: Account, label: str) -> Response:
    """A new session with a new secret, whatever cookie the browser brought."""
    credential_id, secret = give(engine(), key(), account.account_id, SESSION, label=label)
    g.asker = Asker(SignedIn(account, credential_id, SESSION, frozenset(SCOPES)), False)
    response = cast(Response, current_app.json.response(_described(g.asker)))
    response.set_cookie(
        COOKIE,
        secret,
        max_age=int(LASTS[SESSION].total_seconds()),
        httponly=True,
        samesite="Strict",
        secure=request.is_secure,
        path="/",
    )
    return response


@blueprint.route("/me")
class Me(MethodView):
    """Who asks."""

    @blueprint.response(200)
    def get(self) -> Any:
        """The account that asks, or none; `open_house` while there are no accounts."""
        return _described(asker())


@blueprint.route("/sign-in")
class SignIn(MethodView):
    """The door."""

    decorators: ClassVar[list[Any]] = [
        limiter.limit(FOR_ONE_NAME, key_func=_name_and_address),
        limiter.limit(FOR_ONE_ADDRESS),
    ]

    @blueprint.arguments(SignInSchema)
    @blueprint.response(200)
    @blueprint.alt_response(401, description="Name or password is wrong")
    @blueprint.alt_response(429, description="Too many attempts")
    def post(self, sent: dict[str, str]) -> Any:
        """Begin a session: the answer sets an HttpOnly cookie."""
        account = checked(engine(), sent["name"], sent["password"])
        if account is None:
            abort(401, "The name or the password is wrong.")
        return _begin_session(account, request.headers.get("User-Agent", "")[:80])


@blueprint.route("/join")
class Join(MethodView):
    """The door for a phone."""

    decorators: ClassVar[list[Any]] = [limiter.limit(FOR_ONE_ADDRESS)]

    @blueprint.arguments(JoinSchema)
    @blueprint.response(200)
    @blueprint.alt_response(401, description="The code is wrong, used or too old")
    def post(self, sent: dict[str, str]) -> Any:
        """Begin a session by a one-time code."""
        account = use_once(engine(), key(), sent["code"])
        if account is None:
            abort(401, "This code is wrong, was used, or is older than a quarter of an hour; make a new one.")
        return _begin_session(account, "joined by code")


@blueprint.route("/sign-out")
class SignOut(MethodView):
    """The way out."""

    @blueprint.response(204)
    def post(self) -> Any:
        """End this session."""
        found = signed_in()
        revoke(engine(), found.account.account_id, found.credential_id)
        response = Response(status=204)
        response.delete_cookie(COOKIE, path="/", samesite="Strict", httponly=True)
        return response


@blueprint.route("/me/join-code")
class JoinCode(MethodView):
    """A one-time code for one's phone."""

    @blueprint.response(201)
    def post(self) -> Any:
        """Make a code that signs one phone in, within a quarter of an hour.

        The answer holds the code, the address that joins by it, and the address as a QR code (SVG).
        """
        _, code = give(engine(), key(), by_session().account_id, JOIN)
        address = f"{request.host_url}#/join/{code}"
        drawing = io.BytesIO()
        segno.make(address, error="m").save(drawing, kind="svg", scale=6, xmldecl=False)
        return {"code": code, "address": address, "qr_svg": drawing.getvalue().decode()}


@blueprint.route("/me/tokens")
class Tokens(MethodView):
    """Tokens for scripts."""

    @blueprint.response(200)
    def get(self) -> Any:
        """List one's tokens, never their secrets."""
        with reading(engine()) as connection:
            return {"tokens": held(connection, by_session().account_id, TOKEN)}

    @blueprint.arguments(TokenSchema)
    @blueprint.response(201)
    def post(self, sent: dict[str, Any]) -> Any:
        """Make a token; its secret is shown this once."""
        account = by_session()
        lasts = timedelta(days=sent["days"])
        scopes = tuple(dict.fromkeys(sent["scopes"]))
        credential_id, secret = give(
            engine(), key(), account.account_id, TOKEN, label=sent["label"], scopes=scopes, lasts=lasts
        )
        return {"credential_id": credential_id, "token": secret}


@blueprint.route("/me/tokens/<uuid:credential_id>")
class OneToken(MethodView):
    """One token."""

    @blueprint.response(204)
    def delete(self, credential_id: UUID) -> Any:
        """End a token."""
        if not revoke(engine(), by_session().account_id, str(credential_id)):
            abort(404, "There is no such token.")
        return Response(status=204)


@blueprint.route("/me/sessions")
class Sessions(MethodView):
    """Where one is signed in."""

    @blueprint.response(200)
    def get(self) -> Any:
        """List one's sessions."""
        found = by_session()
        with reading(engine()) as connection:
            return {"sessions": held(connection, found.account_id, SESSION)}


@blueprint.route("/me/sessions/<uuid:credential_id>")
class OneSession(MethodView):
    """One session."""

    @blueprint.response(204)
    def delete(self, credential_id: UUID) -> Any:
        """End a session, for instance that of a lost phone."""
        if not revoke(engine(), by_session().account_id, str(credential_id)):
            abort(404, "There is no such session.")
        return Response(status=204)
