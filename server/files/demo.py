"""Loading the invented demo season: its shots through the importer, its clubs' details, setups and maps as records."""

from __future__ import annotations

import csv
import json
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final
from uuid import UUID, uuid5

import sqlalchemy as sa

from server.files.import_records import Newcomers, Record
from server.files.shots_import import NAMESPACE, Imported, import_table
from server.files.shots_rows import read_table
from server.records.changes import digest, iso
from server.records.json_types import Envelope, JsonObject, RecordBody
from server.store.engine import reading
from server.store.log import known_ids, push
from server.store.players import Head, club_ids, courses, heads, players_by_name

FOLDER: Final = Path(__file__).resolve().parents[2] / "demo_rounds"
_NUMBERS: Final = frozenset({"loft_deg"})


def load_demo(engine: sa.Engine) -> Imported:
    """Import the demo's shots, then say of its clubs, setups and holes what the shots table cannot. Twice changes
    nothing."""
    table = read_table((FOLDER / "season_2026.csv").read_bytes())
    done = import_table(engine, table)
    name = table.rows[0]["player"]
    with reading(engine) as connection:
        player_id = players_by_name(connection, name)[0].player_id
        clubs = club_ids(connection, player_id)
        maps = _map_records(player_id, courses(connection, player_id))
        records = _club_records(clubs) | _setup_records(player_id, clubs) | maps
        current = heads(connection, list(records))
    asked = [_change(record_id, kind, body, current) for record_id, (kind, body) in records.items()]
    with reading(engine) as connection:
        known = known_ids(connection, [change["change_id"] for change in asked])
    fresh = [change for change in asked if change["change_id"] not in known]
    done.changes += push(engine, player_id, "demo", fresh, strict=True).new
    return done


def load_squad(engine: sa.Engine) -> list[Imported]:
    """Import the rounds of the invented squad, player by player, with hand and units. Twice changes nothing."""
    table = read_table((FOLDER / "squad_2026.csv").read_bytes())
    done = []
    for entry in tomllib.loads((FOLDER / "squad.toml").read_text(encoding="utf-8"))["player"]:
        rows = [row for row in table.rows if row["player"] == entry["player"]]
        newcomers = Newcomers(entry["plays"], entry["units"])
        done.append(import_table(engine, replace(table, rows=rows), newcomers=newcomers))
    return done


def _rows(name: str) -> list[dict[str, str | float | bool]]:
    """The rows of a small table: empty cells left out, numbers as numbers, yes and no as true and false."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return [{key: _value(key, cell) for key, cell in row.items() if cell} for row in csv.DictReader(file)]


def _value(name: str, cell: str) -> str | float | bool:
    if name in _NUMBERS:
        return float(cell)
    return {"yes": True, "no": False}.get(cell, cell)


def _club_records(clubs: dict[str, str]) -> dict[str, Record]:
    return {clubs[row["label"]]: ("club", row) for row in _rows("clubs.csv") if row["label"] in clubs}


def _setup_records(player_id: str, clubs: dict[str, str]) -> dict[str, Record]:
    records: dict[str, Record] = {}
    for row in _rows("setups.csv"):
        label = str(row.pop("club"))
        setup_id = str(uuid5(UUID(player_id), f"setup|{label}|{row['since']}"))
        records[setup_id] = ("setup", row | {"club_id": clubs[label]})
    return records


def _map_records(player_id: str, known: dict[str, tuple[str, Any]]) -> dict[str, Record]:
    """One map a hole of the invented course, from `hole_maps.geojson`."""
    collection = json.loads((FOLDER / "hole_maps.geojson").read_text(encoding="utf-8"))
    course_id = known[collection["course"]][0]
    holes: dict[int, list[JsonObject]] = {}
    for feature in collection["features"]:
        holes.setdefault(feature["properties"]["hole"], []).append(feature)
    return {
        str(uuid5(UUID(player_id), f"hole_map|{collection['course']}|{hole}")): (
            "hole_map",
            {"course_id": course_id, "hole": hole, "features": features},
        )
        for hole, features in holes.items()
    }


def _change(record_id: str, kind: str, body: RecordBody, current: Mapping[str, Head]) -> Envelope:
    head = current.get(record_id)
    return {
        "change_id": str(uuid5(NAMESPACE, f"{record_id}|{digest(body)}")),
        "record_id": record_id,
        "kind": kind,
        "parents": [] if head is None else [head.change_id],
        "op": "put",
        "body": body,
        "device_id": "demo",
        "client_time": iso(datetime.now(UTC)),
        "schema_version": 1,
    }
