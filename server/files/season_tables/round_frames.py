"""Frames of holes and rounds: what the rounds define, scored by the ball of record."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from server.analysis.strokes_gained.scorecard import hole_scores
from server.files.season_tables.seasons import Piece
from server.game.closings import is_complete
from server.game.hole_conditions import HoleConditions, conditions_by_hole

_COUNTS = ("strokes", "penalty_strokes", "putts", "unvalued")
_NOT_OF_HOLES = ("hole_conditions",)

Places = npt.NDArray[np.int64]


def hole_rows(piece: Piece) -> pd.DataFrame:
    """One row a hole that the rounds define, the columns of the table holes but the player's name and the baseline, and
    `deleted`, `valued` (shots with a value) beside them."""
    rounds, holes = piece.rounds, piece.holes
    round_ = _places(holes["round_id"], rounds["round_id"])
    found = _scored(holes, round_, rounds, piece.valued)
    counts = {name: found[name].fillna(0).astype("int64") for name in _COUNTS}
    complete = found["complete"].eq(True).fillna(False).astype("bool")
    score = counts["strokes"].where(complete).astype("Int64")
    shots = counts["strokes"] - counts["penalty_strokes"]
    valued = shots - counts["unvalued"]
    found = found.assign(
        **counts,
        complete=complete,
        score=score,
        to_par=score - found["par"],
        shots=shots,
        valued=valued,
        strokes_gained=found["strokes_gained"].where(valued.gt(0)),
    )
    of_round = {
        name: rounds[name].to_numpy()[round_] for name in rounds.columns if name not in (*holes.columns, *_NOT_OF_HOLES)
    }
    return found.assign(**of_round, **_conditions(rounds, holes, round_))


def _scored(holes: pd.DataFrame, round_: Places, rounds: pd.DataFrame, valued: pd.DataFrame) -> pd.DataFrame:
    """The holes with the columns of `hole_scores`, missing where no shot of record stands. `round_`: the row of each
    hole's round."""
    scores = hole_scores(valued)
    ids = scores.index.levels[0]
    of = pd.Index(rounds["round_id"]).get_indexer(ids)[scores.index.codes[0]]
    number = scores.index.get_level_values("hole").to_numpy(dtype=np.int64)
    span = max(int(number.max(initial=0)), int(holes["hole"].max()) if len(holes) else 0) + 1
    row_at = np.full(len(rounds) * span, -1, dtype=np.int64)
    known = of >= 0
    row_at[of[known] * span + number[known]] = np.flatnonzero(known)
    at = row_at[round_ * span + holes["hole"].to_numpy()]
    return holes.assign(**{name: _taken(scores[name], at) for name in scores.columns})


def _taken(column: pd.Series, at: Places) -> Any:
    """The values at these places, missing where the place is -1."""
    if column.dtype == np.bool_:
        return np.append(column.to_numpy(), False)[at]
    return np.append(column.to_numpy(dtype=np.float64), np.nan)[at]


def _conditions(rounds: pd.DataFrame, holes: pd.DataFrame, round_: Places) -> dict[str, Any]:
    """By name the columns of the holes: wind (carried on), wind_from_deg (degrees), pin_depth, pin_side. `round_`: the
    row of each hole's round."""
    columns: dict[str, Any] = {name: np.full(len(holes), None, dtype=object) for name in HoleConditions.__annotations__}
    numbers = holes["hole"].to_numpy()
    for place in np.flatnonzero(rounds["hole_conditions"].notna().to_numpy()):
        mine = np.flatnonzero(round_ == place)
        told = conditions_by_hole(map(int, numbers[mine]), json.loads(rounds["hole_conditions"].iloc[place]))
        for row in mine:
            for name, value in told[int(numbers[row])].items():
                columns[name][row] = value
    return columns | {"wind_from_deg": columns["wind_from_deg"].astype(np.float64)}


def round_rows(piece: Piece) -> pd.DataFrame:
    """One row a round, the columns of the table rounds but the player's name and the baseline."""
    rounds, holes = piece.rounds, piece.holes
    valued = piece.valued[["round_id", "hole", "ball", "strokes_gained", "basis"]]
    scores = hole_scores(piece.valued).reset_index()
    defined = scores.merge(holes[["round_id", "hole", "par"]], on=["round_id", "hole"], how="inner")
    done = defined[defined["complete"]].assign(complete=1, to_par=lambda found: found["strokes"] - found["par"])
    ids = rounds["round_id"]

    def total(frame: pd.DataFrame, name: str) -> pd.Series:
        # added in the order of the shots, so that a round's sum is the same number whatever is read beside it
        codes = _places(frame["round_id"], ids)
        values = frame[name].fillna(0).to_numpy(dtype=np.float64)
        known = codes >= 0
        return pd.Series(np.bincount(codes[known], weights=values[known], minlength=len(ids)), index=ids.index)

    record = valued[valued["ball"].eq(1)].assign(
        has_value=lambda found: found["strokes_gained"].notna(), extended=lambda found: found["basis"].eq("extended")
    )
    played = record[record["has_value"]]
    span = int(played["hole"].max()) + 1 if len(played) else 1
    holes_played = np.unique(_places(played["round_id"], ids) * span + played["hole"].to_numpy()) // span
    shots = total(record, "has_value").astype("int64")
    counted = {
        name: total(frame, column).astype("int64")
        for name, frame, column in (
            ("putts", scores, "putts"),
            ("penalty_strokes", scores, "penalty_strokes"),
            ("unvalued", scores, "unvalued"),
            ("extended", record, "extended"),
            ("holes_complete", done, "complete"),
            ("score_of_complete_holes", done, "strokes"),
            ("to_par", done, "to_par"),
            ("extra_shots", valued.assign(extra=valued["ball"].ne(1)), "extra"),
        )
    }
    number = total(holes.assign(one=1), "one").astype("int64")
    begun = total(defined.assign(one=1), "one").astype("int64")
    meant = [None if pd.isna(holes) else int(holes) for holes in rounds["holes_meant"]]
    found = zip(number, begun, counted["holes_complete"], meant, strict=True)
    whole = np.array([is_complete(*one) for one in found], dtype=bool)
    return rounds.assign(
        **counted,
        shots=shots,
        strokes_gained=total(record, "strokes_gained").where(shots.gt(0)),
        holes=number,
        holes_valued=np.bincount(holes_played[holes_played >= 0], minlength=len(ids)),
        par=total(holes, "par").where(~whole, total(done, "par")).astype("int64"),
        score=counted["score_of_complete_holes"].where(whole).astype("Int64"),
        bag_clubs=np.array([len(json.loads(bag)) for bag in rounds["bag"]], dtype=np.int64),
    )


def _places(round_id: pd.Series, ids: pd.Series) -> Places:
    """The row of each one's round among `ids`, -1 where there is none."""
    known = pd.Index(ids, dtype="object")
    if isinstance(round_id.dtype, pd.CategoricalDtype):
        by_code = np.append(known.get_indexer(round_id.cat.categories.astype("object")), -1)
        return np.asarray(by_code[round_id.cat.codes])
    return np.asarray(known.get_indexer(pd.Index(round_id, dtype="object")), dtype=np.int64)
