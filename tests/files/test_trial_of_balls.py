"""A trial of two balls: all clubs, in the rounds with either; the other rounds are no part of it."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest
import sqlalchemy as sa

from server.analysis.evidence.trials import run_trial
from server.analysis.strokes_gained.summaries import distance_band
from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.questions.question import Asked, Question
from server.reports.trial import trial_document
from server.store.engine import reading
from server.store.players import ball_labels, players
from tests.analysis.test_trials import shots
from tests.files.tables import row, table

BALLS = ("yellow Marigold", "white Curlew", "grey Plover", "")


def rounds_with(days: int = 12) -> list[dict[str, Any]]:
    """Nine par 3 a day, a ball a day in turn: from the tee to 8 or 24 ft, then one putt or two."""
    rows: list[dict[str, Any]] = []
    for day in range(days):
        label = BALLS[day % len(BALLS)]
        same = {"played_on": f"2026-05-{day + 1:02d}", "par": 3, "length_yd": 150, "ball_label": label}
        for hole in range(1, 10):
            near = (7 * day + 5 * hole) % 20 < (6 if label == "white Curlew" else 12)
            feet = 8 if near else 24
            putt = {"lie": "green", "club": "putter", "hole": hole, **same}
            rows.append(row(**same, hole=hole, shot=1, lie="tee", distance=150, club="8 iron"))
            if (day + hole) % 3:
                rows.append(row(**putt, shot=2, distance=feet, holed="yes"))
            else:
                rows += [row(**putt, shot=2, distance=feet), row(**putt, shot=3, distance=2, holed="yes")]
    return rows


def test_all_clubs_in_the_rounds_with_either_ball(engine: sa.Engine) -> None:
    import_table(engine, read_table(table(rounds_with())))
    with reading(engine) as connection:
        (player,) = players(connection)
        labels = ball_labels(connection, player.player_id)
        snapshot = Asked(connection, player, Question()).snapshot()
    assert labels == snapshot.balls == ["grey Plover", "white Curlew", "yellow Marigold"]
    sides = snapshot.two_sides("ball:yellow Marigold", "ball:white Curlew")
    found = trial_document(snapshot.chosen, sides)
    valued = snapshot.chosen.valued
    counts = valued["ball_label"].value_counts()
    assert [found[side]["shots"] for side in ("a", "b")] == [counts["yellow Marigold"], counts["white Curlew"]]
    assert [found[side]["matched_rounds"] for side in ("a", "b")] == [3, 3]
    assert found["rounds"] == 6, "rounds with a third ball, or with none, are no part of it"
    both = valued[valued["ball_label"].isin(["yellow Marigold", "white Curlew"]).to_numpy()]
    assert found["difference"] is not None
    assert found["difference"]["shots_a_round"] == pytest.approx(18 * len(both) / (6 * 9))
    band = distance_band(both["lie"], both["distance_yd"]).astype(str)
    place = both["lie"].astype(str) + both["category"].astype(str) + band
    gained = both["strokes_gained"].groupby([place, both["ball_label"].astype(str)]).agg(["mean", "size"]).unstack()
    one, other = ((gained["mean"][name], gained["size"][name]) for name in ("yellow Marigold", "white Curlew"))
    weight = one[1] * other[1] / (one[1] + other[1])
    by_hand = (weight * (one[0] - other[0])).sum() / weight.sum()
    assert found["difference"]["per_shot"] == pytest.approx(by_hand)
    assert by_hand > 0, "the white one ends near less often"


def test_a_tee_shot_meets_a_tee_shot() -> None:
    """From the tee at 160 yd: approaches A 0.2 in 4, B 0.1 in 4, weight 2; off the tee A -0.3 in 2, B -0.1 in 6, weight
    1.5: (2 * 0.1 - 1.5 * 0.2) / 3.5 = -0.028571. Thrown together A would be ahead by 0.2 / 6 + 0.2 / 10."""

    def at(category: str, *rows: tuple[str, str, float]) -> Any:
        return shots(*rows, lie="tee", distance_yd=160.0).assign(category=category)

    valued = pd.concat(
        [
            at("approach", *[("A", f"r{n % 2}", 0.2 + 0.1 * (-1) ** n) for n in range(4)]),
            at("approach", *[("B", f"s{n % 2}", 0.1 + 0.2 * (-1) ** n) for n in range(4)]),
            at("off_the_tee", *[("A", f"r{n % 2}", -0.3) for n in range(2)]),
            at("off_the_tee", *[("B", f"s{n % 2}", -0.1) for n in range(6)]),
        ],
        ignore_index=True,
    )
    a, b = (valued["club"].eq(name).to_numpy(dtype=bool) for name in ("A", "B"))
    assert run_trial(valued, a, b, within="category").matched.difference == pytest.approx(-0.1 / 3.5)
    assert run_trial(valued, a, b).matched.difference != pytest.approx(-0.1 / 3.5)
