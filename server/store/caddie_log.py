"""What a caddie may write and read of a player's log: one round, its shots, and what entering them needs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cached_property
from typing import Any, Final

import sqlalchemy as sa

from server.game.map_frames import frame_of
from server.records.changes import Change
from server.records.fold import DELETE, PUT
from server.records.validation import Fault, shown
from server.store.account_tables import CADDIE
from server.store.caddies import Caddie, refuse_ended
from server.store.cursors import cursor_at, sequence_of
from server.store.engine import reading, select_in
from server.store.log import Pushed, push
from server.store.numbering import Numbering
from server.store.places import select_changes
from server.store.players import heads, player_by_id
from server.store.pulling import Page, change_out
from server.store.quotas import PAGE_BYTES, change_bytes
from server.store.rows import CaddieClub, CaddieCourse, CaddieMap, CaddieNeeds
from server.store.tables import CHANGE, CLUB, COURSE, HOLE_MAP, PLAYER, ROUND, SHOT

ROUND_FIELDS: Final = (
    "wind_mph",
    "temperature_c",
    "firmness",
    "green_speed_ft",
    "hole_conditions",
    "lengths_taken",
)
"""Of the round's record: the conditions of play. Kind, holes, bag, closing and the rest are the player's."""

ALLOWED: Final = f"the shots of this round, and of the round {', '.join(ROUND_FIELDS[:-1])} and {ROUND_FIELDS[-1]}"

MOST_BYTES: Final = 2_000_000
"""Of the player's log that one caddie may fill: a round has about 85 kB. A choice of this tool."""

NEEDS: Final = "framed"
"""Begins the mark of what a caddie needs: another one when more is given than before, so that phones fetch it anew."""

SCANNED: Final = 2000
"""Changes of the player's log that one page looks through."""


class CaddieFullError(RuntimeError):
    """A caddie has brought more than one round can need. Nothing was stored."""

    def __init__(self, held: int, more: int) -> None:
        self.fault = Fault("changes", f"{held + more} bytes", f"up to {MOST_BYTES} bytes", "are too much for one round")
        super().__init__(str(self.fault))


def push_of_caddie(engine: sa.Engine, caddie: Caddie, raw_changes: Sequence[Any], device_now: str | None) -> Pushed:
    """Append a caddie's changes of the round. What is not of it, and what is bad, is named in the result and kept
    nowhere. CaddieEndedError when the time is over: then nothing is stored."""

    def admit(connection: sa.Connection, changes: Sequence[Change]) -> RoundAlone:
        refuse_ended(connection, caddie)
        return RoundAlone(connection, caddie, changes)

    return push(engine, caddie.player_id, caddie.device_id, raw_changes, device_now=device_now, admit=admit)


class RoundAlone:
    """The admission (`server.store.log.Admission`) of a caddie's push."""

    def __init__(self, connection: sa.Connection, caddie: Caddie, changes: Sequence[Change]) -> None:
        self.connection, self.caddie = connection, caddie
        self.shots = _shots_of_round(connection, caddie, [one.record_id for one in changes if one.kind == "shot"])
        named = sorted({parent for one in changes for parent in one.parents})
        found = select_changes(connection, (CHANGE.c.change_id, CHANGE.c.record_id), CHANGE.c.change_id, named)
        self.record_of = {row.change_id: row.record_id for row in found}
        self.record_of |= {one.change_id: one.record_id for one in changes if one.change_id not in self.record_of}

    @cached_property
    def head(self) -> tuple[str, dict[str, Any]]:
        """The change that defines the round, and its body."""
        found = heads(self.connection, [self.caddie.round_id])[self.caddie.round_id]
        return found.change_id, dict(found.body or {})

    def faults(self, change: Change, accepted: Numbering) -> list[Fault]:
        """What speaks against a change: that it is not of this round, or not from this phone."""
        if change.device_id != self.caddie.device_id:
            return [Fault("device_id", shown(change.device_id), "the phone that took up the invitation", "is another")]
        foreign = [one for one in change.parents if self.record_of.get(one, change.record_id) != change.record_id]
        if foreign:
            return [Fault("parents", foreign[0], "changes of the same record", "is a change of another record")]
        if change.kind == "shot":
            return self._shot(change, accepted)
        if change.kind == "round":
            return self._round(change)
        return [Fault("kind", shown(change.kind), ALLOWED, "is not a caddie's to change")]

    def _shot(self, change: Change, accepted: Numbering) -> list[Fault]:
        new = change.record_id not in accepted.owners and change.op == PUT
        if not new and change.record_id not in self.shots:
            return [Fault("record_id", change.record_id, ALLOWED, "is not a shot of this round")]
        if change.op == PUT and change.fields["round_id"] != self.caddie.round_id:
            return [Fault("round_id", change.fields["round_id"], ALLOWED, "is another round")]
        return []

    def _round(self, change: Change) -> list[Fault]:
        if change.record_id != self.caddie.round_id:
            return [Fault("record_id", change.record_id, ALLOWED, "is another round")]
        if change.op == DELETE:
            return [Fault("op", DELETE, ALLOWED, "of a round is not a caddie's")]
        now_there, before = self.head
        if now_there not in change.parents:
            why = "do not name the version that is there now, which the player has changed: set it again"
            return [Fault("parents", shown(list(change.parents)), now_there, why)]
        after = json.loads(change.body or "{}")
        names = sorted(before.keys() | after.keys())
        changed = [name for name in names if name not in ROUND_FIELDS and before.get(name) != after.get(name)]
        return [Fault(shown(name), shown(after.get(name)), ALLOWED, "is not a caddie's to change") for name in changed]

    def took(self, change: Change) -> None:
        """A shot that was made is one of this round, and a round that was changed is what is changed next."""
        if change.kind == "shot":
            self.shots.add(change.record_id)
        else:
            self.__dict__["head"] = change.change_id, json.loads(change.body or "{}")

    def charge(self, connection: sa.Connection, added: int) -> None:
        """Count what the log gains by this caddie."""
        mine = CADDIE.c.caddie_id == self.caddie.caddie_id
        held = connection.execute(sa.select(CADDIE.c.log_bytes).where(mine)).scalar_one()
        if held + added > MOST_BYTES:
            raise CaddieFullError(held, added)
        if added:
            connection.execute(sa.update(CADDIE).where(mine).values(log_bytes=held + added))


def _mentions(round_id: str) -> sa.ColumnElement[bool]:
    """Bodies that name the round, as canonical JSON writes it; inside words the quotes would be escaped."""
    return CHANGE.c.body.contains(f'"round_id":"{round_id}"', autoescape=True)


def _shots_of_round(connection: sa.Connection, caddie: Caddie, record_ids: Sequence[str]) -> set[str]:
    """Of these records the shots that belong to the round, or belonged to it alone before they were deleted."""
    ids = sorted(set(record_ids))
    columns = (SHOT.c.record_id, SHOT.c.round_id, SHOT.c.player_id)
    here = {
        row.record_id: (row.player_id, row.round_id) for row in select_in(connection, columns, SHOT.c.record_id, ids)
    }
    gone = [one for one in ids if one not in here]
    only_here: dict[str, bool] = {}
    if gone:
        mine = sa.and_(CHANGE.c.player_id == caddie.player_id, CHANGE.c.kind == "shot", CHANGE.c.op == PUT)
        query = sa.select(CHANGE.c.record_id, sa.func.min(sa.case((_mentions(caddie.round_id), 1), else_=0)))
        query = query.where(mine, CHANGE.c.record_id.in_(gone)).group_by(CHANGE.c.record_id)
        only_here = {row[0]: bool(row[1]) for row in connection.execute(query)}
    ours = (caddie.player_id, caddie.round_id)
    return {one for one, where in here.items() if where == ours} | {one for one, all_ in only_here.items() if all_}


def pull_of_caddie(engine: sa.Engine, caddie: Caddie, after: str | None) -> tuple[Page, str]:
    """The changes of the round and its shots after a cursor, and the mark of what is needed beside them
    (`needs_of_caddie`), which changes with it. A shot that was moved to another round reads as deleted."""
    with reading(engine) as connection:
        refuse_ended(connection, caddie)
        mark = _mark(connection, caddie)
        start = sequence_of(connection, caddie.player_id, after)
        if start is None:
            return Page([], None, False, True), mark
        if not after:
            start = _first(connection, caddie) - 1
        end = min(start + SCANNED, _last(connection, caddie.player_id))
        taken, end = _scanned(connection, caddie, start, end)
        last = sa.select(CHANGE.c.seq, CHANGE.c.change_id, CHANGE.c.chain)
        last = last.where(CHANGE.c.player_id == caddie.player_id, CHANGE.c.seq == end)
        row = connection.execute(last).mappings().first()
        more = end < _last(connection, caddie.player_id)
    found = [change_out(_seen(row_, caddie)) for row_ in taken]
    return Page(found, after if row is None else cursor_at(row), more, False), mark


def _last(connection: sa.Connection, player_id: str) -> int:
    return int(connection.execute(sa.select(PLAYER.c.last_seq).where(PLAYER.c.player_id == player_id)).scalar_one())


def _first(connection: sa.Connection, caddie: Caddie) -> int:
    """The number of the first change of the round or of a live shot of it."""
    mine = CHANGE.c.player_id == caddie.player_id
    of_round = sa.select(sa.func.min(CHANGE.c.seq)).where(CHANGE.c.record_id == caddie.round_id, mine)
    joined = SHOT.join(CHANGE, CHANGE.c.record_id == SHOT.c.record_id)
    here = sa.and_(SHOT.c.player_id == caddie.player_id, SHOT.c.round_id == caddie.round_id)
    of_shots = sa.select(sa.func.min(CHANGE.c.seq)).select_from(joined).where(here, mine)
    found = (connection.execute(query).scalar() for query in (of_round, of_shots))
    return min(int(number) for number in found if number is not None)


def _scanned(connection: sa.Connection, caddie: Caddie, start: int, end: int) -> tuple[list[Any], int]:
    """The round's changes among those after `start` up to `end`, as many as a page has bytes; and where they end."""
    other = CHANGE.alias("other")
    named = other.c.body.contains(f'"round_id":"{caddie.round_id}"', autoescape=True)
    same = sa.and_(other.c.record_id == CHANGE.c.record_id, other.c.player_id == caddie.player_id)
    once = sa.exists().where(same, other.c.kind == "shot", named)
    ours = sa.or_(CHANGE.c.record_id == caddie.round_id, sa.and_(CHANGE.c.kind == "shot", once))
    query = sa.select(CHANGE).where(CHANGE.c.player_id == caddie.player_id, CHANGE.c.seq > start, CHANGE.c.seq <= end)
    taken: list[Any] = []
    size = 0
    options = {"stream_results": True, "max_row_buffer": 20}
    with connection.execute(query.where(ours).order_by(CHANGE.c.seq), execution_options=options) as found:
        for row in found.mappings():
            size += change_bytes(row)
            if taken and size > PAGE_BYTES:
                return taken, int(taken[-1]["seq"])
            taken.append(row)
    return taken, end


def _seen(row: sa.RowMapping, caddie: Caddie) -> Any:
    """A change as a caddie may see it: nothing of another round."""
    if row["kind"] != "shot" or row["op"] == DELETE or json.loads(row["body"]).get("round_id") == caddie.round_id:
        return row
    return {**row, "op": DELETE, "body": None}


def needs_of_caddie(engine: sa.Engine, caddie: Caddie) -> CaddieNeeds:
    """What entering the round needs beside its log: the player's name, hand and units, the clubs of the bag, the course
    and the maps of its holes, as many as a page has bytes."""
    with reading(engine) as connection:
        refuse_ended(connection, caddie)
        player = player_by_id(connection, caddie.player_id)
        round_ = _round_needs(connection, caddie)
        maps, left_out = _maps(connection, caddie, round_.course_id)
        return {
            "mark": _mark(connection, caddie),
            "round_id": caddie.round_id,
            "player": {
                "player_id": caddie.player_id,
                "name": "(no name yet)" if player is None else player.name,
                "plays": "right" if player is None else player.plays,
                "units": "yards" if player is None else player.units,
            },
            "clubs": _clubs(connection, caddie, json.loads(round_.bag)),
            "course": _course(connection, caddie, round_.course_id),
            "hole_maps": maps,
            "maps_left_out": left_out,
        }


def _round_needs(connection: sa.Connection, caddie: Caddie) -> Any:
    query = sa.select(ROUND.c.course_id, ROUND.c.bag)
    mine = sa.and_(ROUND.c.record_id == caddie.round_id, ROUND.c.player_id == caddie.player_id)
    return connection.execute(query.where(mine)).one()


def _clubs(connection: sa.Connection, caddie: Caddie, bag: list[str]) -> list[CaddieClub]:
    mine = sa.and_(CLUB.c.player_id == caddie.player_id, CLUB.c.record_id.in_(bag))
    found = {row.record_id: row for row in connection.execute(sa.select(CLUB).where(mine))}
    rows = [found[club_id] for club_id in bag if club_id in found]
    return [{"club_id": row.record_id, "label": row.label, "sort": row.sort, "loft_deg": row.loft_deg} for row in rows]


def _course(connection: sa.Connection, caddie: Caddie, course_id: str | None) -> CaddieCourse | None:
    mine = sa.and_(COURSE.c.player_id == caddie.player_id, COURSE.c.record_id == course_id)
    row = connection.execute(sa.select(COURSE).where(mine)).first()
    return None if row is None else {"course_id": row.record_id, "name": row.name, "tees": json.loads(row.tees)}


def _maps(connection: sa.Connection, caddie: Caddie, course_id: str | None) -> tuple[list[CaddieMap], list[int]]:
    """The maps of the course by hole, and the holes whose maps have no room."""
    mine = sa.and_(HOLE_MAP.c.player_id == caddie.player_id, HOLE_MAP.c.course_id == course_id)
    query = sa.select(HOLE_MAP.c.record_id, HOLE_MAP.c.hole, HOLE_MAP.c.features).where(mine)
    taken: list[CaddieMap] = []
    left_out: list[int] = []
    size = 0
    options = {"stream_results": True, "max_row_buffer": 1}
    with connection.execute(query.order_by(HOLE_MAP.c.hole, HOLE_MAP.c.record_id), execution_options=options) as found:
        for row in found:
            size += len(row.features)
            if size > PAGE_BYTES:
                left_out.append(row.hole)
                continue
            features = json.loads(row.features)
            taken.append({"record_id": row.record_id, "hole": row.hole, "features": features, "frame": None})
    found_heads = heads(connection, [one["record_id"] for one in taken])
    for one in taken:
        one["frame"] = frame_of((found_heads[one["record_id"]].body or {}) if one["record_id"] in found_heads else {})
    return taken, left_out


def _mark(connection: sa.Connection, caddie: Caddie) -> str:
    """A word that changes with what `needs_of_caddie` returns."""
    round_ = _round_needs(connection, caddie)
    maps = sa.select(HOLE_MAP.c.record_id)
    maps = maps.where(HOLE_MAP.c.player_id == caddie.player_id, HOLE_MAP.c.course_id == round_.course_id)
    ids = [caddie.player_id, caddie.round_id, *json.loads(round_.bag), *filter(None, [round_.course_id])]
    ids += connection.execute(maps).scalars()
    query = sa.select(sa.func.max(CHANGE.c.seq)).where(CHANGE.c.player_id == caddie.player_id)
    return f"{NEEDS} {connection.execute(query.where(CHANGE.c.record_id.in_(ids))).scalar_one()}"
