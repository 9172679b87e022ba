"""JSON that is not ours to define, and what has been checked of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias, TypedDict

JsonObject: TypeAlias = Mapping[str, object]
"""A JSON object whose keys somebody else says; whoever reads a value looks what it is."""

RecordBody: TypeAlias = Mapping[str, Any]
"""The body of a record: its known fields were checked by its kind's schema, the fields that nobody here knows are kept
as they came."""


class Envelope(TypedDict):
    """A change as a device sends it."""

    change_id: str
    record_id: str
    kind: str
    parents: list[str]
    op: str
    body: RecordBody | None
    device_id: str
    client_time: str
    schema_version: int
