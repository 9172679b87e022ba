"""Records and changes for tests: sound ones, to be spoilt one field at a time."""

from __future__ import annotations

from typing import Any
from uuid import NAMESPACE_URL, uuid4, uuid5


def named(name: str) -> str:
    """A fixed UUID for a name."""
    return str(uuid5(NAMESPACE_URL, name))


BODIES: dict[str, dict[str, Any]] = {
    "player": {"name": "Wren Quillfeather", "plays": "right"},
    "club": {"label": "driver", "sort": "driver"},
    "setup": {"club_id": named("driver"), "since": "2026-05-01", "note": "softer shaft"},
    "course": {
        "name": "Blottingham Heath",
        "tees": [{"name": "middle", "holes": [{"number": 1, "par": 4, "length_yd": 400}]}],
    },
    "hole_map": {
        "course_id": named("course"),
        "hole": 1,
        "features": [
            {
                "type": "Feature",
                "properties": {"golf": "green"},
                "geometry": {"type": "Polygon", "coordinates": [[[0, 390], [10, 390], [0, 410], [0, 390]]]},
            }
        ],
    },
    "round": {
        "played_on": "2026-05-01",
        "kind": "practice",
        "holes": [{"number": 1, "par": 4, "length_yd": 400}],
        "bag": [],
    },
    "shot": {
        "round_id": named("round"),
        "hole": 1,
        "ball": 1,
        "order": 1,
        "lie": "tee",
        "distance_yd": 400,
        "club_id": named("driver"),
    },
    "session": {"date": "2026-05-02", "place": "range"},
    "practice_ball": {"session_id": named("session"), "order": 1, "club_id": named("driver")},
}
"""One sound body of every kind, required fields alone."""


def body_of(kind: str, /, **fields: Any) -> dict[str, Any]:
    """A sound body with some fields set otherwise."""
    return BODIES[kind] | fields


def change(
    kind: str, body: dict[str, Any] | None = None, record_id: str | None = None, **fields: Any
) -> dict[str, Any]:
    """A sound change: a put of `body`, or a delete without one."""
    return {
        "change_id": str(uuid4()),
        "record_id": record_id or str(uuid4()),
        "kind": kind,
        "parents": [],
        "op": "delete" if body is None else "put",
        "body": body,
        "device_id": "phone",
        "client_time": "2026-05-01T09:30:00.000Z",
        "schema_version": 1,
    } | fields


class Season:
    """Collects the changes of one player's records, ids by name, so that a test reads like a round."""

    def __init__(self, player: str = "Wren Quillfeather", **settings: Any) -> None:
        self.player_id = named(player)
        self.changes = [change("player", {"name": player, "plays": "right"} | settings, self.player_id)]

    def put(self, kind: str, name: str, body: dict[str, Any], **fields: Any) -> str:
        """A put of the record of that name; returns its id."""
        record_id = named(f"{self.player_id}|{name}")
        self.changes.append(change(kind, body, record_id, **fields))
        return record_id

    def club(self, label: str, sort: str = "iron", name: str | None = None, **fields: Any) -> str:
        """A club."""
        return self.put("club", name or f"club {label}", {"label": label, "sort": sort} | fields)

    def round(self, name: str, holes: dict[int, tuple[int, float]] | None = None, **fields: Any) -> str:
        """A round; `holes`: number -> (par, yards)."""
        listed = [
            {"number": number, "par": par, "length_yd": yards}
            for number, (par, yards) in (holes or {1: (4, 400.0)}).items()
        ]
        return self.put("round", name, body_of("round", holes=listed) | fields)

    def shot(self, round_id: str, hole: int, order: int, lie: str, yards: float, club_id: str, **fields: Any) -> str:
        """A shot of ball 1 unless given otherwise."""
        body = {
            "round_id": round_id,
            "hole": hole,
            "ball": 1,
            "order": order,
            "lie": lie,
            "distance_yd": yards,
            "club_id": club_id,
        } | fields
        return self.put("shot", f"{round_id}|{hole}|{body['ball']}|{order}", body)


def par_four(season: Season, round_id: str, clubs: dict[str, str], hole: int = 1) -> None:
    """Four shots: tee 400, fairway 150, green 18 ft and 2 ft; in the tour tables 3.99, 2.945, 1.834 and 1.01."""
    season.shot(round_id, hole, 1, "tee", 400, clubs["driver"])
    season.shot(round_id, hole, 2, "fairway", 150, clubs["8 iron"])
    season.shot(round_id, hole, 3, "green", 6, clubs["putter"])
    season.shot(round_id, hole, 4, "green", 2 / 3, clubs["putter"], holed=True)


def default_clubs(season: Season) -> dict[str, str]:
    """Three clubs, label -> id."""
    sorts = {"driver": "driver", "8 iron": "iron", "putter": "putter"}
    return {label: season.club(label, sort) for label, sort in sorts.items()}
