"""Invented seasons logged shot by shot, for checks of forecasts from the shots to the score.

Rounds of three holes of 165 yd with a green, out of bounds on the right and rough around, one iron from the tee. The
iron's pattern is drawn as in `simulated_patterns`; chips leave a share of their length, putts fall by the published
formula with a player's own two spreads and leave a share of theirs. A day's form multiplies all spreads. Nothing of
that has the form that the forecast assumes near the hole.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.plan.ground import OUT, prepare
from server.analysis.plan.hole_to_play import HoleToPlay
from server.analysis.putting.make_rates import TOUR as TOUR_PUTTS
from server.analysis.putting.make_rates import make_rate
from server.analysis.strokes_gained.attribution import attribute
from server.game.hole_maps import feature, oval
from server.game.lies import CODE, GREEN, LIES
from tests.analysis.made_holes import rectangle
from tests.analysis.simulated_patterns import drawn_truth

LENGTH = 165.0
PIN = (0.0, LENGTH)
FEATURES = [
    rectangle("fairway", -12, 12, 100, 150),
    rectangle("out_of_bounds", 24, 90, -40, 240),
    feature("green", oval(0, LENGTH, 11, 13)),
]
HOLES = (1, 2, 3)
COURSE = "Simulated Heath"
FIRST = date(2026, 3, 1)


def holes_to_play(_tees: str | None = None) -> list[HoleToPlay]:
    """The three holes."""
    ground = prepare(FEATURES)
    return [HoleToPlay(number, 3, LENGTH, ground, (0.0, 0.0), PIN) for number in HOLES]


def season(rounds: int, seed: int, form: float) -> pd.DataFrame:
    """The valued shots of a season. `form`: how much the spreads of days differ, in the logarithm."""
    rng = np.random.default_rng(seed)
    truth, ground = drawn_truth(rng, LENGTH), prepare(FEATURES)
    putts = np.array(TOUR_PUTTS) * np.exp(rng.normal((0.2, 0.5), (0.2, 0.3)))
    chip = 0.13 * np.exp(0.25 * rng.standard_normal())
    rows: list[dict[str, Any]] = []
    for number in range(rounds):
        wide = float(np.exp(form * rng.standard_normal()))
        about = {"round_id": f"r{number:03d}", "played_on": FIRST + timedelta(days=2 * number)}
        for hole in HOLES:
            rows += _hole(truth, ground, putts, chip, wide, rng, about | {"hole": hole})
    frame = pd.DataFrame(rows)
    frame["lie"] = pd.Categorical.from_codes([CODE[lie] for lie in frame["lie"]], categories=list(LIES))
    frame["played_on"] = pd.to_datetime(frame["played_on"])
    usual = {"course": COURSE, "tees": "white", "par": 3, "length_yd": LENGTH, "ball": 1, "picked_up": False}
    return attribute(frame.assign(**usual, setup=None, planned_shape=None, lengths_taken=None), load_baseline())


def _hole(
    truth: Any, ground: Any, putts: Any, chip: float, wide: float, rng: np.random.Generator, about: dict[str, Any]
) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []

    def shot(lie: str, yards: float, club: str, sort: str, **more: Any) -> None:
        told = {"swing": None, "target_yd": np.nan, "right_yd": np.nan, "long_yd": np.nan, "end_lie": None}
        told |= {"holed": False, "penalty_strokes": 0, "end_distance_yd": np.nan}
        where = {"order": len(rows) + 1, "lie": lie, "distance_yd": yards, "club": club, "sort": sort}
        rows.append(about | told | where | more)

    while True:
        ((right, along),) = truth.balls(1, rng)
        right, along = right * wide, truth.reach_yd + (along - truth.reach_yd) * wide
        code = int(ground.codes(np.array([right]), np.array([along]))[0])
        tapped = {"swing": "full", "target_yd": LENGTH, "right_yd": right, "long_yd": along - LENGTH}
        out = code == OUT
        shot("tee", LENGTH, "7 iron", "iron", penalty_strokes=int(out), **tapped)
        if not out:
            break
    lie, yards = LIES[code], max(float(np.hypot(right - PIN[0], along - PIN[1])), 0.1)
    if lie != GREEN:
        shot(lie, yards, "54 wedge", "wedge", swing="part")
        yards = max(yards * chip * wide * float(np.hypot(*rng.standard_normal(2))), 0.1)
    while True:
        holed = rng.random() < float(make_rate([3 * yards], *(putts * wide))[0])
        shot(GREEN, yards, "putter", "putter", holed=holed)
        if holed:
            return rows
        yards = max(0.1 * yards * wide * abs(float(rng.standard_normal())), 0.2)
