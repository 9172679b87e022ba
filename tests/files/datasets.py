"""Small seasons of some players, and datasets of them written in this process, for tests of datasets."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import Baseline
from server.files.season_dataset.datasets import Plan, planned, staged, write_dataset
from server.files.season_dataset.partitions import Order, Receipt, write_partition
from server.files.season_tables.dictionary import tables
from server.files.season_tables.package import write_tables
from server.files.season_tables.seasons import open_season
from server.files.season_tables.writing import PARQUET
from server.store.engine import reading, writing
from server.store.players import players_by_name
from server.store.shared_states import shared_state
from server.store.tables import PLAYER, SHOT
from tests.bench import large_season
from tests.files.told import TOUR

PLAYERS: Final = 4
"""Each is alone in a bucket."""
BUCKETS: Final = 4
NAMES: Final = list(tables())
Run = Callable[[list[Order]], Iterable[Receipt]]


def fill(engine: sa.Engine, rounds: int = 1, players: int = PLAYERS) -> None:
    """Put a season of a round a player, or more, into an empty database."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(large_season, "ROUNDS_A_PLAYER", rounds)
        large_season.fill(engine, players)


def here(orders: list[Order]) -> Iterator[Receipt]:
    """Every partition written by this process."""
    yield from map(write_partition, orders)


def export(
    engine: sa.Engine, folder: Path, run: Run = here, baseline: Baseline = TOUR, buckets: int | None = BUCKETS
) -> Plan:
    """The dataset of the season, as the command writes it; returns what was to be done."""
    with staged(folder) as staging, shared_state(engine, staging) as (connection, state):
        season = open_season(connection, large_season.YEAR, baseline)
        plan = planned(season, staging, folder, state, buckets)
        write_dataset(season, plan, staging, folder, run)
    return plan


def one_machine(engine: sa.Engine, folder: Path, player: str | None = None) -> None:
    """The package of the season as Parquet, written in one go, of everybody or of one player."""
    with reading(engine) as connection:
        chosen = {one.player_id for one in players_by_name(connection, player)} if player else None
        season = open_season(connection, large_season.YEAR, TOUR, chosen)
        write_tables(season, folder, NAMES, [PARQUET], package=True)


EXACT: Final = 1e-9


def assert_sums(told: Callable[[str], pd.DataFrame]) -> None:
    """Shots add up to holes, holes to rounds, rounds to players and their places. `told`: a table by its name."""
    shots, holes, rounds = (told(name) for name in ("shots", "holes", "rounds"))
    of_record = shots[shots["ball"].eq(1)]
    hole, key = ["round_id", "hole"], "strokes_gained"
    by_hole = of_record.groupby(hole)[key].sum().reindex(pd.MultiIndex.from_frame(holes[hole]))
    assert np.abs(by_hole.to_numpy() - holes[key].fillna(0).to_numpy()).max() < EXACT
    by_round = holes.groupby("round_id")[key].sum().reindex(rounds["round_id"])
    assert np.abs(by_round.to_numpy() - rounds[key].fillna(0).to_numpy()).max() < EXACT
    by_player = rounds.groupby("player_id")[key].sum()
    categories = told("category_summary").groupby("player_id")[key].sum()
    assert np.abs((by_player - categories).to_numpy()).max() < EXACT
    counted = rounds[rounds["holes_valued"].ge(9) & rounds["course"].notna()].groupby("player_id")
    mean = counted[key].sum() * 18 / counted["holes_valued"].sum()
    ranks = told("squad_ranks")
    placed = ranks[ranks["part"].eq("total") & ranks["lacking"].isna()].set_index("player_id")
    weighed = counted.size()
    assert set(placed.index) == set(weighed[weighed.ge(3)].index), "three rounds are the least"
    assert (mean[placed.index] - placed[key]).abs().max() < EXACT or placed.empty


NOT_PLAYED: Final = ("setups", "practice_sessions", "practice_balls", "courses", "course_effects", "hole_effects")
"""Tables of which the large season has no row."""


def sorted_rows(place: Path, name: str) -> pd.DataFrame:
    """The rows of a table in a package (a file) or a dataset (a folder), sorted by their key, as they were written."""
    found = pq.read_table(place)
    assert list(tables()[name].names) == [column for column in found.column_names if column not in ("season", "bucket")]
    keys = [(column, "ascending") for column in tables()[name].key]
    return found.select(list(tables()[name].names)).sort_by(keys).combine_chunks()


def assert_same_rows(dataset: Path, package: Path) -> None:
    """The same rows to the byte in every table."""
    for name in NAMES:
        ours, theirs = (
            sorted_rows(dataset / name, name),
            sorted_rows(package / f"{name}_{large_season.YEAR}.parquet", name),
        )
        assert ours.equals(theirs), name
        assert ours.num_rows > 0 or name in NOT_PLAYED


def change_a_shot(engine: sa.Engine, player_id: str) -> str:
    """Lengthen the first shot of a player, and let the log know; returns its id."""
    with writing(engine) as connection:
        chosen = sa.select(sa.func.min(SHOT.c.record_id)).where(SHOT.c.player_id == player_id)
        shot_id = str(connection.execute(chosen).scalar_one())
        connection.execute(SHOT.update().where(SHOT.c.record_id == shot_id).values(distance_yd=333.25))
        connection.execute(PLAYER.update().where(PLAYER.c.player_id == player_id).values(chain="changed"))
    return shot_id


def contents(folder: Path) -> dict[str, Any]:
    """Every file of a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }
