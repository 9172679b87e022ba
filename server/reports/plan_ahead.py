"""What a plan shows of the shots after this one: what the best shot leaves, and how it compares with the plan in which
the baseline's golfers play on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from server.analysis.plan.ahead import Ahead, next_shots
from server.analysis.plan.flight import Day
from server.analysis.plan.ground import Ground
from server.analysis.plan.rows import NextShot, OptionRow, Plan
from server.analysis.plan.tee_plan import AS_GOOD, Option
from server.game.lies import FAIRWAY, GREEN, RECOVERY, ROUGH, SAND
from server.game.numbers import plain
from server.game.units import FEET_PER_YARD
from server.reports.plan_rows import AheadRow, OneStep

FROM_LIE: Final = {FAIRWAY: "from the fairway", ROUGH: "from the rough", SAND: "from sand", RECOVERY: "from the trees"}
SENTENCES: Final = 2


def ahead_row(
    ahead: Ahead,
    ground: Ground,
    start: tuple[float, float],
    options: Sequence[Option],
    plans: tuple[Plan, Plan],
    day: Day,
) -> AheadRow | None:
    """What the plan knows of the next shots. `plans`: by the baseline's golfers, and looking ahead; None when there is
    nothing to choose."""
    one_step, made = plans
    if not made["options"]:
        return None
    best = made["options"][0]
    option = next(option for option in options if option.name == best["name"])
    left = next_shots(ahead, ground, start, best["aim_deg"], option, day)
    compared = _one_step(one_step, made["options"])
    return {
        "next": left,
        "words": [next_words(row) for row in left[:SENTENCES]],
        "one_step": compared,
        "agree": compared is not None and compared["costs"] is not None and compared["costs"] <= AS_GOOD,
        "near_yd": ahead.solved.near.within_yd,
        "settled": ahead.solved.settled,
    }


def _one_step(one_step: Plan, options: Sequence[OptionRow]) -> OneStep | None:
    """The best of the plan by the baseline's golfers, and what it costs when one looks ahead."""
    best = one_step["best"]
    if best is None:
        return None
    same = next((row for row in options if row["name"] == best["name"]), None)
    values = [] if same is None else [at["expected"] for at in same["curve"] if at["aim_yd"] == best["aim_yd"]]
    costs = values[0] - options[0]["expected"] if values and values[0] is not None else None
    return {**best, "expected": one_step["options"][0]["expected"], "costs": costs}


def next_words(row: NextShot) -> str:
    """What a shot leaves, in a sentence.

    >>> left = {"lie": "fairway", "share": 0.71, "distance_yd": 148.0, "club": "8 iron", "club_share": 0.8}
    >>> next_words({**left, "nearest_yd": 140.0, "farthest_yd": 160.0})
    'Leaves 148 yd from the fairway 7 times in 10: then the 8 iron.'
    """
    often = times_in_ten(row["share"])
    if row["lie"] == GREEN:
        return f"On the green {often}, {plain(row['distance_yd'] * FEET_PER_YARD, 0)} ft from the hole."
    then = "" if row["club"] is None else f": then the {row['club']}"
    return f"Leaves {plain(row['distance_yd'], 0)} yd {FROM_LIE[row['lie']]} {often}{then}."


def times_in_ten(share: float) -> str:
    """A share as times in ten, or in twenty below one in ten.

    >>> times_in_ten(0.71), times_in_ten(0.06), times_in_ten(0.99)
    ('7 times in 10', '1 time in 20', 'nearly always')
    """
    if share > 0.95:
        return "nearly always"
    count, of = (round(10 * share), 10) if share >= 0.1 else (max(1, round(20 * share)), 20)
    return f"{count} time{'' if count == 1 else 's'} in {of}"
