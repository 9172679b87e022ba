"""Rows of a table whose position lies far from their course's maps, or from the others of their round."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from server.files.shots_blocks import TableRow
from server.files.table_faults import RowFault
from server.game.far_positions import ITS_MAP, Place, far_from, middle_of


def far_from_each_other(shots: Sequence[TableRow]) -> list[RowFault]:
    """Rows of one round whose position lies far from the middle one of the round; nothing where there is one alone."""
    rows = [row for row in shots if row["position"]]
    if len(rows) < 2:
        return []
    middle = rows[middle_of([_place(row) for row in rows])]
    return _far(rows, [_place(middle)], f"the position of row {middle['row']} of the same round")


def far_from_course(shots: Sequence[TableRow], maps: Collection[Place]) -> list[RowFault]:
    """Rows of one round whose position lies far from every map of its course; `maps`: longitude, latitude of each."""
    return _far([row for row in shots if row["position"]], list(maps), ITS_MAP)


def _place(row: TableRow) -> Place:
    lon, lat, *_ = row["position"]
    return lon, lat


def _far(rows: Sequence[TableRow], near: Sequence[Place], what: str) -> list[RowFault]:
    faults = []
    for row in rows:
        lon, lat = _place(row)
        if far := far_from((lon, lat), near, what):
            message = f"{lon:g}, lat {lat:g} {far.message}"
            faults.append(RowFault(row["row"], "lon", message, f"{lon:g}, {lat:g}", far.allowed))
    return faults
