"""Holes and baselines made for tests of the plan: simple enough that the answer is an integral."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from server.analysis.expected_strokes.baseline import Baseline, load_baseline, make_baseline
from server.analysis.expected_strokes.files import BaselineFile
from server.game.hole_maps import Feature, feature, oval

LONG = 400.0


def rectangle(golf: str, left: float, right: float, near: float, far: float) -> Feature:
    """A rectangle of a kind."""
    return feature(golf, [(left, near), (right, near), (right, far), (left, far)])


def straight_hole(half_width: float = 15.0, *more: Feature) -> list[Feature]:
    """A straight hole of 400 yd: fairway from 20 to 380, a round green of 12 yd, and what else is given."""
    return [rectangle("fairway", -half_width, half_width, 20, 380), feature("green", oval(0, LONG, 12, 12)), *more]


def flat_baseline(worth: Mapping[str, float]) -> Baseline:
    """A baseline that expects the same from every distance: lie -> strokes."""
    about = load_baseline().about
    rows = {lie: (np.array([1.0, 600.0]), np.array([value, value])) for lie, value in worth.items()}
    fields = {**vars(about), "id": "flat", "rows": rows}
    return make_baseline(BaselineFile(**fields))


def scaled_tour(factor: float) -> Baseline:
    """The tour's baseline with every value above the last stroke times `factor`."""
    about = load_baseline().about
    rows = {lie: (yards, 1 + (strokes - 1) * factor) for lie, (yards, strokes) in about.rows.items()}
    return make_baseline(BaselineFile(**{**vars(about), "id": "scaled", "rows": rows}))


FLAT = flat_baseline({"tee": 4.0, "fairway": 2.0, "rough": 3.0, "sand": 3.2, "recovery": 3.5, "green": 1.5})
