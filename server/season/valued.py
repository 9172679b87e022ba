"""The valued shots of a selection: read the frame, find the setups, attribute strokes gained."""

from __future__ import annotations

from functools import lru_cache

import pandas as pd
import sqlalchemy as sa

from server.analysis.expected_strokes import Baseline, load_baseline
from server.analysis.setups import with_setup
from server.analysis.strokes_gained import attribute
from server.game.categories import CategoryScheme
from server.store.frames import Selection, setups_frame, shots_frame
from server.store.players import Player


@lru_cache(maxsize=16)
def baseline_by_id(baseline_id: str) -> Baseline:
    """A baseline, read once. LookupError or ValueError as `load_baseline`."""
    return load_baseline(baseline_id)


def scheme_of(player: Player) -> CategoryScheme:
    """The category scheme that the player chose."""
    return CategoryScheme(player.category_scheme, player.short_game_yd)


def valued_shots(
    connection: sa.Connection, selection: Selection, baseline: Baseline, scheme: CategoryScheme
) -> pd.DataFrame:
    """`shots_frame` with the setup in force and all columns of `attribute`; the ends that were entered stand in
    `entered_end_lie` and `entered_end_distance_yd`."""
    shots = with_setup(shots_frame(connection, selection), setups_frame(connection, selection.player_id))
    entered = shots.assign(entered_end_lie=shots["end_lie"], entered_end_distance_yd=shots["end_distance_yd"])
    return attribute(entered, baseline, scheme)
