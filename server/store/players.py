"""What the store knows of players and their records: profile, clubs, courses, rounds, leaves."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from server.game.map_frames import frame_of
from server.records.fold import PUT, Version, fold
from server.records.json_types import RecordBody
from server.store.derive import FOLD_COLUMNS, version_of
from server.store.engine import select_in
from server.store.places import select_changes
from server.store.quotas import PAGE_BYTES, ROW_BYTES
from server.store.rows import (
    HoleRow,
    LatestRound,
    LeafRow,
    ListedRound,
    RecordVersions,
    RoundRow,
    RoundWithHoles,
    TeesRow,
)
from server.store.tables import (
    CHANGE,
    CLUB,
    COURSE,
    COURSE_OF_ROUND,
    HOLE_MAP,
    PLAYER,
    PLAYER_RECORD,
    ROUND,
    ROUND_HOLE,
    ROUND_OF_SHOT,
    SHOT,
)


@dataclass(frozen=True)
class Player:
    """A player with the settings that values depend on."""

    player_id: str
    name: str
    plays: str
    units: str
    baseline: str
    category_scheme: str
    short_game_yd: float | None


def _player(row: Any) -> Player:
    return Player(
        row.player_id,
        row.name or "(no name yet)",
        row.plays or "right",
        row.units or "yards",
        row.baseline or "tour",
        row.category_scheme or "four_part",
        row.short_game_yd,
    )


def _players_query() -> sa.Select[Any]:
    columns = [column for column in PLAYER_RECORD.c if column.name not in ("record_id", "player_id")]
    joined = PLAYER.outerjoin(PLAYER_RECORD, PLAYER_RECORD.c.record_id == PLAYER.c.player_id)
    return sa.select(PLAYER.c.player_id, *columns).select_from(joined).where(PLAYER.c.erased_at.is_(None))


def not_erased(connection: sa.Connection, rows: Sequence[Any]) -> list[Any]:
    """Of these rows of the log the ones whose player was not erased: what an erased player had is nobody's."""
    ids = sorted({row.player_id for row in rows})
    if not ids:
        return []
    found = select_in(connection, (PLAYER.c.player_id, PLAYER.c.erased_at), PLAYER.c.player_id, ids)
    living = {row.player_id for row in found if row.erased_at is None}
    return [row for row in rows if row.player_id in living]


def players(connection: sa.Connection) -> list[Player]:
    """All players by name."""
    query = _players_query().order_by(PLAYER_RECORD.c.name, PLAYER.c.player_id)
    return [_player(row) for row in connection.execute(query)]


def player_by_id(connection: sa.Connection, player_id: str) -> Player | None:
    """One player, or None."""
    row = connection.execute(_players_query().where(PLAYER.c.player_id == player_id)).first()
    return None if row is None else _player(row)


def players_by_name(connection: sa.Connection, name: str) -> list[Player]:
    """The players of that name: none, one, or more."""
    return [_player(row) for row in connection.execute(_BY_NAME, {"name": name})]


_BY_NAME: Final = _players_query().where(PLAYER_RECORD.c.name == sa.bindparam("name")).order_by(PLAYER.c.player_id)
_CLUBS: Final = (
    sa.select(CLUB.c.label, CLUB.c.record_id)
    .where(CLUB.c.player_id == sa.bindparam("of"), CLUB.c.deleted.is_(False))
    .order_by(CLUB.c.record_id)
)
_COURSES: Final = sa.select(COURSE.c.name, COURSE.c.record_id, COURSE.c.tees).where(
    COURSE.c.player_id == sa.bindparam("of")
)


def club_ids(connection: sa.Connection, player_id: str) -> dict[str, str]:
    """The player's clubs, label -> id; of a label given twice the first made."""
    found: dict[str, str] = {}
    for label, club_id in connection.execute(_CLUBS, {"of": player_id}):
        found.setdefault(label, club_id)
    return found


def map_places(connection: sa.Connection, player_id: str, course_id: str) -> list[tuple[float, float]]:
    """Longitude and latitude of the maps of a course of the player's that have a place on the earth."""
    query = sa.select(HOLE_MAP.c.record_id)
    ids = connection.execute(query.where(HOLE_MAP.c.player_id == player_id, HOLE_MAP.c.course_id == course_id))
    frames = [frame_of(head.body or {}) for head in heads(connection, list(ids.scalars())).values()]
    return [(frame["lon"], frame["lat"]) for frame in frames if frame is not None]


def courses(connection: sa.Connection, player_id: str) -> dict[str, tuple[str, list[TeesRow]]]:
    """The player's courses, name -> (id, tees); of a name given twice one."""
    return {name: (course_id, tees) for name, course_id, tees in every_course(connection, player_id)}


def courses_of(connection: sa.Connection, player_ids: Sequence[str]) -> dict[str, list[tuple[str, str, list[TeesRow]]]]:
    """The courses of some players in one query, as `every_course` has them: player id -> courses. Who has none is left
    out."""
    columns = (COURSE.c.player_id, COURSE.c.name, COURSE.c.record_id, COURSE.c.tees)
    found: dict[str, list[tuple[str, str, list[TeesRow]]]] = {}
    for row in select_in(connection, columns, COURSE.c.player_id, player_ids):
        found.setdefault(row.player_id, []).append((row.name, row.record_id, json.loads(row.tees)))
    return found


def every_course(connection: sa.Connection, player_id: str) -> list[tuple[str, str, list[TeesRow]]]:
    """The player's courses as (name, id, tees), also when two devices made one each of the same name."""
    rows = connection.execute(_COURSES, {"of": player_id})
    return [(name, course_id, json.loads(tees)) for name, course_id, tees in rows]


def rounds(connection: sa.Connection, player_id: str) -> list[ListedRound]:
    """The player's rounds, latest first. A deleted round is listed only while shots live under it."""
    live = sa.select(sa.func.count()).where(ROUND_OF_SHOT)
    shots = live.scalar_subquery().label("shots")
    query = (
        sa.select(ROUND, COURSE.c.name.label("course"), shots)
        .outerjoin(COURSE, COURSE_OF_ROUND)
        .where(ROUND.c.player_id == player_id)
        .order_by(ROUND.c.played_on.desc(), ROUND.c.record_id)
    )
    found = connection.execute(query).mappings()
    return [{**_round(row), "shots": row["shots"]} for row in found if not row["deleted"] or row["shots"]]


def rounds_of_players(connection: sa.Connection, player_ids: Sequence[str]) -> dict[str, list[LatestRound]]:
    """The rounds of some players, latest first, as `rounds` lists them, in one query: player id -> rounds."""
    mine = SHOT.c.player_id.in_(player_ids)
    live = sa.select(SHOT.c.player_id, SHOT.c.round_id, sa.func.count().label("shots")).where(mine)
    counts = live.group_by(SHOT.c.player_id, SHOT.c.round_id).subquery()
    of_round = sa.and_(counts.c.round_id == ROUND.c.record_id, counts.c.player_id == ROUND.c.player_id)
    query = (
        sa.select(
            ROUND.c.player_id,
            ROUND.c.record_id,
            ROUND.c.played_on,
            ROUND.c.kind,
            COURSE.c.name,
            ROUND.c.closed,
            sa.func.coalesce(counts.c.shots, 0).label("shots"),
        )
        .outerjoin(COURSE, COURSE_OF_ROUND)
        .outerjoin(counts, of_round)
        .where(ROUND.c.player_id.in_(player_ids), sa.or_(sa.not_(ROUND.c.deleted), counts.c.shots > 0))
        .order_by(ROUND.c.played_on.desc(), ROUND.c.record_id)
    )
    found: dict[str, list[LatestRound]] = {player_id: [] for player_id in player_ids}
    for player_id, round_id, played_on, kind, course, closed, shots in connection.execute(query):
        found[player_id].append(
            {
                "round_id": round_id,
                "played_on": played_on,
                "kind": kind,
                "course": course,
                "closed": closed,
                "shots": shots,
            }
        )
    return found


def ball_labels(connection: sa.Connection, player_id: str) -> list[str]:
    """The labels of the balls that the player's listed rounds are played with, the latest used first."""
    live = sa.exists().where(ROUND_OF_SHOT).correlate(ROUND)
    query = (
        sa.select(ROUND.c.ball_label)
        .where(ROUND.c.player_id == player_id, ROUND.c.ball_label.is_not(None), sa.or_(sa.not_(ROUND.c.deleted), live))
        .group_by(ROUND.c.ball_label)
        .order_by(sa.func.max(ROUND.c.played_on).desc(), ROUND.c.ball_label)
    )
    return list(connection.execute(query).scalars())


def _round(row: sa.RowMapping) -> RoundRow:
    return {
        "round_id": row["record_id"],
        "player_id": row["player_id"],
        "played_on": row["played_on"],
        "kind": row["kind"],
        "course": row["course"],
        "course_id": row["course_id"],
        "tees": row["tees"],
        "bag": json.loads(row["bag"]),
        "wind_mph": row["wind_mph"],
        "temperature_c": row["temperature_c"],
        "firmness": row["firmness"],
        "note": row["note"],
        "ball_label": row["ball_label"],
        "lengths_taken": row["lengths_taken"],
        "closed": row["closed"],
        "deleted": row["deleted"],
        "closings": json.loads(row["closings"] or "[]"),
        "holes_meant": row["holes_meant"],
        "stopped": row["stopped"],
    }


def round_by_id(connection: sa.Connection, player_id: str, round_id: str) -> RoundWithHoles | None:
    """One round with its holes (number, par, length_yd in playing order), or None."""
    query = (
        sa.select(ROUND, COURSE.c.name.label("course"))
        .outerjoin(COURSE, COURSE_OF_ROUND)
        .where(ROUND.c.player_id == player_id, ROUND.c.record_id == round_id)
    )
    row = connection.execute(query).mappings().first()
    if row is None:
        return None
    holes = sa.select(ROUND_HOLE.c.number, ROUND_HOLE.c.par, ROUND_HOLE.c.length_yd)
    holes = holes.where(ROUND_HOLE.c.record_id == round_id).order_by(ROUND_HOLE.c.number)
    defined: list[HoleRow] = [
        {"number": hole.number, "par": hole.par, "length_yd": hole.length_yd} for hole in connection.execute(holes)
    ]
    return {**_round(row), "holes": defined}


def record_versions(
    connection: sa.Connection, player_id: str, record_id: str, after: str | None = None
) -> RecordVersions | None:
    """A record with its head and every other leaf, bodies included, as many as a page has bytes; `more`: there
    are others. None when there is no such record.

    `after`: the change id of the leaf with which the page before ended. LookupError when it is none of the leaves.
    """
    query = sa.select(*FOLD_COLUMNS, CHANGE.c.device_id).where(
        CHANGE.c.player_id == player_id, CHANGE.c.record_id == record_id
    )
    rows = {row["change_id"]: row for row in connection.execute(query).mappings()}
    if not rows:
        return None
    folded = fold(version_of(row) for row in rows.values())
    ids = [leaf.change_id for leaf in folded.leaves]
    if after is not None and after not in ids:
        raise LookupError(after)
    asked = folded.leaves[0 if after is None else ids.index(after) + 1 :]
    leaves: list[LeafRow] = []
    size = 0
    for leaf in asked:
        this = sa.and_(CHANGE.c.change_id == leaf.change_id, CHANGE.c.player_id == player_id)
        body = connection.execute(sa.select(CHANGE.c.body).where(this)).scalar_one()
        size += len(body or "") + ROW_BYTES
        if leaves and size > PAGE_BYTES:
            break
        leaves.append(
            {
                "change_id": leaf.change_id,
                "op": leaf.op,
                "device_id": rows[leaf.change_id]["device_id"],
                "effective_time": leaf.effective_time,
                "body": json.loads(body) if leaf.op == PUT else None,
            }
        )
    return {
        "record_id": record_id,
        "kind": rows[ids[0]]["kind"],
        "deleted": folded.deleted,
        "leaves": leaves,
        "more": len(leaves) < len(asked),
    }


@dataclass(frozen=True)
class Head:
    """What speaks for a record: the change, whose it is, and the body (None when deleted)."""

    change_id: str
    player_id: str
    body: RecordBody | None


def shares_positions(connection: sa.Connection, player_id: str) -> bool:
    """Whether the player lets positions go where the shots go: to readers and into season tables."""
    return bool(sharing_positions(connection, [player_id]))


def sharing_positions(connection: sa.Connection, player_ids: Sequence[str]) -> set[str]:
    """Those of the players who do."""
    found = heads(connection, player_ids)
    return {
        player_id
        for player_id, head in found.items()
        if head.body is not None and head.body.get("shares_positions") is True
    }


def heads(connection: sa.Connection, record_ids: Sequence[str]) -> dict[str, Head]:
    """The heads of these records, of those that exist."""
    owners: dict[str, str] = {}
    versions: dict[str, list[Version]] = defaultdict(list)
    for row in not_erased(connection, select_changes(connection, FOLD_COLUMNS, CHANGE.c.record_id, record_ids)):
        owners[row.record_id] = row.player_id
        versions[row.record_id].append(version_of(row._mapping))
    owned = {fold(stated).head.change_id: record_id for record_id, stated in versions.items()}
    bodies = select_changes(connection, (CHANGE.c.change_id, CHANGE.c.body), CHANGE.c.change_id, list(owned))
    return {
        owned[head]: Head(head, owners[owned[head]], None if body is None else json.loads(body))
        for head, body in bodies
    }
