"""Tallies read with few columns are what the frames of shots add up to, in the demo season and in odd rounds."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import numpy as np
import pytest

from server.analysis.evidence.level import round_rates
from server.analysis.evidence.round_lengths import round_lengths
from server.analysis.evidence.tallies import Tally
from server.questions.cache import Cache
from server.questions.question import Asked, Question
from server.questions.squads import asked_of_many
from server.questions.valued_shots import baseline_by_id
from server.store.engine import open_database, reading
from server.store.log import push
from server.store.players import players
from tests.made_once import copy_demo
from tests.records.made import Season, default_clubs, par_four


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The demo season, and a player of odd rounds: an extra ball, an unfinished hole, a penalty, a round of another's
    course, a shot of a round that is not there."""
    file = tmp_path_factory.mktemp("squads") / "log.sqlite"
    copy_demo(file)
    made = open_database(f"sqlite:///{file}")
    odd = Season("Odd Inkwell", category_scheme="three_part")
    clubs = default_clubs(odd)
    for day in ("2026-05-03", "2026-05-01"):
        holes = dict.fromkeys(range(1, 11), (4, 400.0))
        round_ = odd.round(day, holes, played_on=day)
        for hole in range(1, 11):
            par_four(odd, round_, clubs, hole)
        odd.shot(round_, 2, 1, "fairway", 150, clubs["8 iron"], ball=2)
    odd.shot(round_, 11, 1, "tee", 400, clubs["driver"], penalty_strokes=1, penalty_reason="out_of_bounds")
    short = odd.round("short", played_on="2026-05-04")
    odd.shot(short, 1, 1, "tee", 400, clubs["driver"])
    push(made, odd.player_id, "phone", odd.changes)
    yield made
    made.dispose()


def tallied(engine: Any, kept: Cache | None = None) -> dict[str, Tally]:
    with reading(engine) as connection:
        put = asked_of_many(connection, players(connection), baseline_by_id("tour"))
        found = put.members(kept)
    return {one.player.name: one.tally for one in found if one.tally is not None}


@pytest.mark.parametrize("name", ["Wren Quillfeather", "Odd Inkwell"])
def test_tallies_are_what_the_shots_add_up_to(engine: Any, name: str) -> None:
    with reading(engine) as connection:
        player = next(one for one in players(connection) if one.name == name)
        valued = Asked(connection, player, Question(baseline="tour")).snapshot().chosen.valued
    tally = tallied(engine)[name]
    lengths = round_lengths(valued)
    assert np.sort(tally.holes[tally.holes >= 9]).tolist() == sorted(lengths.holes)
    assert int((tally.holes < 9).sum()) == lengths.short
    for part in (None, *tally.categories):
        theirs, without = round_rates(valued, part)
        ours, ours_without = tally.rates(tally.chosen(), part or "total")
        assert ours_without == without
        order, theirs_order = (np.lexsort((one.strokes, one.day)) for one in (ours, theirs))
        assert ours.strokes[order] == pytest.approx(theirs.strokes[theirs_order])
        assert ours.parts[order] == pytest.approx(theirs.parts[theirs_order])
        assert sorted(ours.names) == sorted(theirs.names)
    mine = valued[valued["ball"].eq(1) & valued["strokes_gained"].notna()]
    assert tally.shots.sum() == len(mine)
    assert tally.strokes.sum() == pytest.approx(mine["strokes_gained"].sum())
    one_hole = mine.groupby(["round_id", "hole"])["strokes_gained"].sum()
    assert np.sort(tally.strokes.sum(axis=1)) == pytest.approx(np.sort(one_hole.to_numpy()))


def test_days_and_kinds_choose_rounds(engine: Any) -> None:
    tally = tallied(engine)["Odd Inkwell"]
    assert tally.chosen().tolist() == [True, True, False]
    assert tally.chosen(date(2026, 5, 2)).tolist() == [False, True, False]
    assert tally.chosen(None, date(2026, 5, 1)).tolist() == [True, False, False]
    assert not tally.chosen(kinds=("competition",)).any()
    assert tally.has_shots(tally.chosen(), "putting")
    with pytest.raises(ValueError, match="category: 'approach' is not one of long_game"):
        tally.by_round("approach")


def test_what_is_kept_is_read_once_until_the_log_changes(engine: Any) -> None:
    kept = Cache(10, weigh=lambda _: 1, heaviest=10)
    first, again = tallied(engine, kept), tallied(engine, kept)
    assert all(first[name] is again[name] for name in first)
    made = Season("Odd Inkwell", category_scheme="three_part")
    made.round("later", played_on="2026-05-09")
    push(engine, made.player_id, "phone", made.changes)
    third = tallied(engine, kept)
    assert third["Wren Quillfeather"] is first["Wren Quillfeather"]
    assert third["Odd Inkwell"] is not first["Odd Inkwell"]


def test_nobody_and_a_player_without_a_shot(engine: Any) -> None:
    new = Season("Lark Blotter")
    push(engine, new.player_id, "phone", new.changes)
    found = tallied(engine)["Lark Blotter"]
    assert (found.day.size, found.hole.size, found.chosen().size) == (0, 0, 0)
    with reading(engine) as connection:
        assert asked_of_many(connection, [], baseline_by_id("tour")).members() == []
