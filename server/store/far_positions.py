"""Positions of a push that cannot be right, found while the log is appended to.

Each is held against the maps of its course and the other positions of its round, those in the log and those of the
same push; a hole's map against itself and, for exchanged degrees, against the other maps of the course. A position that
the log holds already is not asked again: what is edited beside it is not held up by it.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from server.game.far_positions import Far, Place, agreed, far_from, far_from_company, is_exchanged
from server.game.map_frames import frame_of
from server.records.changes import Change
from server.records.validation import Fault
from server.store.engine import select_in
from server.store.players import heads, map_places
from server.store.tables import ROUND, SHOT

MOST_OTHERS: Final = 200
"""So many other positions show where a round is."""
OF_ROUND: Final = "the other positions of the round"
OF_COURSE: Final = "the maps of the course"
OF_WALK: Final = "the other positions of the map"


class FieldPlace(NamedTuple):
    """A position in a record, by its field."""

    field: str
    place: Place


def far_in_push(connection: sa.Connection, player_id: str, changes: Sequence[Change]) -> dict[str, list[Fault]]:
    """Faults of the positions that these changes bring, by change id."""
    bring = [(change, places) for change in changes if (places := _positions(change.kind, change.fields, change.body))]
    if not bring:
        return {}
    known = _Known(connection, player_id, bring)
    found = {change.change_id: list(known.faults(change, places)) for change, places in bring}
    return {change_id: faults for change_id, faults in found.items() if faults}


def _positions(kind: str, fields: Any, body: str | None) -> list[FieldPlace]:
    """The positions of a record; of a delete none."""
    if not fields:
        return []
    if kind == "shot":
        return [FieldPlace("position", _place(fields["position"]))] if fields["position"] else []
    if kind == "round":
        holes = enumerate(fields["holes"])
        return [FieldPlace(f"holes.{index}.flag", _place(hole["flag"])) for index, hole in holes if hole["flag"]]
    if kind == "hole_map":
        return _positions_of_map(json.loads(body or "{}"))
    return []


def _positions_of_map(body: Any) -> list[FieldPlace]:
    frame = frame_of(body)
    found = [FieldPlace("frame", (frame["lon"], frame["lat"]))] if frame else []
    for index, shape in enumerate(body.get("walk") or ()):
        for corner, position in enumerate(shape["corners"]):
            found.append(FieldPlace(f"walk.{index}.corners.{corner}", _place(position)))
    return found


def _place(position: Sequence[float]) -> Place:
    return position[0], position[1]


class _Known:
    """What is known of where the rounds and courses of a push are.

    `held`: the positions of a record in the log, by field; `logged`: those of a round; `around`: the same with those of
    the push, by record; of a course the places of its maps.
    """

    def __init__(
        self, connection: sa.Connection, player_id: str, bring: Sequence[tuple[Change, Sequence[FieldPlace]]]
    ) -> None:
        self.connection, self.player_id = connection, player_id
        self.maps: dict[str, list[Place]] = {}
        self.course_of: dict[str, str | None] = {}
        self.held: dict[str, dict[str, Place]] = defaultdict(dict)
        self.logged: dict[str, list[Place]] = defaultdict(list)
        self.around: dict[str, dict[str, list[Place]]] = defaultdict(lambda: defaultdict(list))
        self._read_rounds(sorted({_round_of(change) for change, _ in bring if change.kind != "hole_map"}))
        self._read_maps(sorted({change.record_id for change, _ in bring if change.kind == "hole_map"}))
        for change, places in bring:
            if change.kind == "round":
                self.course_of[change.record_id] = change.fields["course_id"]
            if change.kind != "hole_map":
                self.around[_round_of(change)][change.record_id] = [one.place for one in places]

    def faults(self, change: Change, places: Sequence[FieldPlace]) -> Iterator[Fault]:
        """What is far of a record's positions that the log does not hold of it yet."""
        held = self.held[change.record_id]
        for index, (field, place) in enumerate(places):
            if held.get(field) == place:
                continue
            own = [one.place for at, one in enumerate(places) if at != index]
            far = self._of_map(change, place, own) if change.kind == "hole_map" else self._of_round(change, place, own)
            if far:
                yield Fault(field, f"{place[0]:g}, {place[1]:g}", far.allowed, far.message)

    def _of_round(self, change: Change, place: Place, own: Sequence[Place]) -> Far | None:
        round_id = _round_of(change)
        if agreed(place, self.logged[round_id]):
            return None  # without a look at the maps, which are long
        around = self.around[round_id].items()
        others = [one for record_id, places in around if record_id != change.record_id for one in places]
        maps = self._places(self.course_of.get(round_id))
        return far_from_company(place, maps, [*own, *others][:MOST_OTHERS], OF_ROUND)

    def _of_map(self, change: Change, place: Place, own: Sequence[Place]) -> Far | None:
        maps = self._places(change.fields["course_id"])
        if is_exchanged(place, maps):
            return far_from(place, maps, OF_COURSE)
        return far_from_company(place, (), own[:MOST_OTHERS], OF_WALK)

    def _places(self, course_id: str | None) -> list[Place]:
        """Where the maps of a course lie."""
        if course_id is None:
            return []
        if course_id not in self.maps:
            self.maps[course_id] = map_places(self.connection, self.player_id, course_id)
        return self.maps[course_id]

    def _read_rounds(self, round_ids: Sequence[str]) -> None:
        columns = (ROUND.c.record_id, ROUND.c.course_id)
        mine = self._mine(columns, ROUND.c.record_id, round_ids)
        self.course_of |= {row.record_id: row.course_id for row in mine}
        for round_id, body in self._bodies([row.record_id for row in mine]):
            for index, hole in enumerate(body.get("holes", ())):
                if hole.get("flag"):
                    self._hold(round_id, round_id, FieldPlace(f"holes.{index}.flag", _place(hole["flag"])))
        positions = (SHOT.c.record_id, SHOT.c.round_id, SHOT.c.lon, SHOT.c.lat)
        for row in self._mine(positions, SHOT.c.round_id, round_ids):
            if row.lon is not None:
                self._hold(row.round_id, row.record_id, FieldPlace("position", (row.lon, row.lat)))

    def _hold(self, round_id: str, record_id: str, position: FieldPlace) -> None:
        self.held[record_id][position.field] = position.place
        self.around[round_id][record_id].append(position.place)
        if len(self.logged[round_id]) < MOST_OTHERS:
            self.logged[round_id].append(position.place)

    def _read_maps(self, map_ids: Sequence[str]) -> None:
        for map_id, body in self._bodies(map_ids):
            self.held[map_id] = {one.field: one.place for one in _positions_of_map(body)}

    def _mine(self, columns: Sequence[Any], key: Any, ids: Sequence[str]) -> list[Any]:
        return select_in(self.connection, columns, key, ids, of=self.player_id)

    def _bodies(self, record_ids: Sequence[str]) -> Iterator[tuple[str, Any]]:
        for record_id, head in heads(self.connection, record_ids).items():
            if head.player_id == self.player_id and head.body:
                yield record_id, head.body


def _round_of(change: Change) -> str:
    return change.record_id if change.kind == "round" else str(change.fields["round_id"])
