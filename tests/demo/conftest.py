"""The shipped season as a frame, as an analysis would see it."""

from itertools import groupby
from operator import attrgetter
from typing import Any

import numpy as np
import pandas as pd
import pytest

from demo_rounds.generate import FOLDER


def as_frame(text_rows: pd.DataFrame) -> pd.DataFrame:
    """CSV rows (all text) with numbers where numbers belong, and the columns that `attribute` asks for."""
    frame = text_rows.copy()
    for column in ("hole", "par", "length_yd", "ball", "shot"):
        frame[column] = frame[column].astype(int)
    for column in ("distance", "end_distance", "penalty_strokes", "target_yd", "right_yd", "long_yd"):
        frame[column] = pd.to_numeric(frame[column].replace("", np.nan))
    frame["penalty_strokes"] = frame["penalty_strokes"].fillna(0)
    frame["distance_yd"] = np.where(frame["unit"] == "ft", frame["distance"] / 3, frame["distance"])
    frame["end_distance_yd"] = np.where(frame["end_unit"] == "ft", frame["end_distance"] / 3, frame["end_distance"])
    frame["round_id"] = frame["played_on"]
    frame["order"] = frame["shot"]
    frame["said"] = frame["holed"]
    frame["holed"] = frame["holed"] == "yes"
    return frame


@pytest.fixture(scope="session")
def season() -> pd.DataFrame:
    """Every row of the shipped CSV."""
    return as_frame(pd.read_csv(FOLDER / "season_2026.csv", dtype=str, keep_default_na=False))


@pytest.fixture(scope="session")
def balls(season: pd.DataFrame) -> list[pd.DataFrame]:
    """The shots of each ball on each hole, in their order."""
    return [ball.sort_values("shot") for _, ball in season.groupby(["played_on", "hole", "ball"], sort=True)]


@pytest.fixture(scope="session")
def played(season: pd.DataFrame) -> list[list[Any]]:
    """The same as rows with names."""
    together = ["played_on", "hole", "ball"]
    rows = season.sort_values([*together, "shot"]).itertuples()
    return [list(shots) for _, shots in groupby(rows, key=attrgetter(*together))]
