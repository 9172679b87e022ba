"""The shots table of valued shots: the import columns, then the computed ones."""

from __future__ import annotations

import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.files.shots_columns import COMPUTED_COLUMNS, IMPORT_COLUMNS
from server.game.lies import GREEN
from server.game.units import FEET_PER_YARD, FOOT, YARD
from server.records.shot_fields import BY_NAME


def shots_table(valued: pd.DataFrame, baseline: Baseline, positions: pd.DataFrame | None = None) -> pd.DataFrame:
    """The shots table of valued shots. `positions`: lon, lat and accuracy_m by shot id, None where the player does not
    share them; those columns are then blank. Distances from the green in feet, all others in yards; import reads the
    import columns back to the same numbers, so a putt whose yards do not survive the way through feet stays in
    yards."""
    on_green = _in_feet(valued["lie"], valued["distance_yd"])
    end_on_green = _in_feet(valued["entered_end_lie"], valued["entered_end_distance_yd"])
    has_end = valued["entered_end_lie"].notna()
    columns: dict[str, pd.Series] = {name: valued[name] for name in IMPORT_COLUMNS + COMPUTED_COLUMNS if name in valued}
    known = valued["holed"] | valued["picked_up"] | _left_open(valued)
    columns |= {
        "shot": valued["order"],
        "distance": _in_unit(valued["distance_yd"], on_green),
        "unit": _units(on_green),
        "holed": valued["holed"].astype("boolean").where(known),
        "end_lie": valued["entered_end_lie"],
        "end_distance": _in_unit(valued["entered_end_distance_yd"], end_on_green),
        "end_unit": _units(end_on_green).where(has_end),
        "finish_lie": valued["end_lie"],
        "finish_distance_yd": valued["end_distance_yd"],
        "baseline": f"{baseline.id} {baseline.version}",
        "par": valued["par"].astype("Int64"),
    }
    for name in BY_NAME["position"].cells:
        known_by = pd.Series(dtype="float64") if positions is None else positions[name]
        columns[name] = valued["shot_id"].map(known_by).astype("float64")
    table = pd.DataFrame(columns, index=valued.index)
    return table[[*IMPORT_COLUMNS, *COMPUTED_COLUMNS]]


def _left_open(valued: pd.DataFrame) -> pd.Series:
    """True on the last shot of a ball that was not holed and whose end nobody entered: a round not finished yet."""
    balls = valued.groupby(["round_id", "hole", "ball"], observed=True)["order"]
    return valued["order"].eq(balls.transform("max")) & valued["entered_end_distance_yd"].isna()


def _in_feet(lie: pd.Series, yards: pd.Series) -> pd.Series:
    """True where the table says feet: on the green, where feet turned to yards again are the same number."""
    same = (yards * FEET_PER_YARD / FEET_PER_YARD).eq(yards)
    return (lie.astype("object").eq(GREEN) & same).astype("bool")


def _in_unit(yards: pd.Series, in_feet: pd.Series) -> pd.Series:
    return yards.where(~in_feet, yards * FEET_PER_YARD)


def _units(in_feet: pd.Series) -> pd.Series:
    return in_feet.map({True: FOOT, False: YARD}).astype("object")
