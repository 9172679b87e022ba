"""The valued shots of a selection: read the frame, find the setups, attribute strokes gained."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import Baseline, load_baseline
from server.analysis.expected_strokes.files import shipped_ids
from server.analysis.strokes_gained.attribution import attribute
from server.analysis.strokes_gained.setups import with_setup
from server.game.categories import PUTTING, CategoryScheme
from server.game.lies import lie_codes
from server.questions.own_baselines import default_folder, own_file, own_ids, own_of
from server.store.frames import Selection, setups_frame, shots_frame
from server.store.players import Player


def baseline_by_id(baseline_id: str, own: Path | None = None) -> Baseline:
    """A baseline by id, shipped or of one's own, or by the path of a CSV or TOML; files of an id are read once.

    `own`: the folder of own baselines; the usual one when None. LookupError or ValueError as `load_baseline`.
    """
    folder = own or default_folder()
    found = own_file(folder, baseline_id)
    if found is not None:
        return _own(found, found.stat().st_mtime_ns)
    try:
        return _loaded(baseline_id)
    except LookupError as error:
        known = ", ".join([*shipped_ids(), *own_ids(folder)])
        raise LookupError(f"baseline: {baseline_id!r} is neither a file nor one of {known}") from error


def own_baseline(player: Player, own: Path | None = None) -> Baseline | None:
    """The baseline that was learnt from the player's shots alone, or None when there is none that can be used. `own`:
    as in `baseline_by_id`."""
    folder = own or default_folder()
    found = own_of(folder, player.player_id, player.name)
    try:
        return None if found is None else baseline_by_id(found, folder)
    except (LookupError, ValueError):
        # nobody asked for it: its faults are reported to those who name it
        return None


@lru_cache(maxsize=16)
def _loaded(baseline_id: str) -> Baseline:
    return load_baseline(baseline_id)


@lru_cache(maxsize=16)
def _own(file: Path, _changed_ns: int) -> Baseline:
    return load_baseline(file)


def scheme_of(player: Player) -> CategoryScheme:
    """The category scheme that the player chose."""
    return CategoryScheme(player.category_scheme, player.short_game_yd)


def valued_shots(
    connection: sa.Connection,
    selection: Selection,
    baseline: Baseline,
    scheme: CategoryScheme,
    read: Callable[[sa.Connection, Selection], pd.DataFrame] = shots_frame,
) -> pd.DataFrame:
    """The shots that `read` finds, with the setup in force and all columns of `attribute`; the ends that were entered
    stand in `entered_end_lie` and `entered_end_distance_yd`."""
    shots = with_setup(
        read(connection, selection), setups_frame(connection, selection.player_ids or selection.player_id)
    )
    entered = shots.assign(entered_end_lie=shots["end_lie"], entered_end_distance_yd=shots["end_distance_yd"])
    return attribute(entered, baseline, scheme)


def with_schemes(valued: pd.DataFrame, owner: npt.NDArray[np.int64], schemes: Sequence[CategoryScheme]) -> pd.DataFrame:
    """Shots valued by the first of the schemes, with the category of each by the scheme of its player. `owner`: the
    place of the player's scheme for each row."""
    kinds = list(dict.fromkeys(schemes))
    if len(kinds) < 2:
        return valued
    # of both schemes in the order in which a hole is played
    names = sorted(dict.fromkeys(name for kind in kinds for name in kind.categories), key=PUTTING.__eq__)
    by_kind = np.array([kinds.index(scheme) for scheme in schemes])[owner]
    codes = np.full(len(valued), -1, dtype=np.int8)
    lie, distance, par = lie_codes(valued["lie"]), valued["distance_yd"].to_numpy(), valued["par"].to_numpy()
    for place, kind in enumerate(kinds):
        mine = by_kind == place
        names_of_kind = np.array([*(names.index(name) for name in kind.categories), -1], dtype=np.int8)
        codes[mine] = names_of_kind[kind.codes(lie[mine], distance[mine], par[mine])]
    return valued.assign(category=pd.Categorical.from_codes(codes, names))


def valued_record(shots: pd.DataFrame, baseline: Baseline, scheme: CategoryScheme) -> pd.DataFrame:
    """The shots of the ball of record as `record_shots` reads them, of one player or many, with all columns of
    `attribute`."""
    return attribute(shots, baseline, scheme)
