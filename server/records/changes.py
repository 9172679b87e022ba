"""The envelope of a change, and the clocks around it."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from marshmallow import INCLUDE, Schema, fields

from server.records.fields import Whole, choice, identity, text
from server.records.fold import DELETE, PUT
from server.records.schemas import SCHEMA_VERSION, SCHEMAS
from server.records.validation import Fault, Invalid, load, load_with, shown

LARGEST_BODY: Final = 1_000_000
"""Bytes of one change's JSON."""

MOST_PARENTS: Final = 100


class ChangeSchema(Schema):
    """One immutable change of one record."""

    class Meta:
        unknown = INCLUDE

    change_id = identity(required=True)
    record_id = identity(required=True)
    kind = text(40, 1, required=True)
    parents = fields.List(identity(), required=True, metadata={"range": f"a list of up to {MOST_PARENTS} change ids"})
    op = choice((PUT, DELETE), required=True)
    body = fields.Raw(allow_none=True, load_default=None)
    device_id = text(80, 1, required=True)
    client_time = text(40, 1, required=True)
    schema_version = Whole(1, 10_000, required=True)


_ENVELOPE: Final = ChangeSchema()


@dataclass(frozen=True)
class Change:
    """A change that passed all checks of its own. `fields`: the typed fields of a put, empty for a delete."""

    change_id: str
    record_id: str
    kind: str
    parents: tuple[str, ...]
    op: str
    body: str | None
    device_id: str
    client_time: str
    schema_version: int
    fields: dict[str, Any]
    digest: str


def canonical(value: Any) -> str:
    """JSON in ASCII with sorted keys and no spaces: equal values give equal text, and any database keeps it."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)


def digest(raw: Any) -> str:
    """A fingerprint of what a change says, of everything but the order of its keys."""
    return hashlib.sha256(canonical(raw).encode()).hexdigest()


class FromTheFuture(Invalid):
    """A change of a schema version that this server does not know yet."""


def parse_change(raw: Any) -> Change:
    """Check one change of a push. Raises Invalid (with every fault) or FromTheFuture."""
    envelope = load_with(_ENVELOPE, raw)
    try:
        text_of = canonical(raw)
    except ValueError as error:
        raise Invalid([Fault("body", "", "finite numbers", "holds a number that JSON does not know")]) from error
    if len(text_of) > LARGEST_BODY:
        found = f"{len(text_of)} bytes"
        raise Invalid([Fault("body", found, f"up to {LARGEST_BODY} bytes", "is too large")])
    if envelope["schema_version"] > SCHEMA_VERSION:
        known = f"1 to {SCHEMA_VERSION}"
        version = str(envelope["schema_version"])
        raise FromTheFuture([Fault("schema_version", version, known, "is newer than this server")])
    parse_time(envelope["client_time"], "client_time")
    parents = tuple(str(parent) for parent in envelope["parents"])
    if len(parents) > MOST_PARENTS or str(envelope["change_id"]) in parents:
        given = f"{len(parents)} parents"
        raise Invalid([Fault("parents", given, f"up to {MOST_PARENTS}, not itself", "cannot be taken")])
    kind, body = envelope["kind"], envelope["body"]
    if kind not in SCHEMAS:
        raise Invalid([Fault("kind", shown(kind), ", ".join(SCHEMAS), "is not a kind of record")])
    return Change(
        change_id=str(envelope["change_id"]),
        record_id=str(envelope["record_id"]),
        kind=kind,
        parents=parents,
        op=envelope["op"],
        body=canonical(body) if envelope["op"] == PUT else None,
        device_id=envelope["device_id"],
        client_time=envelope["client_time"],
        schema_version=envelope["schema_version"],
        fields=load(kind, body) if envelope["op"] == PUT else {},
        digest=hashlib.sha256(text_of.encode()).hexdigest(),
    )


def parse_time(words: str, field: str) -> datetime:
    """An ISO 8601 time as UTC. Raises Invalid naming `field`."""
    try:
        moment = datetime.fromisoformat(words)
        return moment.astimezone(UTC) if moment.tzinfo else moment.replace(tzinfo=UTC)
    except (ValueError, OverflowError, TypeError) as error:
        fault = Fault(field, shown(words), "ISO 8601, such as 2026-05-01T09:30:00.000Z", "is not a time")
        raise Invalid([fault]) from error


def iso(moment: datetime) -> str:
    """A UTC time with milliseconds, as text whose order is the order of time."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.") + f"{moment.microsecond // 1000:03d}Z"


def effective_time(client_time: str, offset: timedelta, received_at: datetime) -> str:
    """min(client time + the device's clock offset, received at): orders concurrent edits, refuses nothing."""
    try:
        moment = parse_time(client_time, "client_time") + offset
    except OverflowError:
        moment = received_at
    return iso(max(min(moment, received_at), datetime(1970, 1, 1, tzinfo=UTC)))
