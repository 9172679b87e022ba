"""Rounds record green speed and the conditions of their holes.

A newer phone may have sent them to an older server, which kept them in the log as fields that it did not know: they are
read from there.
"""

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

from server.records.fold import Version, fold

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

GREEN_SPEEDS_FT = (3, 20)
MOST_HOLES = 36
WORDS = {
    "wind": ("none", "light", "fresh", "strong"),
    "pin_depth": ("front", "middle", "back"),
    "pin_side": ("left", "centre", "right"),
}
AT_ONCE = 500

STATED = sa.text(
    "SELECT DISTINCT change.record_id FROM change JOIN player ON player.player_id = change.player_id "
    "WHERE change.kind = :kind AND (change.body LIKE :speed OR change.body LIKE :holes) AND player.erased_at IS NULL"
)
CHANGES = sa.text(
    "SELECT record_id, change_id, parents, op, effective_time, body FROM change WHERE record_id IN :ids"
).bindparams(sa.bindparam("ids", expanding=True))


def upgrade() -> None:
    """Add the columns, and fill them where the log already holds their values."""
    op.add_column("round", sa.Column("green_speed_ft", sa.Double()))
    op.add_column("round", sa.Column("hole_conditions", sa.Text()))
    connection = op.get_bind()
    wanted = {"kind": "round", "speed": '%"green_speed_ft"%', "holes": '%"hole_conditions"%'}
    ids = sorted(connection.execute(STATED, wanted).scalars())
    write = sa.text('UPDATE "round" SET green_speed_ft = :speed, hole_conditions = :holes WHERE record_id = :record_id')
    for start in range(0, len(ids), AT_ONCE):
        changes: dict[str, list[Version]] = {}
        for row in connection.execute(CHANGES, {"ids": ids[start : start + AT_ONCE]}).mappings():
            version = Version(
                row["change_id"], tuple(json.loads(row["parents"])), row["op"], row["effective_time"], row["body"]
            )
            changes.setdefault(row["record_id"], []).append(version)
        for record_id, versions in changes.items():
            speaks = fold(versions).speaks
            body = json.loads(speaks.body) if speaks is not None else {}
            found = {"speed": _number(body.get("green_speed_ft"), *GREEN_SPEEDS_FT), "holes": _holes(body)}
            if any(value is not None for value in found.values()):
                connection.execute(write, found | {"record_id": record_id})


def _number(value: Any, low: float, high: float) -> float | None:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return float(value) if number and low <= value <= high else None


def _holes(body: dict[str, Any]) -> str | None:
    entries = body.get("hole_conditions")
    if not isinstance(entries, list):
        return None
    sound: dict[int, dict[str, Any]] = {}
    for entry in entries:
        hole = entry.get("hole") if isinstance(entry, dict) else None
        if type(hole) is not int or not 1 <= hole <= MOST_HOLES:
            continue
        recorded: dict[str, Any] = {name: entry.get(name) for name in WORDS if entry.get(name) in WORDS[name]}
        wind_from = _number(entry.get("wind_from_deg"), 0, 360)
        recorded |= {} if wind_from is None else {"wind_from_deg": wind_from}
        if recorded:
            sound[hole] = {"hole": hole, **recorded}
    return json.dumps(list(sound.values()), sort_keys=True, separators=(",", ":")) if sound else None
