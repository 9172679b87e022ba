"""The envelope of a change, and the clocks around it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from operator import itemgetter
from typing import Any, Final, NamedTuple

from marshmallow import INCLUDE, Schema, fields

from server.records.fields import Choice, Identity, ListOf, Text, WholeNumber
from server.records.fold import DELETE, PUT
from server.records.json_types import RecordBody
from server.records.named_ids import bytes_of, named_id, named_ids
from server.records.schemas import SCHEMA_VERSION, SCHEMAS
from server.records.times import RANGE, utc
from server.records.validation import Fault, InvalidError, load, load_with, shown

LARGEST_BODY: Final = 1_000_000
"""Bytes of one change's JSON."""

MOST_PARENTS: Final = 100


class ChangeSchema(Schema):
    """One immutable change of one record."""

    class Meta:
        unknown = INCLUDE

    change_id = Identity(required=True)
    record_id = Identity(required=True)
    kind = Text(40, 1, required=True)
    parents = ListOf(Identity(), MOST_PARENTS, "change ids", required=True)
    op = Choice((PUT, DELETE), required=True)
    body = fields.Raw(allow_none=True, load_default=None)
    device_id = Text(80, 1, required=True)
    client_time = Text(40, 1, required=True)
    schema_version = WholeNumber(1, 10_000, required=True)


_ENVELOPE: Final = ChangeSchema()


class Change(NamedTuple):
    """A change that passed all checks of its own. `fields`: the typed fields of a put, empty for a delete; `moment`:
    its client time, in UTC."""

    change_id: str
    record_id: str
    kind: str
    parents: tuple[str, ...]
    op: str
    body: str | None
    device_id: str
    client_time: str
    schema_version: int
    fields: RecordBody
    digest: str
    moment: datetime


_CANONICAL: Final = json.JSONEncoder(sort_keys=True, separators=(",", ":"), allow_nan=False, check_circular=False)


def canonical(value: Any) -> str:
    """JSON in ASCII with sorted keys and no spaces: equal values give equal text, and any database keeps it."""
    return _CANONICAL.encode(value)


def digest(raw: Any) -> str:
    """A fingerprint of what a change says, of everything but the order of its keys."""
    return hashlib.sha256(canonical(raw).encode()).hexdigest()


class FutureTimeError(InvalidError):
    """A change of a schema version that this server does not know yet."""


def parse_change(raw: Any) -> Change:
    """Check one change of a push. Raises InvalidError (with every fault) or FutureTimeError."""
    envelope = load_with(_ENVELOPE, raw)
    put = envelope["op"] == PUT
    body = _body_text(envelope["body"]) if put else None
    if envelope["schema_version"] > SCHEMA_VERSION:
        version = str(envelope["schema_version"])
        raise FutureTimeError([Fault("schema_version", version, f"1 to {SCHEMA_VERSION}", "is newer than this server")])
    moment = parse_time(envelope["client_time"], "client_time")
    if envelope["change_id"] in envelope["parents"]:
        raise InvalidError([Fault("parents", envelope["change_id"], "ids of other changes", "names the change itself")])
    kind = envelope["kind"]
    if kind not in SCHEMAS:
        raise InvalidError([Fault("kind", shown(kind), ", ".join(SCHEMAS), "is not a kind of record")])
    fields_of = load(kind, envelope["body"]) if put else {}
    return Change(
        envelope["change_id"],
        envelope["record_id"],
        kind,
        tuple(envelope["parents"]),
        envelope["op"],
        body,
        envelope["device_id"],
        envelope["client_time"],
        envelope["schema_version"],
        fields_of,
        _digest_of(envelope, body),
        moment,
    )


def words_of(body: Any) -> str:
    """The body of a put as the log keeps it. Raises InvalidError."""
    return _body_text(body)


def change_named(record_id: str, words: str) -> str:
    """The id of the change that turns a record into these words: the same words give the same id."""
    return named_id(bytes_of(record_id), hashlib.sha256(words.encode()).hexdigest())


def changes_named(record_ids: Sequence[str], words: Sequence[str]) -> list[str]:
    """`change_named` of very many, sooner."""
    octets = bytes.fromhex("".join(record_ids).replace("-", ""))
    namespaces = (octets[begin : begin + 16] for begin in range(0, len(octets), 16))
    return named_ids(namespaces, [hashlib.sha256(one.encode()).hexdigest() for one in words])


def put_of(
    change_id: str,
    record_id: str,
    kind: str,
    body: RecordBody,
    words: str,
    parents: tuple[str, ...],
    device_id: str,
    client_time: str,
    moment: datetime,
) -> Change:
    """The change that `parse_change` makes of a put that was made here, whose envelope is sound. `words`: those of the
    body; `moment`: the client time, read. Raises InvalidError."""
    given = (change_id, record_id, kind, PUT, device_id, client_time, "1", *parents, words)
    found = hashlib.sha256("\n".join(given).encode()).hexdigest()
    fields_of = load(kind, body)
    return Change(change_id, record_id, kind, parents, PUT, words, device_id, client_time, 1, fields_of, found, moment)


_GIVEN_OF: Final = itemgetter("change_id", "record_id", "kind", "op", "device_id", "client_time", "schema_version")


def _body_text(body: Any) -> str:
    try:
        words = canonical(body)
    except ValueError as error:
        raise InvalidError(
            [Fault("body", "", "finite numbers", "contains a number that JSON does not allow")]
        ) from error
    if len(words) > LARGEST_BODY:
        raise InvalidError([Fault("body", f"{len(words)} bytes", f"up to {LARGEST_BODY} bytes", "is too large")])
    return words


def _digest_of(envelope: RecordBody, body: str | None) -> str:
    """A fingerprint of what a change says, whatever the order of its keys."""
    words = (*map(str, _GIVEN_OF(envelope)), *envelope["parents"], body or "")
    return hashlib.sha256("\n".join(words).encode()).hexdigest()


def parse_time(words: str, field: str) -> datetime:
    """An ISO 8601 time as UTC, as `server.records.times` reads it. Raises InvalidError naming `field`."""
    try:
        return utc(words)
    except (ValueError, OverflowError, TypeError) as error:
        fault = Fault(field, shown(words), RANGE, "is not a time")
        raise InvalidError([fault]) from error


_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


def iso(moment: datetime) -> str:
    """A UTC time with milliseconds, as text whose order is the order of time."""
    if moment.tzinfo is not UTC:
        moment = moment.astimezone(UTC)
    return moment.isoformat(timespec="milliseconds")[:-6] + "Z"


def effective_time(client_time: str, offset: timedelta, received_at: datetime) -> str:
    """min(client time + the device's clock offset, received at): orders concurrent edits, refuses nothing."""
    return effective(parse_time(client_time, "client_time"), offset, received_at)


def effective(moment: datetime, offset: timedelta, received_at: datetime) -> str:
    """`effective_time` of a client time that was read already."""
    try:
        moment += offset
    except OverflowError:
        moment = received_at
    return iso(max(min(moment, received_at), _EPOCH))
