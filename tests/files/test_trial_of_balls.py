"""A trial of two balls: all clubs, in the rounds with either; the other rounds are no part of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
import sqlalchemy as sa

from server.analysis.evidence.matched import NO_TURNS
from server.analysis.evidence.trial_words import design_words, verdict
from server.analysis.evidence.trials import Trial, run_trial
from server.analysis.strokes_gained.summaries import distance_band
from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.questions.question import Asked, Question
from server.reports.trial import trial_document
from server.store.engine import reading
from server.store.players import ball_labels, players
from tests.analysis.made_trials import shots
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


def taking_turns(order: str, gain: float, drift: float) -> pd.DataFrame:
    """A round a letter of `order` with the ball of that letter, on two courses, form rising by `drift` in all."""
    draw = np.random.default_rng(12)
    parts = []
    for day, ball in enumerate(order):
        form = drift * day / (len(order) - 1)
        for category, distance, hard in (
            ("approach", 160.0, 0.0),
            ("off_the_tee", 160.0, -0.4),
            ("approach", 90.0, 0.2),
        ):
            values = draw.normal(hard + form + gain * (ball == "A") - 0.3 * (day % 4 == 3), 0.2, 4)
            part = shots(*[(ball, f"r{day}", value) for value in values], lie="tee", distance_yd=distance)
            days = pd.Timestamp("2026-05-01") + pd.Timedelta(days=day)
            parts.append(part.assign(category=category, course="heath" if day % 4 == 3 else "links", played_on=days))
    return pd.concat(parts, ignore_index=True)


def two_balls(valued: pd.DataFrame) -> Trial:
    a, b = (valued["club"].eq(name).to_numpy(dtype=bool) for name in ("A", "B"))
    return run_trial(valued, a, b, by_rounds=True)


def test_category_course_and_a_line_of_form_are_taken_out() -> None:
    """Held to numpy's least squares: the side, the day, one constant for each lie, distance, category and course."""
    valued = taking_turns("ABBABAABAB", 0.1, 0.5)
    found = two_balls(valued)
    place = valued["category"] + valued["course"] + valued["distance_yd"].astype(str)
    balls = valued.groupby(place)["club"].transform("nunique")
    kept = valued[balls > 1]
    day = (kept["played_on"] - kept["played_on"].min()).dt.days
    columns = [kept["club"].eq("A"), day, *pd.get_dummies(place[kept.index]).to_numpy().T]
    wanted = np.linalg.lstsq(np.column_stack(columns).astype(float), kept["strokes_gained"].to_numpy(), rcond=None)[0][
        0
    ]
    assert found.matched.difference == pytest.approx(wanted, abs=1e-9)
    assert found.matched.difference == pytest.approx(0.1, abs=0.1)
    assert found.design == "by_rounds"
    assert design_words(found).startswith("By rounds: 5 against 5 rounds, all clubs, on the same courses;")


def test_one_ball_in_spring_and_one_in_summer_is_no_trial() -> None:
    found = two_balls(taking_turns("AAAAABBBBB", 0.0, 0.5))
    assert (found.matched.lacking, found.matched.difference) == (NO_TURNS, None)
    assert "the two were not played in turn" in verdict(found, "ball A", "ball B").words
