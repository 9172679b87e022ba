"""A squad in order by each part of the game: read once, it is what each part by itself tells."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from server.analysis.evidence.level import ONE_DAY
from server.analysis.evidence.ranking import SquadRounds, no_spread, standings
from server.analysis.evidence.tallies import Tally
from server.analysis.expected_strokes.baseline import load_baseline
from server.files.season_tables.tallied_tables import SQUAD_RANKS, frames_of_everybody
from server.game.categories import FOUR_PART, SCHEMES, THREE_PART
from server.questions.question import Span
from server.questions.ranked import FEW, LOCKED, OTHER_SCHEME, PARTS, ranked, ranked_by_each
from server.questions.squads import Member
from server.store.players import Player
from tests.analysis.tallied import tally

EVER = Span()


def member(number: int, held: Tally | None, scheme: str = FOUR_PART) -> Member:
    name = f"Player {number}"
    return Member(Player(f"id {number}", name, "right", "yards", "tour", scheme, None), held)


def members() -> list[Member]:
    """Three who are put in order; one round; a locked one; no course; another scheme; a player without a round; and one
    whose rounds have a course but for some, or are short."""
    draw = np.random.default_rng(6)
    made = [tally(draw, rounds, level, (0.0, 2.0)) for rounds, level in ((6, 3.0), (5, 0.0), (9, -1.0), (1, 0.0))]
    lost = tally(draw, 4)
    lost.course[:] = None
    three = tally(draw, 5)
    three = replace(three, categories=SCHEMES[THREE_PART], strokes=three.strokes[:, :3], shots=three.shots[:, :3])
    part = tally(draw, 7, courses=(0.0, 1.0, 2.0), played=[0, 1, 2, 2, 1, 0, 2])
    part.course[[0, 4]] = None
    kept = ~((part.round_ == 2) & (part.hole > 8))
    of_holes = {name: getattr(part, name)[kept] for name in ("round_", "hole", "par", "shots", "strokes")}
    nothing = replace(
        made[0],
        **{name: getattr(made[0], name)[:0] for name in ("ids", "day", "kind", "course", *of_holes)},
    )
    held = [*made, None, lost, three, nothing, replace(part, **of_holes)]
    schemes = [THREE_PART if one is three else FOUR_PART for one in held]
    return [member(number, one, scheme) for number, (one, scheme) in enumerate(zip(held, schemes, strict=True))]


def test_each_part_is_told_as_by_itself() -> None:
    everybody = members()
    found = ranked_by_each(everybody, PARTS, 0.9, EVER)
    assert found == [ranked(everybody, part, 0.9, EVER) for part in PARTS]
    for part, told in zip(PARTS, found, strict=True):
        why = {row["player_id"]: row["why"] for row in told.left_out}
        other = {} if part == "total" else {"id 6": OTHER_SCHEME}
        assert why == {"id 3": FEW, "id 4": LOCKED, "id 5": FEW, "id 7": FEW} | other
        placed = [one for one in everybody if one.player.player_id not in why]
        assert told.names == [one.player.name for one in placed]
        # round by round, with nothing shared
        rows = []
        for code, one in enumerate(placed):
            mine = one.tally
            assert mine is not None
            for number, course in enumerate(mine.course):
                here = mine.round_ == number
                if course is None or here.sum() < 9:
                    continue
                gained = mine.strokes[here] if part == "total" else mine.strokes[here, mine.categories.index(part)]
                rows.append((gained.sum() * 18 / here.sum(), here.sum() / 18, code, course))
        strokes, parts, player, names = (np.array(column) for column in zip(*rows, strict=True))
        order = list(dict.fromkeys(names.tolist()))
        course = np.array([order.index(name) for name in names])
        assert told.courses == len(order) == 3
        for theirs, row in zip(standings(SquadRounds(strokes, parts, player, course)), told.players, strict=True):
            # sums in another order: the search for the spreads stops elsewhere in the eighth digit
            for name in ("beside_squad", "low", "high", "mean"):
                assert row[name] == pytest.approx(theirs[name], abs=1e-6)  # type: ignore[literal-required]
            assert (row["player"], row["rounds"], row["courses"]) == (
                theirs["player"],
                theirs["rounds"],
                theirs["courses"],
            )


def test_a_part_that_is_none_and_a_squad_of_nobody() -> None:
    with pytest.raises(ValueError, match="by: 'luck' is not one of total, off_the_tee"):
        ranked_by_each(members(), ["total", "luck"], 0.9, EVER)
    for told in ranked_by_each([], PARTS, 0.9, EVER):
        assert (told.players, told.left_out, told.names, told.courses) == ([], [], [], 0)
    with pytest.raises(ValueError, match="level: 2 is outside"):
        ranked([], "total", 2.0, EVER)


def test_a_season_says_why_players_of_equal_rounds_are_in_no_order() -> None:
    """Par 3 courses have no shot off the tee of a longer hole: there every round gained nothing."""
    draw = np.random.default_rng(9)
    held = [tally(draw, 4), tally(draw, 5), tally(draw, 1)]
    for one in held:
        one.strokes[:, 0] = 0.0
    everybody = [member(number, one) for number, one in enumerate(held)]
    rows = pd.concat(frames_of_everybody(SQUAD_RANKS, everybody, load_baseline()))
    off = rows[rows["part"] == "off_the_tee"].set_index("player_id")
    assert off["lacking"].to_dict() == dict.fromkeys(["id 0", "id 1"], no_spread(["", ""])) | {"id 2": FEW}
    assert off["rank_low"].isna().all()
    assert rows[rows["part"] == "putting"].set_index("player_id")["lacking"].isna().to_dict() == {
        "id 0": True,
        "id 1": True,
        "id 2": False,
    }


def test_whose_rounds_are_all_on_one_day_has_no_place() -> None:
    draw = np.random.default_rng(10)
    held = [tally(draw, 6), tally(draw, 5), tally(draw, 4, day=[30] * 4)]
    found = ranked([member(number, one) for number, one in enumerate(held)], "total", 0.9, EVER)
    assert {row["player_id"] for row in found.players} == {"id 0", "id 1"}
    assert [(row["player_id"], row["why"]) for row in found.left_out] == [("id 2", ONE_DAY)]
