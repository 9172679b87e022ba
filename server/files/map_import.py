"""Importing maps of holes from GeoJSON: every hole of the file or none."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final
from uuid import UUID, uuid5

import sqlalchemy as sa

from server.files.shots_import import NAMESPACE
from server.game.geojson_maps import SWAPPED, HoleMap, MapError, maps_from_geojson
from server.records.changes import digest, iso
from server.records.json_types import Envelope, RecordBody
from server.records.validation import InvalidError
from server.store.engine import reading
from server.store.hole_maps import course_by_id
from server.store.log import known_ids, push
from server.store.players import Head, Player, heads
from server.store.rows import TeesRow

DEVICE: Final = "map import"
LARGEST_FILE: Final = 20_000_000
"""Bytes of a file. A course with 5,000 points a hole is about 4 MB."""

SHORTEST, LONGEST = 0.6, 1.15
"""From tee to green a map may be so much of the length that the course states: a bent hole is shorter straight
across, and a tee box is deep. Choices of this tool."""


@dataclass(frozen=True)
class ImportedMaps:
    """What an import did: the holes mapped, how many changes were stored, notes."""

    holes: list[int]
    stored: int
    notes: list[str]


def read_geojson(content: bytes) -> Any:
    """The JSON of a file. Raises MapError when it is too large or no JSON."""
    if len(content) > LARGEST_FILE:
        raise MapError([f"the file has {len(content) / 1e6:.0f} MB; the most is {LARGEST_FILE / 1e6:.0f} MB"])
    try:
        return json.loads(content)
    except (ValueError, RecursionError) as error:
        raise MapError([f"the file is not JSON: {error}"]) from error


def import_maps(
    engine: sa.Engine, player: Player, course_id: str, collection: Any, hole: int | None = None
) -> ImportedMaps:
    """Store the maps of a course's holes as records. Raises MapError with everything that is wrong; then nothing is
    stored.

    A hole that was mapped before gets the new map; the same file again changes nothing.
    """
    with reading(engine) as connection:
        course = course_by_id(connection, player.player_id, course_id)
    if course is None:
        raise MapError(["the course is not known"])
    maps, notes = maps_from_geojson(collection, hole)
    if faults := _length_faults(course[1], maps):
        raise MapError(faults)
    bodies = {
        str(uuid5(UUID(player.player_id), f"hole_map|{course[0]}|{number}")): {
            "course_id": course_id,
            "hole": number,
            "features": found.features,
            "frame": {"lon": found.frame.lon, "lat": found.frame.lat, "turned_deg": found.frame.turned_deg},
        }
        for number, found in maps.items()
    }
    with reading(engine) as connection:
        current = heads(connection, list(bodies))
        changed = {key: body for key, body in bodies.items() if _body_of(current.get(key)) != body}
        asked = [_change(key, body, current.get(key)) for key, body in changed.items()]
        known = known_ids(connection, [change["change_id"] for change in asked])
    fresh = [change for change in asked if change["change_id"] not in known]
    try:
        stored = push(engine, player.player_id, DEVICE, fresh, strict=True).new if fresh else 0
    except InvalidError as invalid:
        raise MapError([str(fault) for fault in invalid.faults]) from invalid
    return ImportedMaps(sorted(maps), stored, notes)


def _length_faults(tees: Sequence[TeesRow], maps: dict[int, HoleMap]) -> list[str]:
    """Holes that the course does not have, or whose map is of quite another length."""
    lengths: dict[int, list[float]] = {}
    for each in tees:
        for hole in each["holes"]:
            lengths.setdefault(hole["number"], []).append(float(hole["length_yd"]))
    faults = []
    for number, found in maps.items():
        if number not in lengths:
            faults.append(f"hole {number}: the course has no such hole")
            continue
        straight, stated = found.length_yd, max(lengths[number])
        if not SHORTEST * min(lengths[number]) <= straight <= LONGEST * stated:
            faults.append(
                f"hole {number}: from tee to green the map has {straight:.0f} yd, the course says {stated:.0f}: "
                f"another hole, or {SWAPPED}"
            )
    return faults


def _body_of(head: Head | None) -> RecordBody | None:
    return None if head is None else head.body


def _change(record_id: str, body: RecordBody, head: Head | None) -> Envelope:
    parents = [] if head is None else [head.change_id]
    return {
        "change_id": str(uuid5(NAMESPACE, f"{record_id}|{digest(body)}|{','.join(parents)}")),
        "record_id": record_id,
        "kind": "hole_map",
        "parents": parents,
        "op": "put",
        "body": body,
        "device_id": DEVICE,
        "client_time": iso(datetime.now(UTC)),
        "schema_version": 1,
    }
