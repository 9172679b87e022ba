"""What the store tells of rounds, courses, records and changes, key by key."""

from __future__ import annotations

from datetime import date
from typing import Annotated, NotRequired, TypedDict

from server.records.json_types import JsonObject
from server.records.validation import FaultDocument


class ClosingRow(TypedDict):
    """A closing of a round and the opening after it; client times."""

    closed_at: str | None
    reopened_at: str | None


class HoleRow(TypedDict):
    """A hole as a round or a set of tees defines it."""

    number: int
    par: int
    length_yd: float


class TeesRow(TypedDict):
    """A set of tees of a course."""

    name: str
    holes: list[HoleRow]
    rating: NotRequired[float | None]
    slope: NotRequired[int | None]


class RoundRow(TypedDict):
    """A round as its record derives it; `course`: the course's name."""

    round_id: str
    player_id: str
    played_on: date
    kind: str
    course: str | None
    course_id: str | None
    tees: str | None
    bag: list[str]
    wind_mph: float | None
    temperature_c: float | None
    firmness: str | None
    note: str | None
    ball_label: Annotated[str | None, "the player's own name for the ball played"]
    closed: bool
    deleted: bool
    closings: list[ClosingRow]
    holes_meant: int | None
    stopped: bool


class ListedRound(RoundRow):
    """The same with the number of its shots."""

    shots: int


class RoundWithHoles(RoundRow):
    """The same with its holes in playing order."""

    holes: list[HoleRow]


class LeafRow(TypedDict):
    """A version of a record that nothing has replaced."""

    change_id: str
    op: Annotated[str, "put or delete"]
    device_id: str
    effective_time: str
    body: Annotated[JsonObject | None, "null where it was deleted"]


class RecordVersions(TypedDict):
    """A record with its versions that nothing has replaced."""

    record_id: str
    kind: str
    deleted: Annotated[bool, "the first version of all is a deletion"]
    leaves: Annotated[list[LeafRow], "best first"]
    more: Annotated[bool, "there are other versions behind these"]


class ChangeRow(TypedDict):
    """A change as the log hands it out."""

    seq: int
    change_id: str
    record_id: str
    kind: str
    parents: list[str]
    op: Annotated[str, "put or delete"]
    body: Annotated[JsonObject | None, "null where the record is deleted"]
    device_id: str
    client_time: str
    effective_time: str
    received_at: str
    schema_version: int


class LogRow(TypedDict):
    """A row of the log, as it is stored; `parents` and `body` are JSON."""

    player_id: str
    seq: int
    change_id: str
    record_id: str
    kind: str
    parents: str
    op: str
    body: str | None
    device_id: str
    client_time: str
    effective_time: str
    received_at: str
    schema_version: int
    digest: str
    chain: str
    record_seq: int


class QuarantineRow(TypedDict):
    """A change that waits to be mended."""

    quarantine_id: int
    change_id: str | None
    raw: Annotated[object, "as it was sent"]
    errors: list[FaultDocument]
    device_id: str
    received_at: str


class NoteRow(TypedDict):
    """A note of a reader."""

    note_id: str
    author: Annotated[str, "the account's name"]
    about: Annotated[str, "round, club or trial"]
    about_id: str
    words: str
    written_at: str


class ShareRow(TypedDict):
    """A reader or a squad that may read, or could until `ended_at`."""

    share_id: str
    reader: Annotated[str | None, "the account's name"]
    squad: str | None
    since: str
    ended_at: str | None
    readers: Annotated[list[str], "who they are now"]


class CredentialKept(TypedDict):
    """A credential of an account, never its secret."""

    kind: str
    label: str
    scopes: Annotated[str, "with commas between them"]
    created_at: str
    expires_at: str
    last_used_at: str | None
    revoked_at: str | None


class AccountKept(TypedDict):
    """What is kept of an account, but for every secret."""

    name: str
    role: str
    created_at: str
    disabled_at: str | None
    credentials: list[CredentialKept]


class HeldCredential(TypedDict):
    """A credential that still works."""

    credential_id: str
    kind: str
    label: str
    scopes: list[str]
    created_at: str
    expires_at: str
    last_used_at: str | None
