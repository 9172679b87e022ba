"""The shots of a player's season as a frame, read column by column: see `server.store.columns`."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import sqlalchemy as sa

from server.game.lies import LIES
from server.records import shot_fields
from server.records.shot_fields import SHOT_FIELDS
from server.store.columns import NotExactError, read_columns
from server.store.frames import UNKNOWN_CLUB, Selection, club_labels, shots_frame
from server.store.tables import COURSE, COURSE_OF_ROUND, PLAYER_RECORD, ROUND, ROUND_HOLE, ROUND_OF_SHOT, SHOT

_CHOICES: Final = {field.name: field.one_of for field in SHOT_FIELDS if field.type == shot_fields.CHOICE}
_ELSEWHERE: Final = ("round_id", "hole", "order", "position", "at", "club_id")
_FIELDS: Final = tuple(field.name for field in SHOT_FIELDS if field.name not in _ELSEWHERE)
_OF_ROUND: Final = ("kind", "course", "tees", "ball_label", "lengths_taken", "wind_mph", "temperature_c", "firmness")
_NUMBERS: Final = ("wind_mph", "temperature_c")
_HOLE_NUMBERS: Final = 1_000
"""Numbers of holes are below it."""

Places = npt.NDArray[np.int64]


def season_shots_frame(connection: sa.Connection, selection: Selection) -> pd.DataFrame:
    """The rows, the order and the columns of `shots_frame` but `at`, of one player. ValueError without a player."""
    if selection.player_id is None:
        raise ValueError("selection: names no player")
    try:
        shots = _shots(connection, selection)
        holes = _holes(connection, selection)
    except NotExactError:
        return shots_frame(connection, selection).drop(columns="at")
    if not shots.num_rows:
        return shots_frame(connection, selection).drop(columns="at")
    rounds = _rounds(connection, selection)
    ids = pd.Index(rounds["round_id"])
    place = _places(shots["round_id"], ids)
    order = _in_order(place, shots)
    shots, place = shots.take(pa.array(order)), place[order]
    name = sa.select(PLAYER_RECORD.c.name).where(PLAYER_RECORD.c.record_id == selection.player_id)
    columns: dict[str, Any] = {
        "shot_id": shots["record_id"].to_pandas(),
        "player_id": pd.Categorical.from_codes(np.zeros(len(place), dtype=np.int8), [selection.player_id]),
        "player": _repeated([connection.execute(name).scalar()], np.zeros(len(place), dtype=np.int64)),
        "round_id": _repeated(rounds["round_id"].tolist(), place),
        "played_on": pd.to_datetime(rounds["played_on"]).astype("datetime64[s]").to_numpy()[place],
    }
    for column in _OF_ROUND:
        columns[column] = (
            pd.to_numeric(rounds[column]).to_numpy(dtype=np.float64)[place]
            if column in _NUMBERS
            else _repeated(rounds[column].tolist(), place)
        )
    hole = shots["hole"].to_numpy()
    known = pd.Index(_places(holes["record_id"], ids) * _HOLE_NUMBERS + holes["number"].to_numpy())
    at_hole = known.get_indexer(place * _HOLE_NUMBERS + hole)
    columns["hole"] = hole
    for column in ("par", "length_yd"):
        columns[column] = np.append(holes[column].to_numpy().astype(np.float64), np.nan)[at_hole]
    columns["order"] = shots["shot_order"].to_numpy()
    columns |= {column: _field(shots[column], column in _CHOICES) for column in _FIELDS}
    columns["lie"] = pd.Categorical(columns["lie"], categories=list(LIES))
    return pd.DataFrame(columns | _clubs(connection, selection.player_id, shots["club_id"]))


def _shots(connection: sa.Connection, selection: Selection) -> pa.Table:
    query = (
        sa.select(
            *(SHOT.c[name] for name in ("record_id", "round_id", "hole", "shot_order", "club_id")),
            *(SHOT.c[name] for name in _FIELDS),
        )
        .join_from(ROUND, SHOT, ROUND_OF_SHOT)
        .where(*selection.conditions())
    )
    return read_columns(connection, query, _CHOICES)


def _holes(connection: sa.Connection, selection: Selection) -> pa.Table:
    query = (
        sa.select(ROUND_HOLE.c.record_id, ROUND_HOLE.c.number, ROUND_HOLE.c.par, ROUND_HOLE.c.length_yd)
        .join_from(ROUND, ROUND_HOLE, ROUND_HOLE.c.record_id == ROUND.c.record_id)
        .where(*selection.conditions())
    )
    return read_columns(connection, query)


def _rounds(connection: sa.Connection, selection: Selection) -> pd.DataFrame:
    """The rounds in their order, deleted ones too."""
    names = [name for name in _OF_ROUND if name != "course"]
    query = (
        sa.select(
            ROUND.c.record_id.label("round_id"),
            ROUND.c.played_on,
            COURSE.c.name.label("course"),
            *(ROUND.c[name] for name in names),
        )
        .outerjoin(COURSE, COURSE_OF_ROUND)
        .where(*selection.conditions())
        .order_by(ROUND.c.played_on, ROUND.c.record_id)
    )
    result = connection.execute(query)
    return pd.DataFrame(list(map(tuple, result)), columns=list(result.keys()), dtype="object")


def _places(ids: pa.ChunkedArray, known: pd.Index) -> Places:
    """Where each id stands among the known ones."""
    coded = ids.combine_chunks().dictionary_encode()
    places = known.get_indexer(pd.Index(coded.dictionary.to_pylist(), dtype="object"))
    return np.asarray(places.astype(np.int64)[coded.indices.to_numpy()])


def _in_order(place: Places, shots: pa.Table) -> Places:
    """The rows by round, hole, ball and number; two devices may give one number twice, then by id."""
    keys = [shots[name].to_numpy() for name in ("shot_order", "ball", "hole")] + [place]
    rows = np.lexsort(keys)
    same = np.ones(max(0, len(rows) - 1), dtype=np.bool_)
    for key in keys:
        sorted_ = key[rows]
        same &= sorted_[1:] == sorted_[:-1]
    if same.any():
        rows = np.lexsort([np.array(shots["record_id"].to_pylist(), dtype=np.str_), *keys])
    return rows


def _repeated(words: list[str | None], place: Places) -> pd.Categorical:
    """Words of rounds for every shot; the categories are those that occur, in order."""
    taken = {words[row] for row in np.unique(place)} - {None}
    names = sorted(word for word in taken if word is not None)
    codes = {word: code for code, word in enumerate(names)}
    by_round = np.array([codes.get(word, -1) if word is not None else -1 for word in words], dtype=np.int64)
    return pd.Categorical.from_codes(by_round[place], names)


def _field(column: pa.ChunkedArray, is_choice: bool) -> Any:
    """A field of a shot as `shots_frame` has it."""
    if is_choice:
        return _category(column.combine_chunks().dictionary_encode())
    if pa.types.is_dictionary(column.type):
        return column.cast(pa.string()).to_pandas()
    if pa.types.is_floating(column.type):
        return column.to_numpy()
    return column.to_pandas()


def _category(coded: pa.DictionaryArray) -> pd.Categorical:
    """The categories are the words that occur, in order."""
    codes = coded.indices.fill_null(-1).to_numpy().astype(np.int64)
    return _repeated([*coded.dictionary.to_pylist(), None], np.where(codes < 0, len(coded.dictionary), codes))


def _clubs(connection: sa.Connection, player_id: str, ids: pa.ChunkedArray) -> dict[str, pd.Categorical]:
    """club_id, club (its label) and sort of every shot."""
    coded = ids.combine_chunks().dictionary_encode()
    places = coded.indices.to_numpy().astype(np.int64)
    known = club_labels(connection, player_id)
    words = coded.dictionary.to_pylist()
    found = [known.get((player_id, club_id), (UNKNOWN_CLUB, "")) for club_id in words]
    columns: dict[str, list[str | None]] = {
        "club_id": words,
        "club": [label for label, _ in found],
        "sort": [sort for _, sort in found],
    }
    return {name: _repeated(one, places) for name, one in columns.items()}
