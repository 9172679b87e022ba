"""Extra balls of a practice round: the ways in which a player hits a second ball. They never count for the score."""

from __future__ import annotations

import math
from typing import Final

from demo_rounds.course import Hole
from demo_rounds.play import Player, Row, play_ball, with_end
from demo_rounds.strategy import PUTTER, Spot, full_shot

OTHER_IRON_SHARE: Final = 0.8
DRIVE_AGAIN_SHARE: Final = 0.5
CHIP_AGAIN_SHARE: Final = 0.25
CHIP_BELOW_YD: Final = 40
DROP_HOLES: Final = 2
DROP_FROM_YD: Final = (196, 212)
DROP_LEAST_HOLE_YD: Final = 380
"""How often, and from where; invented."""


def extra_balls(player: Player, hole: Hole, record: list[Row], drop_here: bool) -> list[list[Row]]:
    """The extra balls of a hole, after the ball of record's rows."""
    balls = [ball for row in record for ball in _again(player, hole, row)]
    if drop_here:
        balls += _dropped(player, hole)
    return balls


def holes_for_drops(player: Player) -> set[int]:
    """The holes of a round on which two balls are dropped at long-iron distance, one for each iron on trial."""
    numbers = [hole.number for hole in player.course.holes if hole.back >= DROP_LEAST_HOLE_YD]
    return {int(number) for number in player.rng.choice(numbers, DROP_HOLES, replace=False)}


def _again(player: Player, hole: Hole, row: Row) -> list[list[Row]]:
    """The same shot again: with the other iron on trial, a failed drive, or a chip with its putt."""
    spot, club = row["spot"], row["club"]
    if club in player.bag.trial and row.get("swing") == "full" and player.bag.both():
        if player.chance(OTHER_IRON_SHARE):
            other = next(label for label in player.bag.trial if label != club)
            return [_one_shot(player, hole, spot, other, "same spot, the other iron")]
    elif club == "driver" and "penalty_reason" in row:
        if player.chance(DRIVE_AGAIN_SHARE):
            return [_one_shot(player, hole, spot, club, "drive again")]
    elif club != PUTTER and spot.lie != "green" and spot.yards < CHIP_BELOW_YD and player.chance(CHIP_AGAIN_SHARE):
        rows, end = play_ball(player, hole, spot, lambda made, _: made == 2)
        rows[0]["note"] = "same spot, up and down again"
        return [with_end(rows, end)]
    return []


def _dropped(player: Player, hole: Hole) -> list[list[Row]]:
    """Two balls from one spot on the fairway, one with each iron on trial."""
    yards = int(player.rng.randint(DROP_FROM_YD[0], DROP_FROM_YD[1] + 1))
    y = hole.back - yards
    x = hole.middle_line(y)
    share = yards / math.hypot(x, yards)
    spot = Spot(x * share, hole.back - yards * share, "fairway", yards)
    first = player.bag.long_iron()
    second = next(label for label in player.bag.trial if label != first)
    return [_one_shot(player, hole, spot, label, "dropped on the fairway") for label in (first, second)]


def _one_shot(player: Player, hole: Hole, spot: Spot, label: str, note: str) -> list[Row]:
    plan = full_shot(player.truth, hole, spot, label, player.day)
    rows, end = play_ball(player, hole, spot, lambda made, _: made == 1, first=plan)
    rows[0]["note"] = note
    return with_end(rows, end)
