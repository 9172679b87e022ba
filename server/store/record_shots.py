"""The shots of the ball of record of many players, with what strokes gained and their places need and nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd
import sqlalchemy as sa

from server.game.lies import CODE, LIES, UNKNOWN
from server.store.tables import COURSE, COURSE_OF_ROUND, ROUND, ROUND_HOLE, SHOT

USUAL_PAR: Final = 4
"""Of a hole that its round does not define; categories alone ask for it."""

_NUMBERS: Final = (("hole", np.int64), ("order", np.int64), ("distance_yd", np.float64), ("holed", np.bool_))
_SHOTS: Final = (
    sa.select(
        SHOT.c.round_id,
        SHOT.c.hole,
        SHOT.c.shot_order,
        SHOT.c.distance_yd,
        SHOT.c.holed,
        SHOT.c.lie,
        SHOT.c.penalty_strokes,
        SHOT.c.penalty_reason,
        SHOT.c.end_lie,
        SHOT.c.end_distance_yd,
    )
    # in the order of the index by round
    .where(SHOT.c.player_id == sa.bindparam("of"), SHOT.c.ball == 1)
    .order_by(SHOT.c.round_id)
)
_ROUNDS: Final = (
    sa.select(ROUND.c.record_id, ROUND.c.played_on, ROUND.c.kind, COURSE.c.name.label("course"))
    .outerjoin(COURSE, COURSE_OF_ROUND)
    .where(ROUND.c.player_id == sa.bindparam("of"))
    .order_by(ROUND.c.played_on, ROUND.c.record_id)
)
_PARS: Final = (
    sa.select(ROUND_HOLE.c.record_id, ROUND_HOLE.c.number, ROUND_HOLE.c.par)
    .join(ROUND, ROUND.c.record_id == ROUND_HOLE.c.record_id)
    .where(ROUND.c.player_id == sa.bindparam("of"))
)


class RecordShots(NamedTuple):
    """Players' rounds and the shots of the ball of record in them.

    `rounds`: one row a round, player by player in the order asked for, then by day: id, player (its place), played_on
    (datetime64[D]), kind, course (None without one). `shots`: one row a shot in any order: round_id (the row of
    `rounds`), hole, order, lie, distance_yd, holed, penalty_strokes, penalty_reason, end_lie, end_distance_yd, par.
    Yards.
    """

    rounds: pd.DataFrame
    shots: pd.DataFrame


def record_shots(connection: sa.Connection, player_ids: Sequence[str]) -> RecordShots:
    """Rounds and shots of these players. Shots whose round is not there, or another player's, are left out; so are
    rounds without a shot of record."""
    rounds: list[tuple[Any, ...]] = []
    columns: list[list[Any]] = [[] for _ in range(len(_SHOTS.selected_columns))]
    codes: list[np.ndarray] = []
    pars: dict[tuple[int, int], int] = {}
    for place, player_id in enumerate(player_ids):
        of = {"of": player_id}
        known: dict[str, int] = {}
        for record_id, played_on, kind, course in connection.execute(_ROUNDS, of):
            known[record_id] = len(rounds)
            rounds.append((record_id, place, played_on, kind, course))
        for record_id, number, par in _plain(connection, _PARS, of):
            pars[known[record_id], number] = par
        rows = _plain(connection, _SHOTS, of)
        if not rows:
            continue
        cells = list(zip(*rows, strict=True))
        codes.append(np.array([known.get(round_id, -1) for round_id in cells[0]], dtype=np.int64))
        for column, more in zip(columns[1:], cells[1:], strict=True):
            column.extend(more)
    return RecordShots(_rounds_frame(rounds), _shots_frame(columns, codes, pars))


def _plain(connection: sa.Connection, query: sa.Select[Any], of: dict[str, str]) -> list[tuple[Any, ...]]:
    """The driver's own rows: SQLAlchemy's cost as much again as reading."""
    cursor = connection.execute(query, of).cursor
    return [] if cursor is None else list(cursor.fetchall())


def _rounds_frame(rounds: list[tuple[Any, ...]]) -> pd.DataFrame:
    frame = pd.DataFrame(rounds, columns=["id", "player", "played_on", "kind", "course"])
    days = np.array(frame["played_on"].tolist(), dtype="datetime64[D]")
    return frame.assign(played_on=days.astype("datetime64[s]"), player=frame["player"].astype("int64"))


def _shots_frame(columns: list[list[Any]], codes: list[np.ndarray], pars: dict[tuple[int, int], int]) -> pd.DataFrame:
    _, hole, order, distance, holed, lie, penalty, reason, end_lie, end_distance = columns
    made: dict[str, Any] = {"round_id": np.concatenate(codes) if codes else np.zeros(0, dtype=np.int64)}
    for (name, kind), cells in zip(_NUMBERS, (hole, order, distance, holed), strict=True):
        made[name] = np.array(cells, dtype=kind)
    made["lie"], made["end_lie"] = _lies(lie), _lies(end_lie)
    made["penalty_strokes"] = np.array(penalty, dtype=np.float64)
    made["penalty_reason"] = np.array(reason, dtype=object)
    made["end_distance_yd"] = np.array(end_distance, dtype=np.float64)
    made["par"] = _pars(made["round_id"], made["hole"], pars)
    shots = pd.DataFrame(made)
    return shots if (made["round_id"] >= 0).all() else shots[shots["round_id"] >= 0].reset_index(drop=True)


class _Codes(dict[str | None, int]):
    """Codes of lies; of anything else `UNKNOWN`."""

    def __missing__(self, _key: str | None) -> int:
        return UNKNOWN


_CODES: Final = _Codes(CODE)


def _lies(names: list[Any]) -> pd.Categorical:
    found = np.fromiter(map(_CODES.__getitem__, names), np.int8, len(names))
    return pd.Categorical.from_codes(found, categories=list(LIES))


def _pars(round_: np.ndarray, hole: np.ndarray, pars: dict[tuple[int, int], int]) -> np.ndarray:
    """The par of each shot's hole."""
    if not pars or not round_.size:
        return np.full(round_.size, USUAL_PAR)
    at = np.array(list(pars), dtype=np.int64)
    table = np.full((max(at[:, 0].max(), round_.max()) + 2, max(at[:, 1].max(), hole.max()) + 1), USUAL_PAR)
    table[at[:, 0], at[:, 1]] = list(pars.values())
    return np.asarray(table[round_, hole])
