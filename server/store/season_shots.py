"""The shots of players' seasons as a frame, read column by column: see `server.store.columns`."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import sqlalchemy as sa

from server.analysis.evidence.intervals import Codes, distinct
from server.game.lies import CODE, LIE_WORDS, UNKNOWN
from server.records import shot_fields
from server.records.shot_fields import SHOT_FIELDS
from server.store.columns import NotExactError, places_among, read_columns
from server.store.engine import select_in
from server.store.frames import UNKNOWN_CLUB, Selection, club_labels, shots_frame
from server.store.tables import PLAYER_RECORD, ROUND, ROUND_OF_SHOT, SHOT

_CHOICES: Final = {field.name: field.one_of for field in SHOT_FIELDS if field.type == shot_fields.CHOICE}
_ELSEWHERE: Final = ("round_id", "hole", "order", "position", "at", "club_id")
_FIELDS: Final = tuple(field.name for field in SHOT_FIELDS if field.name not in _ELSEWHERE)
_OF_ROUND: Final = ("kind", "course", "tees", "ball_label", "lengths_taken", "wind_mph", "temperature_c", "firmness")
_NUMBERS: Final = ("wind_mph", "temperature_c")

_NO_WORDS: Final = pd.CategoricalDtype([])

Places = npt.NDArray[np.int64]


def season_shots_frame(
    connection: sa.Connection, selection: Selection, rounds: pd.DataFrame, holes: pd.DataFrame
) -> pd.DataFrame:
    """The rows and the columns of `shots_frame` but `at`, of the players that the selection names: in their order, of
    each in that of `shots_frame`. `rounds`, `holes`: those of the selection, as `rounds_frame` and `holes_frame` have
    them. ValueError where it names no player."""
    owners = pd.Index(selection.named, dtype="object")
    try:
        shots = _shots(connection, selection)
    except NotExactError:
        return _by_rows(connection, selection, owners)
    if not shots.num_rows:
        return _by_rows(connection, selection, owners)
    place = places_among(shots["round_id"], pd.Index(rounds["round_id"], dtype="object"))
    order = _in_order(place, shots)
    if order is not None:
        shots, place = shots.take(pa.array(order)), place[order]
    owner = owners.get_indexer(pd.Index(rounds["player_id"]))[place]
    columns: dict[str, Any] = {
        "shot_id": shots["record_id"].to_pandas(),
        "player_id": _repeated(list(owners), owner),
        "player": _repeated(_names(connection, owners), owner),
        "round_id": _repeated(rounds["round_id"].tolist(), place),
        "played_on": rounds["played_on"].to_numpy()[place],
    }
    for column in _OF_ROUND:
        values = rounds[column]
        columns[column] = values.to_numpy()[place] if column in _NUMBERS else _repeated(values.tolist(), place)
    hole = shots["hole"].to_numpy()
    at_hole = _rows_of_holes(holes, len(rounds), place, hole)
    columns["hole"] = hole
    for column in ("par", "length_yd"):
        columns[column] = np.append(holes[column].to_numpy(dtype=np.float64), np.nan)[at_hole]
    columns["order"] = shots["shot_order"].to_numpy()
    columns |= {column: _field(shots[column], column in _CHOICES) for column in _FIELDS}
    columns["lie"] = _lies(shots["lie"])
    return pd.DataFrame(columns | _clubs(connection, owners, owner, shots["club_id"]), copy=False)


def _by_rows(connection: sa.Connection, selection: Selection, owners: pd.Index) -> pd.DataFrame:
    frame = shots_frame(connection, selection).drop(columns="at")
    if len(owners) == 1:
        return frame
    place = owners.get_indexer(pd.Index(frame["player_id"].astype("object")))
    return frame.iloc[np.argsort(place, kind="stable")].reset_index(drop=True)


def _names(connection: sa.Connection, owners: pd.Index) -> list[str | None]:
    """The name of each player; None where there is no record of one."""
    columns = (PLAYER_RECORD.c.record_id, PLAYER_RECORD.c.name)
    found = select_in(connection, columns, PLAYER_RECORD.c.record_id, owners.tolist())
    names = {row.record_id: row.name for row in found}
    return [names.get(player_id) for player_id in owners]


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


def _in_order(place: Places, shots: pa.Table) -> Places | None:
    """The rows by round, hole, ball and number; two devices may give one number twice, then by id. None where they
    are in order already."""
    key = place.astype(np.int64)
    for name in ("hole", "ball", "shot_order"):
        part = shots[name].to_numpy()
        span = int(part.max()) + 1
        # below 2**63: rounds read at a time are fewer than 2**20, and the numbers that records may hold below 2**12
        key = key * span + part
    sorted_ = bool(np.all(key[1:] >= key[:-1]))
    rows = np.arange(len(key)) if sorted_ else np.argsort(key, kind="stable")
    if bool(np.any(np.diff(key if sorted_ else key[rows]) == 0)):
        return np.lexsort([np.array(shots["record_id"].to_pylist(), dtype=np.str_), key])
    return None if sorted_ else rows


def _rows_of_holes(holes: pd.DataFrame, rounds: int, place: Places, hole: Places) -> Places:
    """The row of each shot's hole among those of the rounds; -1 where its round, at `place`, has none such."""
    of, number = holes["round_id"].cat.codes.to_numpy().astype(np.int64), holes["hole"].to_numpy()
    span = max(int(number.max(initial=0)), int(hole.max(initial=0))) + 1
    row_at = np.full(rounds * span, -1, dtype=np.int64)
    row_at[of * span + number] = np.arange(of.size)
    return np.asarray(row_at[place * span + hole])


def _repeated(words: list[str | None], place: Codes) -> pd.Categorical:
    """Words for every shot, by their places; the categories are those that occur, in order."""
    occurs = np.bincount(place, minlength=len(words)) > 0
    taken = {word for word, found in zip(words, occurs, strict=True) if found and word is not None}
    if not taken:
        return _gaps(place.size, True)
    names = sorted(taken)
    codes = {word: code for code, word in enumerate(names)}
    by_place = np.array([codes.get(word, -1) if word is not None else -1 for word in words], dtype=np.int32)
    return pd.Categorical.from_codes(by_place[place], names)


def _field(column: pa.ChunkedArray, is_choice: bool) -> Any:
    """A field of a shot as `shots_frame` has it."""
    if column.null_count == len(column) and (is_choice or pa.types.is_floating(column.type)):
        return _gaps(len(column), is_choice)
    if is_choice:
        return _category(column.combine_chunks().dictionary_encode())
    if pa.types.is_dictionary(column.type):
        return column.cast(pa.string()).to_pandas()
    if pa.types.is_floating(column.type):
        return column.to_numpy()
    return column.to_pandas()


def _gaps(rows: int, is_choice: bool) -> Any:
    if is_choice:
        return pd.Categorical.from_codes(np.full(rows, -1, dtype=np.int8), dtype=_NO_WORDS)
    return np.full(rows, np.nan)


def _coded(coded: pa.DictionaryArray) -> Places:
    return np.asarray(coded.indices.fill_null(len(coded.dictionary)).to_numpy())


def _category(coded: pa.DictionaryArray) -> pd.Categorical:
    """The categories are the words that occur, in order."""
    return _repeated([*coded.dictionary.to_pylist(), None], _coded(coded))


def _lies(column: pa.ChunkedArray) -> pd.Categorical:
    """The categories are all lies, in their own order."""
    coded = column.combine_chunks().dictionary_encode()
    by_word = np.array([*(CODE.get(word, UNKNOWN) for word in coded.dictionary.to_pylist()), UNKNOWN], dtype=np.int8)
    return pd.Categorical.from_codes(by_word[_coded(coded)], dtype=LIE_WORDS)


def _clubs(
    connection: sa.Connection, owners: pd.Index, owner: Places, ids: pa.ChunkedArray
) -> dict[str, pd.Categorical]:
    """club_id, club (its label) and sort of every shot. `owner`: the place of its player."""
    coded = ids.combine_chunks().dictionary_encode()
    words = coded.dictionary.to_pylist()
    places = coded.indices.to_numpy().astype(np.int64)
    pairs, at = distinct(owner * len(words) + places)
    known = club_labels(connection, owners.tolist())
    of, word = np.divmod(pairs, len(words))
    found = [known.get((owners[o], words[w]), (UNKNOWN_CLUB, "")) for o, w in zip(of, word, strict=True)]
    return {
        "club_id": _repeated(words, places),
        "club": _repeated([label for label, _ in found], at),
        "sort": _repeated([sort for _, sort in found], at),
    }
