"""The setup of a club that was in force on a round's day."""

from __future__ import annotations

import numpy as np
import pandas as pd


def with_setup(shots: pd.DataFrame, setups: pd.DataFrame) -> pd.DataFrame:
    """The same rows and index with `setup` (its day and note, missing before the first).

    `shots`: with player_id, club_id and played_on (datetime). `setups`: player_id, club_id, since (datetime), note. The
    latest setup whose day is not after the round's day is in force; a club of another player has none.
    """
    if shots.empty or setups.empty:
        return shots.assign(setup=np.full(len(shots), None, dtype="object"))
    label = setups["since"].dt.strftime("%Y-%m-%d") + " " + setups["note"]
    keys = ["player_id", "club_id"]
    right = setups[keys].astype("str").assign(since=setups["since"], setup=label)
    left = pd.DataFrame(
        {
            **{key: shots[key].astype("str").to_numpy() for key in keys},
            "played_on": shots["played_on"].to_numpy(),
            "place": range(len(shots)),
        }
    ).sort_values("played_on", kind="stable")
    merged = pd.merge_asof(
        left, right.sort_values("since", kind="stable"), left_on="played_on", right_on="since", by=keys
    )
    in_force = merged.sort_values("place")["setup"].astype("object")
    return shots.assign(setup=in_force.where(in_force.notna(), None).to_numpy())
