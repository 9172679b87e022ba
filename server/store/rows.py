"""What the store returns of rounds, courses, records and changes, key by key."""

from __future__ import annotations

from datetime import date
from typing import Annotated, NotRequired, TypedDict

from server.game.map_frames import MapFrame
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
    lengths_taken: Annotated[str | None, "how the lengths were taken: paced, laser, guessed, position or map"]
    closed: bool
    deleted: bool
    closings: list[ClosingRow]
    holes_meant: int | None
    stopped: bool


class LatestRound(TypedDict):
    """A round as a list of players tells of it. `shots`: those that live under it."""

    round_id: str
    played_on: date
    kind: str
    course: str | None
    closed: bool
    shots: int


class ListedRound(RoundRow):
    """The same with the number of its shots."""

    shots: int


class RoundWithHoles(RoundRow):
    """The same with its holes in playing order."""

    holes: list[HoleRow]


class SessionRow(TypedDict):
    """A practice session as its record derives it, with the number of its balls."""

    session_id: str
    date: Annotated[str, "a day, YYYY-MM-DD"]
    place: Annotated[str, "range, putting_green or short_game"]
    note: str | None
    ball_label: str | None
    from_file: Annotated[str | None, "the name of the table it came from"]
    at: str | None
    closed: Annotated[bool, "the player finished it"]
    deleted: bool
    balls: int
    putts: Annotated[int, "of the balls those with the length of a putt"]
    clubs: int


class PracticeBallRow(TypedDict):
    """A ball of a practice session."""

    ball_id: str
    order: int
    club_id: str
    lie: str
    target_yd: float | None
    carry_yd: float | None
    total_yd: float | None
    right_yd: float | None
    long_yd: float | None
    swing: str | None
    planned_shape: str | None
    actual_shape: str | None
    strike: str | None
    length_ft: float | None
    holed: bool
    left_ft: float | None
    duel_id: str | None
    at: str | None


class SessionWithBalls(TypedDict):
    """A practice session and its balls in their order."""

    session: SessionRow
    hit: list[PracticeBallRow]


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
    more: Annotated[bool, "there are more versions than these"]


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


class LatestNote(TypedDict):
    """The last note on a player, as a list shows it."""

    author: Annotated[str, "the account's name"]
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


class CaddieRow(TypedDict):
    """An invitation to enter one round, or the caddie who accepted it; never a secret."""

    caddie_id: str
    round_id: str
    name: Annotated[str | None, "as the caddie gave it; null until somebody accepts it"]
    device_id: Annotated[str | None, "the author of the changes that came by this caddie"]
    state: Annotated[str, "invited, entering or ended"]
    ended: Annotated[str | None, "why it is over, in words"]
    created_at: str
    expires_at: str
    taken_at: str | None
    last_used_at: Annotated[str | None, "to the hour"]


class CaddiePlayer(TypedDict):
    """What a caddie learns of the player."""

    player_id: str
    name: str
    plays: Annotated[str, "right or left"]
    units: Annotated[str, "yards or metres"]


class CaddieClub(TypedDict):
    """A club of the round's bag."""

    club_id: str
    label: str
    sort: str
    loft_deg: float | None


class CaddieCourse(TypedDict):
    """The course of the round."""

    course_id: str
    name: str
    tees: list[JsonObject]


class CaddieMap(TypedDict):
    """The map of a hole of the course."""

    record_id: str
    hole: int
    features: list[JsonObject]
    frame: Annotated[MapFrame | None, "null: the map has no place on the earth"]


class CaddieNeeds(TypedDict):
    """What entering a round needs beside its own changes."""

    mark: Annotated[str, "differs as soon as any of this has changed"]
    round_id: str
    player: CaddiePlayer
    clubs: Annotated[list[CaddieClub], "the bag of the round"]
    course: CaddieCourse | None
    hole_maps: list[CaddieMap]
    maps_left_out: Annotated[list[int], "holes whose maps have no room in this answer"]


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
