"""Frames of holes and rounds: what the rounds define, scored by the ball of record."""

from __future__ import annotations

import json
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from server.analysis.evidence.intervals import distinct
from server.files.season_tables.seasons import Piece, with_columns
from server.game.closings import is_complete
from server.game.hole_conditions import HoleConditions, conditions_by_hole

Places = npt.NDArray[np.integer]

_OF_ROUND: Final = ("played_on", "kind", "course", "tees", "deleted")
"""What a hole's row says of its round."""


def hole_rows(piece: Piece) -> pd.DataFrame:
    """One row a hole that the rounds define, the columns of the table holes but the player's name and the baseline, and
    `deleted`, `valued` (shots with a value) beside them."""
    holes, scores = piece.holes, piece.scores
    at, _ = piece.scored
    strokes, penalty, putts, unvalued = (
        np.append(column, 0)[at].astype(np.int64)
        for column in (scores.strokes, scores.penalty_strokes, scores.putts, scores.unvalued)
    )
    complete = np.append(scores.complete, False)[at]
    shots = strokes - penalty
    valued = shots - unvalued
    round_ = holes["round_id"].cat.codes.to_numpy()
    return with_columns(
        holes,
        penalty_strokes=penalty,
        putts=putts,
        unvalued=unvalued,
        complete=complete,
        score=pd.arrays.IntegerArray(strokes, ~complete),
        to_par=pd.arrays.IntegerArray(strokes - holes["par"].to_numpy(), ~complete),
        shots=shots,
        valued=valued,
        strokes_gained=np.where(valued > 0, np.append(scores.strokes_gained, 0.0)[at], np.nan),
        **{name: _repeated(piece.rounds[name], round_) for name in _OF_ROUND},
        **_conditions(piece.rounds, holes, round_),
    )


def _repeated(column: pd.Series, place: Places) -> Any:
    """A value of a round for each of its holes, words as codes."""
    if column.dtype != object:
        return column.to_numpy()[place]
    codes, words = pd.factorize(column)
    return pd.Categorical.from_codes(codes[place], pd.Index(words, dtype="object"))


def _conditions(rounds: pd.DataFrame, holes: pd.DataFrame, round_: Places) -> dict[str, Any]:
    """By name the columns of the holes: wind (carried on), wind_from_deg (degrees), pin_depth, pin_side. `round_`: the
    row of each hole's round."""
    columns: dict[str, Any] = {name: np.full(len(holes), None, dtype=object) for name in HoleConditions.__annotations__}
    numbers = holes["hole"].to_numpy()
    for place in np.flatnonzero(rounds["hole_conditions"].notna().to_numpy()):
        mine = np.flatnonzero(round_ == place)
        recorded = conditions_by_hole(map(int, numbers[mine]), json.loads(rounds["hole_conditions"].iloc[place]))
        for row in mine:
            for name, value in recorded[int(numbers[row])].items():
                columns[name][row] = value
    return columns | {"wind_from_deg": columns["wind_from_deg"].astype(np.float64)}


def round_rows(piece: Piece) -> pd.DataFrame:
    """One row a round, the columns of the table rounds but the player's name and the baseline."""
    rounds, holes, scores, valued = piece.rounds, piece.holes, piece.scores, piece.valued
    many = len(rounds)
    record = valued["ball"].to_numpy() == 1
    gained = valued["strokes_gained"].to_numpy(dtype=np.float64)
    known = record & ~np.isnan(gained)
    extended = record & valued["basis"].eq("extended").to_numpy(dtype=bool)
    of = piece.round_of

    def total(places: Places, values: Any = None) -> Any:
        # added in the order of the shots, so that a round's sum is the same number whatever is read beside it
        found = np.bincount(places, weights=values, minlength=many)
        return found if values is not None and values.dtype.kind == "f" else found.astype(np.int64)

    hole = valued["hole"].to_numpy()[known]
    span = int(hole.max(initial=0)) + 1
    shots = total(of[known])
    _, at = piece.scored
    defined = at >= 0
    done = defined & scores.complete
    of_hole, of_score = holes["round_id"].cat.codes.to_numpy(), scores.round_
    par = holes["par"].to_numpy()
    number, begun, complete = total(of_hole), total(of_score[defined]), total(of_score[done])
    strokes, par_done = scores.strokes.astype(np.int64)[done], par[at[done]]
    score = total(of_score[done], strokes)
    meant = [None if pd.isna(holes) else int(holes) for holes in rounds["holes_meant"]]
    recorded = zip(number.tolist(), begun.tolist(), complete.tolist(), meant, strict=True)
    clubs = {bag: len(json.loads(bag)) for bag in set(rounds["bag"])}
    full = np.array([is_complete(*one) for one in recorded], dtype=bool)
    return with_columns(
        rounds,
        putts=total(of_score, scores.putts),
        penalty_strokes=total(of_score, scores.penalty_strokes).astype(np.int64),
        unvalued=total(of_score, scores.unvalued),
        extended=total(of[extended]),
        holes_complete=complete,
        score_of_complete_holes=score,
        to_par=total(of_score[done], strokes - par_done),
        extra_shots=total(of[~record]),
        shots=shots,
        strokes_gained=np.where(shots > 0, total(of[known], gained[known]), np.nan),
        holes=number,
        holes_valued=total(distinct(of[known] * span + hole)[0] // span),
        par=np.where(full, total(of_score[done], par_done), total(of_hole, par)),
        score=pd.arrays.IntegerArray(score, ~full),
        bag_clubs=np.array([clubs[bag] for bag in rounds["bag"]], dtype=np.int64),
    )
