"""Frames of holes and rounds: what the rounds define, scored by the ball of record."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd

from server.analysis.strokes_gained.scorecard import hole_scores
from server.files.season_tables.seasons import Piece
from server.game.closings import is_complete
from server.game.hole_conditions import HoleConditions, conditions_by_hole

_COUNTS = ("strokes", "penalty_strokes", "putts", "unvalued")


def hole_rows(piece: Piece) -> pd.DataFrame:
    """One row a hole that the rounds define, the columns of the table holes but the player's and the baseline's, and
    `deleted`, `valued` (shots with a value) beside them."""
    rounds, holes = piece.rounds.drop(columns=["player_id"]), piece.holes
    scores = hole_scores(piece.valued).reset_index()
    scores = scores.astype({"round_id": "object", "hole": "int64"})
    found = holes.merge(scores, how="left", on=["round_id", "hole"], sort=False)
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
    found = found.merge(_conditions(rounds, holes), on=["round_id", "hole"], sort=False)
    order = ["played_on", "round_id", "hole"]
    rounds = rounds.drop(columns=["hole_conditions"])
    return found.merge(rounds, on="round_id", sort=False).sort_values(order, ignore_index=True)


def _conditions(rounds: pd.DataFrame, holes: pd.DataFrame) -> pd.DataFrame:
    """One row a hole: round_id, hole, wind (carried on), wind_from_deg (degrees), pin_depth, pin_side."""
    recorded = dict(zip(rounds["round_id"], rounds["hole_conditions"], strict=True))
    rows = []
    for round_id, numbers in holes.groupby("round_id", sort=False)["hole"]:
        text = recorded.get(round_id)
        entries = json.loads(text) if isinstance(text, str) else []
        told = conditions_by_hole(map(int, numbers), entries)
        rows += [{"round_id": round_id, "hole": hole, **one} for hole, one in told.items()]
    columns = ["round_id", "hole", *HoleConditions.__annotations__]
    types = {"round_id": "object", "hole": "int64", "wind_from_deg": "float64"}
    return pd.DataFrame(rows, columns=columns).astype(types)


def round_rows(piece: Piece) -> pd.DataFrame:
    """One row a round, the columns of the table rounds but the player's and the baseline's."""
    rounds, holes, valued = piece.rounds, piece.holes, piece.valued
    scores = hole_scores(valued).reset_index()
    defined = scores.merge(holes[["round_id", "hole", "par"]], on=["round_id", "hole"], how="inner")
    done = defined[defined["complete"]].assign(complete=1, to_par=lambda found: found["strokes"] - found["par"])
    ids = rounds["round_id"]

    def total(frame: pd.DataFrame, name: str) -> pd.Series:
        # added in the order of the shots, so that a round's sum is the same number whatever is read beside it
        codes = pd.Categorical(frame["round_id"].astype("object"), categories=ids).codes
        values = frame[name].fillna(0).to_numpy(dtype=np.float64)
        return pd.Series(np.bincount(codes, weights=values, minlength=len(ids)), index=ids.index)

    record = valued[valued["ball"].eq(1)].assign(
        has_value=lambda found: found["strokes_gained"].notna(), extended=lambda found: found["basis"].eq("extended")
    )
    played = record[record["has_value"]].drop_duplicates(["round_id", "hole"]).assign(one=1)
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
        holes_valued=total(played, "one").astype("int64"),
        par=total(holes, "par").where(~whole, total(done, "par")).astype("int64"),
        score=counted["score_of_complete_holes"].where(whole).astype("Int64"),
        bag_clubs=np.array([len(json.loads(bag)) for bag in rounds["bag"]], dtype=np.int64),
    )
