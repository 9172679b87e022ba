"""Summaries of many players at once: each one's to the last bit, and what plain loops over rounds give."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t

from server.analysis.evidence.round_lengths import has_hole, rounds_of_many
from server.analysis.strokes_gained.summaries import summaries_of_many, summarise
from server.analysis.strokes_gained.summary_intervals import COLUMNS

EXACT = 1e-9
CLUBS = ["driver", "iron", "wedge", "putter", "chipper", "wood"]
CATEGORIES = ["off_the_tee", "approach", "around_the_green", "putting"]


def random_players(players: int, seed: int) -> pd.DataFrame:
    """Shots of a player with one round, of others with more, long and short; extra balls, shots without a value."""
    draw = np.random.default_rng(seed)
    parts = []
    for player in range(players):
        for round_ in range(int(draw.integers(3, 14)) if player else 1):
            holes = int(draw.choice([3, 9, 18, 18]))
            shots = holes * 4
            code = draw.integers(0, len(CLUBS), shots)
            parts.append(
                pd.DataFrame(
                    {
                        "player": player,
                        "round_id": f"{player}-{round_}",
                        "hole": np.repeat(np.arange(holes) + 1, 4),
                        "ball": np.where(draw.random(shots) < 0.06, 2, 1),
                        "strokes_gained": np.where(draw.random(shots) < 0.05, np.nan, draw.normal(0, 0.4, shots)),
                        "basis": np.where(draw.random(shots) < 0.1, "extended", "printed"),
                        "lie": draw.choice(["tee", "fairway", "rough", "green"], shots),
                        "distance_yd": draw.uniform(1, 180, shots),
                        "club": np.array(CLUBS)[code],
                        "category": np.array(CATEGORIES)[np.minimum(code, 3)],
                    }
                )
            )
    made = pd.concat(parts, ignore_index=True)
    return made.assign(
        club=pd.Categorical(made["club"], categories=sorted(CLUBS)),
        category=pd.Categorical(made["category"], categories=CATEGORIES),
    )


def by_loops(shots: pd.DataFrame, by: str, level: float) -> dict[str, dict[str, float]]:
    """Figures of a player's groups, round by round as the method is written down, without an array over rounds."""
    played = shots[shots["ball"].eq(1) & shots["strokes_gained"].notna()]
    holes = played.groupby("round_id")["hole"].nunique()
    parts = {round_id: count / 18 for round_id, count in holes.items() if count >= 9}
    counted = shots[shots["strokes_gained"].notna() & (shots["ball"].eq(1) if by == "category" else True)]
    found = {}
    for word, mine in counted.groupby(by, observed=True):
        sums = [(len(one), one["strokes_gained"].sum()) for _, one in mine.groupby("round_id")]
        told = {"shots": len(mine), "rounds": len(sums), "strokes_gained": mine["strokes_gained"].sum()}
        told["per_shot_low"], told["per_shot_high"] = jackknife(sums, kish([n for n, _ in sums]) - 1, level)
        if len(mine) < 5 or len(sums) < 2:
            told["per_shot_low"] = told["per_shot_high"] = math.nan
        record = mine[mine["ball"].eq(1)]
        strokes = {round_id: one["strokes_gained"].sum() for round_id, one in record.groupby("round_id")}
        rounds = [(part, strokes.get(round_id, 0.0)) for round_id, part in parts.items()]
        holding = [part for round_id, part in parts.items() if round_id in strokes]
        freedom = (kish(holding) + kish(list(parts.values()))) / 2 - 1
        told["per_round"] = sum(s for _, s in rounds) / sum(p for p, _ in rounds) if rounds else math.nan
        told["per_round_low"], told["per_round_high"] = jackknife(rounds, freedom, level)
        if record["round_id"].isin(list(parts)).sum() < 5 or len(holding) < 2:
            told["per_round_low"] = told["per_round_high"] = math.nan
        found[str(word)] = told
    return found


def kish(counts: list[float]) -> float:
    return sum(counts) ** 2 / sum(count**2 for count in counts) if counts else 0.0


def jackknife(sums: list[tuple[float, float]], freedom: float, level: float) -> tuple[float, float]:
    if len(sums) < 2:
        return math.nan, math.nan
    weight, strokes = sum(n for n, _ in sums), sum(s for _, s in sums)
    squares = sum(((strokes - s) / (weight - n) - strokes / weight) ** 2 for n, s in sums)
    reach = t.ppf((1 + level) / 2, max(freedom, 1)) * math.sqrt(squares * (len(sums) - 1) / len(sums))
    return strokes / weight - reach, strokes / weight + reach


@pytest.mark.parametrize("by", ["club", "category"])
def test_many_players_at_once_have_each_ones_summary(by: str) -> None:
    shots = random_players(9, 5)
    owner = shots["player"].to_numpy()
    codes = pd.factorize(shots["round_id"])[0]
    rounds = rounds_of_many(owner, codes, shots["hole"].to_numpy(), has_hole(shots), 10)
    rows = summaries_of_many(shots, owner, rounds, 10, by)
    assert rows["shrunk"].notna().any()
    assert rows["shrunk"].isna().any()
    for player, mine in shots.groupby("player"):
        alone, ours = summarise(mine, by), rows[rows["owner"].eq(player)].reset_index(drop=True)
        columns = [by, "shots", "rounds", "strokes_gained", "per_shot", "extended", *COLUMNS]
        columns.remove("too_few")
        pd.testing.assert_frame_equal(ours[columns], alone.rows[columns], check_exact=True)
        assert ours["too_few"].fillna("").tolist() == alone.rows["too_few"].fillna("").tolist()
        assert rounds.short[player] == alone.total["short_rounds"]
        plain = by_loops(mine, by, 0.9)
        assert sorted(plain) == sorted(ours[by])
        for row in ours.to_dict("records"):
            wanted = plain[row[by]]
            assert {name: row[name] for name in wanted} == pytest.approx(wanted, abs=EXACT, nan_ok=True), row[by]
