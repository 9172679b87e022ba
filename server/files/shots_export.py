"""The shots table of valued shots: the import columns, then the computed ones."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.files.shots_columns import COMPUTED_COLUMNS, IMPORT_COLUMNS
from server.game.lies import CODE, GREEN, LieCodes, lie_codes
from server.game.units import FEET_PER_YARD, FOOT, YARD
from server.records.shot_fields import BY_NAME

Flags = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

_UNIT_WORDS: Final = pd.CategoricalDtype([YARD, FOOT])


def shots_table(valued: pd.DataFrame, baseline: Baseline, positions: pd.DataFrame | None = None) -> pd.DataFrame:
    """The shots table of valued shots, in the order in which they were read. `positions`: lon, lat and accuracy_m by
    shot id, None where no player shares them; those columns are then blank. Distances from the green in feet, all
    others in yards; import reads the import columns back to the same numbers, so a putt whose yards do not survive the
    way through feet stays in yards."""
    distance, end_distance = (valued[name].to_numpy(np.float64) for name in ("distance_yd", "entered_end_distance_yd"))
    end_lie = lie_codes(valued["entered_end_lie"])
    in_feet = _in_feet(lie_codes(valued["lie"]), distance)
    end_in_feet = _in_feet(end_lie, end_distance)
    columns: dict[str, Any] = {name: valued[name] for name in IMPORT_COLUMNS + COMPUTED_COLUMNS if name in valued}
    holed = valued["holed"].to_numpy(bool)
    known = holed | valued["picked_up"].to_numpy(bool) | _left_open(valued)
    columns |= {
        "shot": valued["order"],
        "distance": _in_unit(distance, in_feet),
        "unit": _units(in_feet),
        "holed": pd.arrays.BooleanArray(holed, ~known),
        "end_lie": valued["entered_end_lie"],
        "end_distance": _in_unit(end_distance, end_in_feet),
        "end_unit": _units(end_in_feet, valued["entered_end_lie"].notna().to_numpy(bool)),
        "finish_lie": valued["end_lie"],
        "finish_distance_yd": valued["end_distance_yd"],
        "baseline": pd.Categorical.from_codes(
            np.zeros(len(valued), dtype=np.int8), [f"{baseline.id} {baseline.version}"]
        ),
        "par": valued["par"].astype("Int64"),
    }
    for name in BY_NAME["position"].cells:
        if positions is None or positions.empty:
            columns[name] = np.full(len(valued), np.nan)
        else:
            columns[name] = valued["shot_id"].map(positions[name]).astype("float64")
    return pd.DataFrame(
        {name: columns[name] for name in (*IMPORT_COLUMNS, *COMPUTED_COLUMNS)}, index=valued.index, copy=False
    )


def _left_open(valued: pd.DataFrame) -> Flags:
    """True on the last shot of a ball that was not holed and whose end nobody entered: a round not finished yet."""
    order = valued["order"].to_numpy()
    starts = np.zeros(len(valued), dtype=np.bool_)
    starts[:1] = True
    for name in ("round_id", "hole", "ball"):
        column = valued[name]
        key = column.cat.codes.to_numpy() if isinstance(column.dtype, pd.CategoricalDtype) else column.to_numpy()
        starts[1:] |= key[1:] != key[:-1]
    # shots of a ball stand together, by their numbers: the last one's is the greatest
    ball = np.cumsum(starts) - 1
    last = np.append(np.flatnonzero(starts)[1:], len(valued)) - 1
    greatest = order[last][ball] if len(valued) else order
    return np.asarray((order == greatest) & valued["entered_end_distance_yd"].isna().to_numpy(bool))


def _in_feet(lie: LieCodes, yards: Floats) -> Flags:
    """True where the table says feet: on the green, where feet turned to yards again are the same number."""
    return np.asarray((lie == CODE[GREEN]) & (yards * FEET_PER_YARD / FEET_PER_YARD == yards))


def _in_unit(yards: Floats, in_feet: Flags) -> Floats:
    return np.where(in_feet, yards * FEET_PER_YARD, yards)


def _units(in_feet: Flags, known: Flags | None = None) -> pd.Categorical:
    codes = in_feet.astype(np.int8)
    return pd.Categorical.from_codes(codes if known is None else np.where(known, codes, -1), dtype=_UNIT_WORDS)
