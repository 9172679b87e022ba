"""The squad of the demo: written again byte for byte, at the levels that its truth says, and brought in whole."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest
import sqlalchemy as sa

from demo_rounds import squad
from demo_rounds.generate import FOLDER
from demo_rounds.skills import load_truth
from server.files.demo import load_squad
from server.store.engine import open_database, reading
from server.store.players import players

SHIPPED = FOLDER / squad.SHOTS


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sa.Engine]:
    """A database with the squad alone."""
    made = open_database(f"sqlite:///{tmp_path_factory.mktemp('squad') / 'squad.sqlite'}")
    load_squad(made)
    yield made
    made.dispose()


def test_the_generator_writes_the_shipped_bytes_again(tmp_path: Path) -> None:
    squad.main(["--to", str(tmp_path)])
    assert (tmp_path / squad.SHOTS).read_bytes() == SHIPPED.read_bytes()


def test_the_stated_seed_is_that_of_the_file_and_all_is_invented() -> None:
    facts = tomllib.loads(squad.SQUAD.read_text(encoding="utf-8"))
    assert (facts["invented"], facts["seed"]) == (True, squad.load_squad()[0])


def test_factors_change_what_they_name_and_nothing_else() -> None:
    base, (_, entries) = load_truth(), squad.load_squad()
    left = next(entry for entry in entries if entry.plays == "left")
    made = squad.truth_of(left, base)
    driver, was = made.clubs["driver"], base.clubs["driver"]
    assert driver.distance_yd == pytest.approx(was.distance_yd * left.distance, rel=1e-12)
    assert driver.swing.side_sd(200) == pytest.approx(was.swing.side_sd(200) * left.spread, rel=1e-12)
    assert driver.swing.mishit_share == pytest.approx(was.swing.mishit_share * left.spread, rel=1e-12)
    assert made.putting.distance_sd == pytest.approx(base.putting.distance_sd * left.putting, rel=1e-12)
    assert (driver.swing.hand, driver.swing.curve_yd, made.lies) == (-1, was.swing.curve_yd, base.lies)
    assert made.clubs.keys() == base.clubs.keys()


def test_a_wider_truth_scores_worse() -> None:
    """Mean scores of the shipped rounds come in the order of the spreads, but for the two worst: short and wide."""
    rows = pd.read_csv(SHIPPED)
    record = rows[rows["ball"].eq(1)]
    by_round = record.groupby(["player", "played_on"]).agg(shots=("ball", "size"), penalties=("penalty_strokes", "sum"))
    scores = by_round.sum(axis=1).groupby("player").mean()
    spreads = pd.Series({entry.player: entry.spread for entry in squad.load_squad()[1]})
    assert list(scores.sort_values().index[:3]) == list(spreads.sort_values().index[:3])
    assert set(scores.nlargest(2).index) == set(spreads.nlargest(2).index)
    assert scores.max() - scores.min() > 15


def test_every_round_of_the_truth_is_there() -> None:
    rows = pd.read_csv(SHIPPED)
    found = rows.groupby("player")["played_on"].nunique().to_dict()
    assert found == {entry.player: entry.rounds for entry in squad.load_squad()[1]}
    assert rows.groupby(["player", "played_on"])["hole"].nunique().eq(18).all()


def test_the_squad_comes_in_with_hand_and_units(engine: sa.Engine) -> None:
    entries = squad.load_squad()[1]
    with reading(engine) as connection:
        held = {one.name: (one.plays, one.units) for one in players(connection)}
    assert held == {entry.player: (entry.plays, entry.units) for entry in entries}


def test_twice_changes_nothing(engine: sa.Engine) -> None:
    assert [(one.changes, one.kept) for one in load_squad(engine)] == [(0, 0)] * 5
