"""Writes `practice.json`: balls that may and may not be recorded, and sessions with their totals.

`python -m tests.vectors.make_practice`. Faults are written down by hand from the ranges; the totals are worked out by
Python's `statistics`, apart from the phone.
"""

from __future__ import annotations

import json
import statistics
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

FILE: Final = Path(__file__).parent / "practice.json"
SESSION: Final = "6a1f0a52-4d7e-4a0c-9a57-0d3a5c1f9e01"
CLUBS: Final = ("6a1f0a52-4d7e-4a0c-9a57-0d3a5c1f9e11", "6a1f0a52-4d7e-4a0c-9a57-0d3a5c1f9e12")
BASE: Final = {"session_id": SESSION, "order": 1, "club_id": CLUBS[0]}

FAULTY: Final[list[tuple[dict[str, Any], list[str]]]] = [
    ({}, []),
    ({"target_yd": 150.0, "right_yd": -6.0, "long_yd": 4.0, "swing": "full", "lie": "fairway"}, []),
    ({"target_yd": 700.0, "carry_yd": 400.0, "total_yd": 500.0, "right_yd": 300.0, "long_yd": 300.0}, []),
    ({"right_yd": -300.0, "long_yd": -700.0}, []),
    ({"target_yd": 0.0}, ["target_yd"]),
    ({"target_yd": 700.5}, ["target_yd"]),
    ({"carry_yd": 0.0}, ["carry_yd"]),
    ({"carry_yd": 401.0}, ["carry_yd"]),
    ({"total_yd": -1.0}, ["total_yd"]),
    ({"total_yd": 501.0}, ["total_yd"]),
    ({"right_yd": 301.0}, ["right_yd"]),
    ({"right_yd": -301.0, "carry_yd": 999.0}, ["carry_yd", "right_yd"]),
    ({"long_yd": 301.0}, ["long_yd"]),
    ({"long_yd": -701.0}, ["long_yd"]),
    ({"carry_yd": 100.0, "total_yd": 85.0}, []),
    ({"carry_yd": 100.0, "total_yd": 84.9}, ["total_yd"]),
    ({"swing": "half"}, ["swing"]),
    ({"lie": "green"}, ["lie"]),
    ({"lie": "sand", "swing": "part", "left_ft": 900.0}, []),
    ({"left_ft": 900.5}, ["left_ft"]),
    ({"left_ft": 0.0}, ["left_ft"]),
    ({"planned_shape": "hook"}, ["planned_shape"]),
    ({"actual_shape": "draw", "planned_shape": "fade", "strike": "thin"}, []),
    ({"strike": "shank"}, ["strike"]),
    ({"length_ft": 6.0, "holed": True}, []),
    ({"length_ft": 150.0, "left_ft": 3.0}, []),
    ({"length_ft": 150.5}, ["length_ft"]),
    ({"length_ft": 0.0}, ["length_ft"]),
    ({"length_ft": 6.0, "swing": "full"}, ["swing"]),
    ({"length_ft": 6.0, "target_yd": 2.0}, ["target_yd"]),
    ({"length_ft": 6.0, "holed": True, "left_ft": 1.0}, ["left_ft"]),
    ({"target_yd": 30.0, "holed": True, "left_ft": 1.0}, ["left_ft"]),
    ({"order": 0}, ["order"]),
    ({"order": 2000}, []),
    ({"order": 2001}, ["order"]),
    ({"order": 1.5}, ["order"]),
]

BANDS_FT: Final = (0, 3, 6, 10, 15, 20, 30, 40, 60, 150)

PUTTS: Final[list[dict[str, Any]]] = [
    {"length_ft": 3.0, "holed": True},
    {"length_ft": 3.0, "holed": False, "left_ft": 2.0},
    {"length_ft": 3.1, "holed": True},
    {"length_ft": 20.0, "holed": False, "left_ft": 1.5},
    {"length_ft": 20.0, "holed": False, "left_ft": 4.0},
    {"length_ft": 16.0, "holed": False},
    {"length_ft": 150.0, "holed": False, "left_ft": 12.0},
]
SWINGS: Final[list[dict[str, Any]]] = [
    {"club": 0, "swing": "full", "target_yd": 150.0, "right_yd": -6.0, "long_yd": 4.0},
    {"club": 0, "swing": "full", "target_yd": 150.0, "right_yd": 10.0, "long_yd": -12.0},
    {"club": 0, "carry_yd": 147.5, "total_yd": 153.0},
    {"club": 0, "swing": "part", "carry_yd": 91.0},
    {"club": 1, "swing": "full", "target_yd": 200.0},
    {"club": 0, "swing": "full", "carry_yd": 150.5, "right_yd": 0.0},
]
SHORT: Final[list[dict[str, Any]]] = [
    {"club": 1, "target_yd": 20.0, "lie": "sand", "holed": True},
    {"club": 1, "target_yd": 20.0, "lie": "sand", "left_ft": 8.0},
    {"club": 0, "target_yd": 30.0, "left_ft": 6.5},
    {"club": 0, "target_yd": 30.0},
]


def _figure(values: list[float | None]) -> dict[str, Any] | None:
    known = [value for value in values if value is not None]
    if not known:
        return None
    spread = statistics.stdev(known) if len(known) > 1 else None
    return {"count": len(known), "mean": statistics.fmean(known), "spread": spread}


def _finished(ball: dict[str, Any]) -> float | None:
    if ball.get("total_yd") is not None:
        return float(ball["total_yd"])
    if ball.get("target_yd") is None or ball.get("long_yd") is None:
        return None
    return float(ball["target_yd"] + ball["long_yd"])


def _bands(putts: list[dict[str, Any]]) -> list[dict[str, Any]]:
    rows = []
    for over, to in pairwise(BANDS_FT):
        some = [putt for putt in putts if over < putt["length_ft"] <= to]
        if some:
            left = _figure([putt.get("left_ft") for putt in some])
            holed = sum(putt["holed"] for putt in some)
            rows.append({"over": over, "to": to, "putts": len(some), "holed": holed, "left_ft": left})
    return rows


def _clubs(balls: list[dict[str, Any]]) -> list[dict[str, Any]]:
    keys = list(dict.fromkeys((ball["club_id"], ball.get("swing", "full")) for ball in balls))
    rows = []
    for club, swing in keys:
        some = [ball for ball in balls if (ball["club_id"], ball.get("swing", "full")) == (club, swing)]
        rows.append(
            {
                "club_id": club,
                "swing": swing,
                "balls": len(some),
                "carry": _figure([ball.get("carry_yd") for ball in some]),
                "finished": _figure([_finished(ball) for ball in some]),
                "right": _figure([ball.get("right_yd") for ball in some]),
            }
        )
    return rows


def _short(balls: list[dict[str, Any]]) -> list[dict[str, Any]]:
    rows = []
    for club in dict.fromkeys(ball["club_id"] for ball in balls):
        some = [ball for ball in balls if ball["club_id"] == club]
        left = _figure([0.0 if ball.get("holed") else ball.get("left_ft") for ball in some])
        holed = sum(bool(ball.get("holed")) for ball in some)
        rows.append({"club_id": club, "balls": len(some), "holed": holed, "left_ft": left})
    return rows


def _named(balls: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{"club_id": CLUBS[ball.get("club", 0)]} | {k: v for k, v in ball.items() if k != "club"} for ball in balls]


def cases() -> dict[str, Any]:
    """Everything that the file holds."""
    putts, swings, short = _named(PUTTS), _named(SWINGS), _named(SHORT)
    return {
        "balls": [{"ball": BASE | more, "faults": faults} for more, faults in FAULTY],
        "totals": [
            {"of": "puttBands", "balls": putts, "rows": _bands(putts)},
            {"of": "clubRows", "balls": swings, "rows": _clubs(swings)},
            {"of": "shortRows", "balls": short, "rows": _short(short)},
            {"of": "clubRows", "balls": [], "rows": []},
        ],
    }


if __name__ == "__main__":
    FILE.write_text(json.dumps(cases(), indent=1) + "\n", encoding="utf-8")
