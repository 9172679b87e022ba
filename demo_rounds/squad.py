"""Write the rounds of the invented squad: `python -m demo_rounds.squad [--seed N] [--to DIR]`.

Five players beside the one of `truth.toml`, played by the same generator over part of the same calendar. What is true
of them stands in `squad.toml`. The same seed gives the same bytes; no shot was edited.
"""

from __future__ import annotations

import argparse
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, NamedTuple

from demo_rounds.course import Course, load_course
from demo_rounds.generate import CALENDAR, FOLDER, season, write
from demo_rounds.play import Row
from demo_rounds.skills import Swing, Truth, load_truth

SQUAD: Final = FOLDER / "squad.toml"
SHOTS: Final = "squad_2026.csv"


class Entry(NamedTuple):
    """One player of `squad.toml`: who it is, the factors on the true skills, and which rounds of the calendar."""

    player: str
    plays: str
    units: str
    distance: float
    spread: float
    putting: float
    first: int
    step: int
    rounds: int


def load_squad(path: Path = SQUAD) -> tuple[int, list[Entry]]:
    """The seed and the players. TypeError names what an entry lacks."""
    facts = tomllib.loads(path.read_text(encoding="utf-8"))
    return facts["seed"], [Entry(**entry) for entry in facts["player"]]


def truth_of(entry: Entry, base: Truth) -> Truth:
    """The true skills of a player: those of `base` with the entry's factors."""
    hand = 1 if entry.plays == "right" else -1

    def wider(swing: Swing) -> Swing:
        return replace(swing.wider(entry.spread), mishit_share=swing.mishit_share * entry.spread, hand=hand)

    clubs = {
        label: replace(club, distance_yd=club.distance_yd * entry.distance, swing=wider(club.swing))
        for label, club in base.clubs.items()
    }
    putting = replace(
        base.putting,
        angle_sd_rad=base.putting.angle_sd_rad * entry.putting,
        distance_sd=base.putting.distance_sd * entry.putting,
    )
    return replace(
        base, player=entry.player, clubs=clubs, changes=(), short_game=wider(base.short_game), putting=putting
    )


def squad_season(entries: list[Entry], base: Truth, course: Course, calendar: dict[str, Any], seed: int) -> list[Row]:
    """All rows, player by player. Everybody carries the first iron of the pair on trial, and picks up nothing."""
    iron = base.trial[0].split()[-1]
    rows: list[Row] = []
    for entry in entries:
        chosen = calendar["rounds"][entry.first :: entry.step][: entry.rounds]
        own = {"rounds": [[day, kind, tees, iron] for day, kind, tees, _ in chosen], "picked_up": []}
        rows += season([truth_of(entry, base)], course, own, seed)
    return rows


def main(arguments: list[str] | None = None) -> None:
    """Write the squad's CSV into a folder."""
    usual, entries = load_squad()
    parser = argparse.ArgumentParser(prog="python -m demo_rounds.squad", description="Write the squad's rounds again.")
    parser.add_argument("--seed", type=int, default=usual, help=f"source of chance (usual: {usual})")
    parser.add_argument("--to", type=Path, default=FOLDER, metavar="DIR", help="folder to write to")
    options = parser.parse_args(arguments)
    calendar = tomllib.loads(CALENDAR.read_text(encoding="utf-8"))
    options.to.mkdir(parents=True, exist_ok=True)
    rows = squad_season(entries, load_truth(), load_course(), calendar, options.seed)
    write(rows, options.to / SHOTS)
    print(f"{len(rows)} shots written to {options.to / SHOTS}")


if __name__ == "__main__":
    main()
