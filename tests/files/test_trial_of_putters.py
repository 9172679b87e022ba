"""Two putters in a trial: the make-rate stands beside the strokes gained as the auxiliary measure."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import load_baseline
from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.questions.question import Asked, Question
from server.questions.sides import Side
from server.reports.trial import trial_document
from server.store.engine import reading
from server.store.players import players
from tests.files.tables import row, table

TOUR = load_baseline("tour")
FALLS = {"old putter": (0,), "new putter": (0, 1, 2)}
"""Of every four putts from 8 ft the ones that fall."""


def falls(putter: str, number: int, day: str) -> bool:
    """Whether the putt falls; which ones do changes from day to day, so that rounds differ."""
    return (number // 2 + int(day[-2:]) ** 2 // 3) % 4 in FALLS[putter]


def hole_with(putter: str, number: int, day: str) -> list[dict[str, Any]]:
    """A par 3 hit to 8 ft; the putt falls, or leaves a foot."""
    same = {"played_on": day, "hole": number, "par": 3, "length_yd": 150, "kind": "practice"}
    shots = [row(**same, shot=1, lie="tee", distance=150, club="8 iron", holed="")]
    if falls(putter, number, day):
        return [*shots, row(**same, shot=2, lie="green", distance=8, club=putter, holed="yes")]
    missed = row(**same, shot=2, lie="green", distance=8, club=putter, holed="")
    return [*shots, missed, row(**same, shot=3, lie="green", distance=1, club=putter, holed="yes")]


def rounds_with_both() -> list[dict[str, Any]]:
    days = [f"2026-05-{day:02d}" for day in range(1, 13)]
    sides = tuple(FALLS)
    return [shot for day in days for number in range(1, 19) for shot in hole_with(sides[number % 2], number, day)]


def found_document(engine: sa.Engine, a: Side, b: Side) -> dict[str, Any]:
    import_table(engine, read_table(table(rounds_with_both())))
    with reading(engine) as connection:
        (player,) = players(connection)
        chosen = Asked(connection, player, Question()).snapshot().chosen
    return trial_document(chosen, (a, b))


def test_the_putter_that_holes_more_is_ahead_by_both_measures(engine: sa.Engine) -> None:
    found = found_document(engine, Side("new putter", "new putter"), Side("old putter", "old putter"))
    rate = found["make_rate"]
    assert found["difference"]["per_shot"] > 0
    assert rate["chance_a_better"] > 0.95
    assert rate["a"]["rate"] > rate["b"]["rate"]
    assert rate["a"]["putts"] == found["a"]["shots"]
    assert "new putter" in rate["words"]


def test_between_a_putter_and_an_iron_there_is_no_make_rate(engine: sa.Engine) -> None:
    found = found_document(engine, Side("new putter", "new putter"), Side("8 iron", "8 iron"))
    assert found["make_rate"] is None
    assert found["verdict"]["code"] == "cannot_tell"
