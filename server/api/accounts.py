"""One's own account over HTTP: password, sessions, tokens, and the one-time link by which a phone joins.

Accounts are made and ended on the command line alone.
"""

from __future__ import annotations

import io
from datetime import timedelta
from typing import Annotated, Any, ClassVar, TypedDict
from uuid import UUID

import segno
from flask import Response, abort, request
from flask.views import MethodView
from flask_smorest import Blueprint
from marshmallow import fields, validate

from server.api.answers import Query
from server.api.attempts import FOR_ONE_ADDRESS, TOO_MANY, limiter
from server.api.authorization import key
from server.api.bodies import StrictParser
from server.api.database import engine
from server.api.signing_in import begin_session, browser, signed_in
from server.records.fields import Text
from server.records.typed_schemas import schema_of
from server.records.validation import Fault, InvalidError
from server.store.accounts import LONGEST_PASSWORD, SHORTEST_PASSWORD, checked, set_password
from server.store.credentials import (
    JOIN,
    LASTS,
    LONGEST_TOKEN,
    SCOPES,
    SCOPES_OF,
    SESSION,
    TOKEN,
    give,
    held,
    revoke,
)
from server.store.engine import reading
from server.store.rows import HeldCredential

blueprint = Blueprint("accounts", "accounts", url_prefix="/api/me", description="One's own account")
blueprint.ARGUMENTS_PARSER = StrictParser()

_NO_STORE = {"Cache-Control": "no-store"}


class PasswordSchema(Query):
    """The password until now and the new one."""

    password = Text(LONGEST_PASSWORD, 1, required=True, metadata={"secret": True})
    new_password = Text(LONGEST_PASSWORD, SHORTEST_PASSWORD, required=True, metadata={"secret": True})


class TokenSchema(Query):
    """A token for a script: what for, what it may do, for how many days."""

    label = Text(80, 1, required=True)
    scopes = fields.List(
        fields.String(validate=validate.OneOf(SCOPES, error="is not one of its values")),
        required=True,
        validate=validate.Length(1, len(SCOPES), error="has the wrong number of entries"),
        metadata={"range": ", ".join(SCOPES)},
    )
    days = fields.Integer(
        load_default=LASTS[TOKEN].days,
        strict=True,
        validate=validate.Range(1, LONGEST_TOKEN.days, error="is outside its range"),
        metadata={"range": f"1 to {LONGEST_TOKEN.days}"},
    )


class TokenAsked(TypedDict):
    """What `TokenSchema` reads."""

    label: str
    scopes: list[str]
    days: int


class Credential(HeldCredential):
    """A token or a session, never its secret."""

    current: Annotated[bool, "it is the one that asks"]


class TokenList(TypedDict):
    """One's tokens."""

    tokens: list[Credential]


class SessionList(TypedDict):
    """Where one is signed in."""

    sessions: list[Credential]


class NewToken(TypedDict):
    """A token, this once with its secret."""

    credential_id: str
    token: str


class NewJoinCode(TypedDict):
    """A one-time code, as text, as an address, and the address as a drawing."""

    code: str
    address: str
    qr_svg: str


def drawn_address(address: str) -> str:
    """An address as a QR code, an SVG."""
    drawing = io.BytesIO()
    segno.make(address, error="m").save(drawing, kind="svg", scale=6, xmldecl=False)
    return drawing.getvalue().decode()


def _held(kind: str) -> list[Credential]:
    found = signed_in()
    with reading(engine()) as connection:
        rows = held(connection, found.account.account_id, kind)
    return [{**row, "current": row["credential_id"] == found.credential_id} for row in rows]


def _end(credential_id: UUID, kind: str) -> Response:
    if not revoke(engine(), signed_in().account.account_id, str(credential_id), kind):
        abort(404, f"There is no such {kind} of yours.")
    return Response(status=204)


@blueprint.route("/password")
class Password(MethodView):
    """One's password."""

    decorators: ClassVar[list[Any]] = [limiter.limit(FOR_ONE_ADDRESS, error_message=TOO_MANY)]

    @blueprint.arguments(PasswordSchema)
    @blueprint.response(204)
    @blueprint.alt_response(403, description="The current password is wrong, or a token asks")
    @blueprint.alt_response(429, description="Too many attempts")
    def post(self, sent: dict[str, str]) -> Any:
        """Change it: every session, token and code ends; the answer begins a new session here."""
        name = signed_in().account.name
        account = checked(engine(), name, sent["password"])
        if account is None:
            abort(403, "The current password is wrong.")
        set_password(engine(), name, sent["new_password"])
        begun = begin_session(account, browser())
        return Response(status=204, headers=[("Set-Cookie", begun.headers["Set-Cookie"])])


@blueprint.route("/join-code")
class JoinCode(MethodView):
    """A one-time code for one's phone."""

    @blueprint.response(201, schema_of(NewJoinCode))
    def post(self) -> Any:
        """Make a code that signs one phone in, within a quarter of an hour.

        The answer holds the code, the address that joins by it, and the address as a QR code (SVG).
        """
        _, code = give(engine(), key(), signed_in().account.account_id, JOIN)
        address = f"{request.host_url}#/join/{code}"
        return {"code": code, "address": address, "qr_svg": drawn_address(address)}, _NO_STORE


@blueprint.route("/tokens")
class Tokens(MethodView):
    """Tokens for scripts."""

    @blueprint.response(200, schema_of(TokenList))
    def get(self) -> Any:
        """List one's tokens, never their secrets."""
        return {"tokens": _held(TOKEN)}

    @blueprint.arguments(TokenSchema)
    @blueprint.response(201, schema_of(NewToken))
    def post(self, sent: TokenAsked) -> Any:
        """Make a token; its secret is shown this once."""
        account = signed_in().account
        scopes = tuple(dict.fromkeys(sent["scopes"]))
        useful = SCOPES_OF[account.role]
        if idle := [scope for scope in scopes if scope not in useful]:
            allowed = ", ".join(useful) or "none"
            raise InvalidError([Fault("scopes", ", ".join(idle), allowed, f"is nothing that a {account.role} can do")])
        lasts = timedelta(days=sent["days"])
        credential_id, secret = give(
            engine(), key(), account.account_id, TOKEN, label=sent["label"], scopes=scopes, lasts=lasts
        )
        return {"credential_id": credential_id, "token": secret}, _NO_STORE


@blueprint.route("/tokens/<uuid:credential_id>")
class OneToken(MethodView):
    """One token."""

    @blueprint.response(204)
    @blueprint.alt_response(404, description="No such token")
    def delete(self, credential_id: UUID) -> Any:
        """End a token."""
        return _end(credential_id, TOKEN)


@blueprint.route("/sessions")
class Sessions(MethodView):
    """Where one is signed in."""

    @blueprint.response(200, schema_of(SessionList))
    def get(self) -> Any:
        """List one's sessions; `current` is the one that asks."""
        return {"sessions": _held(SESSION)}


@blueprint.route("/sessions/<uuid:credential_id>")
class OneSession(MethodView):
    """One session."""

    @blueprint.response(204)
    @blueprint.alt_response(404, description="No such session")
    def delete(self, credential_id: UUID) -> Any:
        """End a session, for instance that of a lost phone."""
        return _end(credential_id, SESSION)
