"""The shots of the valuation vectors, without their values."""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import Any

FOOT = 1 / 3
PRINTED_YD = {
    "tee": (100.0, 600.0),
    "fairway": (10.0, 600.0),
    "fringe": (10.0, 600.0),
    "rough": (10.0, 600.0),
    "sand": (10.0, 600.0),
    "recovery": (10.0, 600.0),
    "green": (2 * FOOT, 30.0),
}
"""The printed range of every lie in the tour baseline, in yards."""

Shot = dict[str, Any]


@dataclass(frozen=True)
class Case:
    """A hole of shots in the order in which they were written down."""

    name: str
    par: int
    shots: list[Shot]


def shot(order: int, lie: str, distance_yd: float | None, ball: int = 1, **others: Any) -> Shot:
    """One shot with every field of the vectors."""
    plain: Shot = {
        "ball": ball,
        "order": order,
        "lie": lie,
        "distance_yd": distance_yd,
        "holed": False,
        "penalty_strokes": 0,
        "penalty_reason": None,
        "end_lie": None,
        "end_distance_yd": None,
    }
    return plain | others


def holed(order: int, lie: str, distance_yd: float, ball: int = 1, **others: Any) -> Shot:
    """A shot that was holed."""
    return shot(order, lie, distance_yd, ball, holed=True, **others)


def penalised(order: int, lie: str, distance_yd: float, reason: str, strokes: int = 1, **others: Any) -> Shot:
    """A shot that brought penalty strokes."""
    return shot(order, lie, distance_yd, penalty_strokes=strokes, penalty_reason=reason, **others)


def plain_holes() -> list[Case]:
    """Holes without trouble, on every par and from every lie."""
    return [
        Case(
            "par 4 in four",
            4,
            [shot(1, "tee", 400.0), shot(2, "fairway", 150.0), shot(3, "green", 6.0), holed(4, "green", FOOT * 2)],
        ),
        Case("par 3 in one", 3, [holed(1, "tee", 172.0)]),
        Case("par 3 with two putts", 3, [shot(1, "tee", 165.5), shot(2, "green", 11.0), holed(3, "green", 1.0)]),
        Case(
            "par 5 by every lie",
            5,
            [
                shot(1, "tee", 551.0),
                shot(2, "rough", 288.0),
                shot(3, "recovery", 133.0),
                shot(4, "sand", 24.0),
                shot(5, "fringe", 12.0),
                shot(6, "fairway", 11.5),
                shot(7, "green", 14 * FOOT),
                holed(8, "green", 3 * FOOT),
            ],
        ),
        Case("par 6", 6, [shot(1, "tee", 690.0), shot(2, "fairway", 420.0), holed(3, "fairway", 130.0)]),
        Case("holed from the sand", 4, [shot(1, "tee", 310.0), shot(2, "sand", 31.0), holed(3, "sand", 9.0)]),
        Case("nothing between green and hole", 4, [shot(1, "tee", 300.0), holed(2, "green", 0.01)]),
    ]


def distances_of(lie: str) -> list[float]:
    """Distances at, just inside, just outside and far outside the printed rows of a lie, all within its range."""
    first, last = PRINTED_YD[lie]
    farthest = 50.0 if lie == "green" else 700.0
    return [
        0.001,
        first / 2,
        first - 1 / 1024,
        first,
        first + 1 / 1024,
        (first + last) / 2 + 0.3,
        last - 1 / 1024,
        last,
        last + 1 / 1024,
        (last + farthest) / 2,
        farthest,
    ]


def edges() -> list[Case]:
    """Every lie at and around the ends of its printed rows, once as a start and once as an end."""
    cases = []
    for lie in PRINTED_YD:
        shots = [holed(1, "tee", 150.0)]
        for ball, distance in enumerate(distances_of(lie), start=2):
            shots.append(shot(1, lie, distance, ball, end_lie="fairway", end_distance_yd=40.0))
        cases.append(Case(f"printed and extended starts: {lie}", 4, shots))
        ends = [shot(1, "tee", 440.0), holed(2, "fairway", 60.0)]
        for ball, distance in enumerate(distances_of(lie), start=2):
            ends.append(shot(1, "fairway", 300.0, ball, end_lie=lie, end_distance_yd=distance))
        cases.append(Case(f"printed and extended ends: {lie}", 4, ends))
    return cases


def category_lines() -> list[Case]:
    """Both sides of the short-game distances, tee shots on every par."""
    distances = [49.9, 50.0, 50.1, 99.9, 100.0, 100.1]
    cases = []
    for par in (3, 4, 5):
        shots = [holed(1, "tee", 180.0 * (par - 2))]
        ball = 1
        for lie in PRINTED_YD:
            for distance in distances if lie != "green" else [1.0, 45.0]:
                ball += 1
                shots.append(holed(1, lie, distance, ball))
        cases.append(Case(f"category lines on a par {par}", par, shots))
    return cases


def penalties() -> list[Case]:
    """Every way on after a penalty."""
    rest = [holed(3, "green", 5.0)]
    flows = {
        "out of bounds off the tee": [penalised(1, "tee", 410.0, "out_of_bounds"), shot(2, "tee", 410.0), *rest],
        "lost in the rough": [penalised(1, "rough", 210.0, "lost"), shot(2, "rough", 210.0), *rest],
        "out of bounds, fairway drop": [
            penalised(1, "tee", 410.0, "out_of_bounds", 2),
            shot(2, "fairway", 160.0),
            *rest,
        ],
        "penalty area, again": [penalised(1, "fairway", 200.0, "penalty_area"), shot(2, "fairway", 200.0), *rest],
        "penalty area, relief": [penalised(1, "fairway", 200.0, "penalty_area"), shot(2, "rough", 81.0), *rest],
        "penalty area, as it lies": [shot(1, "fairway", 200.0), shot(2, "recovery", 33.0), *rest],
        "unplayable, again": [penalised(1, "tee", 380.0, "unplayable"), shot(2, "tee", 380.0), *rest],
        "unplayable, relief": [penalised(1, "tee", 380.0, "unplayable"), shot(2, "rough", 170.0), *rest],
        "unplayable in sand, inside": [penalised(1, "fairway", 160.0, "unplayable"), shot(2, "sand", 22.0), *rest],
        "unplayable in sand, outside": [
            penalised(1, "fairway", 160.0, "unplayable", 2),
            shot(2, "rough", 44.0),
            *rest,
        ],
        "general penalty": [penalised(1, "fairway", 160.0, "other", 2), shot(2, "green", 9.0), *rest],
        "one stroke as ruled, holed": [shot(1, "tee", 300.0), penalised(2, "green", 2.0, "other", holed=True)],
        "out of bounds twice": [
            penalised(1, "tee", 410.0, "out_of_bounds"),
            penalised(2, "tee", 410.0, "out_of_bounds"),
            holed(3, "tee", 410.0),
        ],
        "lost, no further shot": [penalised(1, "tee", 433.0, "lost")],
        "out of bounds, no further shot, end entered": [
            penalised(1, "tee", 433.0, "out_of_bounds", end_lie="fairway", end_distance_yd=120.0)
        ],
        "out of bounds for two, no further shot": [penalised(1, "tee", 433.0, "out_of_bounds", 2)],
        "penalty area, no further shot": [penalised(1, "tee", 433.0, "penalty_area")],
    }
    return [Case(name, 4, shots) for name, shots in flows.items()]


def extra_balls_and_pick_ups() -> list[Case]:
    """Extra balls of a practice round, balls that were picked up, shots written down in another order."""
    record = [shot(1, "tee", 389.0), shot(2, "rough", 141.0), shot(3, "green", 8.0), holed(4, "green", 0.5)]
    second = [shot(1, "tee", 389.0, 2), shot(2, "fairway", 121.0, 2), holed(3, "green", 4.0, 2)]
    third = [shot(1, "sand", 18.0, 3), shot(2, "green", 2.0, 3, end_lie="green", end_distance_yd=0.25)]
    picked_up = [shot(1, "tee", 505.0), shot(2, "rough", 266.0)]
    return [
        Case("extra balls", 4, record + second + third),
        Case("extra balls, written down crosswise", 4, [*third[::-1], *record[2:], *second[::-1], *record[:2]]),
        Case("no ball of record", 4, second),
        Case("hole written down backwards", 4, record[::-1]),
        Case("picked up without an end", 5, picked_up),
        Case("picked up with an end", 5, [picked_up[0], picked_up[1] | {"end_lie": "sand", "end_distance_yd": 35.0}]),
        Case(
            "an entered end gives way to the next shot",
            5,
            [picked_up[0] | {"end_lie": "sand", "end_distance_yd": 35.0}, holed(2, "rough", 266.0)],
        ),
        Case("an entered end gives way to the hole", 5, [holed(1, "tee", 505.0, end_lie="green", end_distance_yd=1.0)]),
    ]


def faults() -> list[Case]:
    """Numbers that do not run, lies and distances that cannot be: what carries no value, and why."""
    tee, fairway, green = shot(1, "tee", 400.0), shot(2, "fairway", 150.0), holed(3, "green", 3.0)
    return [
        Case("a number is missing", 4, [tee, green]),
        Case("the first number is missing", 4, [fairway, green]),
        Case("two shots with one number", 4, [tee, fairway, shot(2, "rough", 140.0), green]),
        Case("three shots with one number", 4, [tee, shot(1, "tee", 401.0), shot(1, "tee", 402.0), fairway, green]),
        Case("a shot after the hole", 4, [tee, fairway, green, shot(4, "green", 1.0)]),
        Case("two shots after the hole", 4, [shot(5, "green", 1.0), green, tee, fairway, holed(4, "green", 1.0)]),
        Case("unknown lie in the middle", 4, [tee, shot(2, "mat", 150.0), green]),
        Case("no distance in the middle", 4, [tee, shot(2, "fairway", None), green]),
        *[
            Case(f"distance of {distance:g} yd", 4, [tee, shot(2, "fairway", distance), green])
            for distance in (0.0, -150.0, 700.5, 1e9)
        ],
        Case("green of 51 yd", 4, [tee, shot(2, "green", 51.0), green]),
        Case("an end without a lie", 4, [tee | {"end_distance_yd": 150.0}]),
        Case("an end without a distance", 4, [tee | {"end_lie": "fairway"}]),
        Case("an end with an unknown lie", 4, [tee | {"end_lie": "path", "end_distance_yd": 150.0}]),
        Case("an end out of range", 4, [tee | {"end_lie": "green", "end_distance_yd": 60.0}]),
    ]


def random_holes(count: int = 25, seed: int = 2012) -> list[Case]:
    """Invented legal holes, shuffled, so that no value of the vectors is a round number only."""
    draw = random.Random(seed)
    cases = []
    for number in range(count):
        par = draw.choice([3, 4, 5])
        left = round(draw.uniform(110, 230) * (par - 2), 2)
        shots: list[Shot] = []
        lie = "tee"
        while lie != "green" and len(shots) < 9:
            order = len(shots) + 1
            if draw.random() < 0.1:
                shots.append(penalised(order, lie, left, draw.choice(["lost", "out_of_bounds", "unplayable"])))
                continue
            shots.append(shot(order, lie, left))
            left = round(max(1.0, left - draw.uniform(0.5, 1.0) * min(left, 270)), 2)
            lie = "green" if left < 12 else draw.choice(["fairway", "rough", "sand", "recovery", "fringe"])
        shots.append(holed(len(shots) + 1, lie, left))
        draw.shuffle(shots)
        cases.append(Case(f"invented hole {number + 1}", par, shots))
    return cases


def all_cases() -> list[Case]:
    """Every case of the vectors."""
    return [
        *plain_holes(),
        *edges(),
        *category_lines(),
        *penalties(),
        *extra_balls_and_pick_ups(),
        *faults(),
        *random_holes(),
    ]
