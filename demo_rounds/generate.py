"""Write the invented season: `python -m demo_rounds.generate [--seed N] [--to DIR]`.

The same seed gives the same bytes. The shipped season's seed is its year; no seed was searched for, no shot was edited.
"""

from __future__ import annotations

import argparse
import csv
import tomllib
import zlib
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from typing import Any, Final

import numpy as np

from demo_rounds.course import Course, Hole, load_course
from demo_rounds.play import Player, Row, play_ball, with_end
from demo_rounds.practice import extra_balls, holes_for_drops
from demo_rounds.skills import Truth, load_truth
from demo_rounds.strategy import PUTTER, Bag, Spot

FOLDER: Final = Path(__file__).parent
CALENDAR: Final = FOLDER / "calendar.toml"
USUAL_SEED: Final = 2026
COLUMNS: Final = (
    "player",
    "played_on",
    "kind",
    "course",
    "tees",
    "ball_label",
    "hole",
    "par",
    "length_yd",
    "ball",
    "shot",
    "lie",
    "distance",
    "unit",
    "club",
    "holed",
    "penalty_strokes",
    "penalty_reason",
    "end_lie",
    "end_distance",
    "end_unit",
    "swing",
    "planned_shape",
    "planned_height",
    "actual_shape",
    "target_yd",
    "right_yd",
    "long_yd",
    "strike",
    "note",
)


HEIGHT_LOGGED: Final = 0.45
"""Share of full swings for which the player also says how high the ball was meant to fly. Invented."""
HEIGHTS: Final = (("low", 0.2), ("normal", 0.6), ("high", 0.2))
"""How often each height is meant. Invented; no height changes what the ball does."""
HEIGHT_STREAM: Final = 1
"""Heights have a source of chance of their own, so that they change no shot."""


def season(truths: Iterable[Truth], course: Course, calendar: dict[str, Any], seed: int = USUAL_SEED) -> list[Row]:
    """All rows of a season, player by player, in the order of play; `calendar` as in `calendar.toml`.

    Every round has a source of chance of its own (seed, player, number): a player or a round more changes no other.
    """
    return [
        {"player": truth.player, "course": course.name, **row}
        for truth in truths
        for number, entry in enumerate(calendar["rounds"])
        for row in _told(
            _play_round(truth, course, calendar["picked_up"], entry, [seed, number]),
            _turn(calendar.get("balls", []), number),
            np.random.RandomState([seed, zlib.crc32(truth.player.encode()), number, HEIGHT_STREAM]),
        )
    ]


def _turn(balls: list[str], number: int) -> str:
    """The ball of the round of this number: they take turns, so that both meet the same months and courses."""
    return balls[number % len(balls)] if balls else ""


def _told(rows: Iterable[Row], ball_label: str, rng: np.random.RandomState) -> Iterator[Row]:
    """The rows of a round with its ball, and with the heights that the player says of some full swings."""
    names, bounds = [name for name, _ in HEIGHTS], np.cumsum([share for _, share in HEIGHTS])
    for row in rows:
        told: Row = {"ball_label": ball_label}
        if row.get("swing") == "full" and rng.random_sample() < HEIGHT_LOGGED:
            place = int(np.searchsorted(bounds, rng.random_sample()))
            told["planned_height"] = names[min(place, len(names) - 1)]
        yield row | told


def _play_round(
    truth: Truth, course: Course, picked_up: list[dict[str, Any]], entry: list[str], source: list[int]
) -> Iterator[Row]:
    """The rows of one round, without player and course; `entry` as in the calendar, `source` its seed and number."""
    day, kind, tees, irons = entry
    rng = np.random.RandomState([source[0], zlib.crc32(truth.player.encode()), source[1]])
    left_out = {label for label in truth.trial if irons != "both" and not label.endswith(irons)}
    bag = Bag([label for label in truth.clubs if label not in left_out] + [PUTTER], truth.trial, source[1])
    player = Player(truth, course, bag, date.fromisoformat(day), rng)
    drops = holes_for_drops(player) if kind == "practice" else set()
    pick_ups = {entry["hole"]: entry for entry in picked_up if entry["day"] == player.day}
    for hole in course.holes:
        record = _record_ball(player, hole, tees, pick_ups.get(hole.number))
        extras = extra_balls(player, hole, record, hole.number in drops) if kind == "practice" else []
        for ball, rows in enumerate([record, *extras], start=1):
            for shot, row in enumerate(rows, start=1):
                length = hole.length(tees)
                facts = {"played_on": day, "kind": kind, "tees": tees, "hole": hole.number, "par": hole.par}
                yield {**facts, "length_yd": length, "ball": ball, "shot": shot, **row}


def _record_ball(player: Player, hole: Hole, tees: str, pick_up: dict[str, Any] | None) -> list[Row]:
    """The ball of record, played out or picked up."""
    tee = Spot(*hole.tee(tees), "tee", hole.length(tees))
    last = pick_up["after_shot"] if pick_up else 0
    rows, end = play_ball(player, hole, tee, lambda made, _: made == last)
    if pick_up is None:
        return rows
    if end is None:
        raise ValueError(f"calendar: hole {hole.number} on {player.day} was holed before it could be picked up")
    if pick_up["end_entered"]:
        with_end(rows, end)
    rows[-1] |= {"holed": "no", "note": "picked up, let the group behind through"}
    return rows


def write(rows: list[Row], path: Path) -> None:
    """Write rows as CSV, UTF-8, with the import columns in their order."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, restval="", extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def main(arguments: list[str] | None = None) -> None:
    """Write the season's CSV into a folder."""
    parser = argparse.ArgumentParser(
        prog="python -m demo_rounds.generate", description="Write the invented season again."
    )
    parser.add_argument("--seed", type=int, default=USUAL_SEED, help=f"source of chance (usual: {USUAL_SEED})")
    parser.add_argument("--to", type=Path, default=FOLDER, metavar="DIR", help="folder to write to")
    options = parser.parse_args(arguments)
    calendar = tomllib.loads(CALENDAR.read_text(encoding="utf-8"))
    options.to.mkdir(parents=True, exist_ok=True)
    path = options.to / f"season_{calendar['year']}.csv"
    rows = season([load_truth()], load_course(), calendar, options.seed)
    write(rows, path)
    print(f"{len(rows)} shots written to {path}")


if __name__ == "__main__":
    main()
