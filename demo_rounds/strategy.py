"""What the player decides before a shot: club, swing, target and aim. Simple: the club whose distance fits best."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from demo_rounds.course import Hole, Point
from demo_rounds.skills import Swing, Truth

PUTTER: Final = "putter"
SAND_CLUB: Final = "58 wedge"
CHIP_CLUB: Final = "54 wedge"
CHIP_BELOW_YD: Final = 25.0
PUTT_FROM_FRINGE_YD: Final = 10.0
LAY_UP_LEAVES_YD: Final = 95.0
POND_CARRY_YD: Final = 225.0
"""With a pond before the green the player lays up from farther than this."""
PUNCH_YD: Final = 110.0
PUNCH_CLUB: Final = "6 iron"
AWAY_FROM_TROUBLE_YD: Final = 5.0


@dataclass(frozen=True)
class Plan:
    """A shot as planned: club, "full", "part" or "putt", target in yards, and the place aimed at."""

    club: str
    swing: str
    target_yd: float
    aim: Point
    truth: Swing | None


@dataclass(frozen=True)
class Spot:
    """Where a ball lies, and the distance as logged: whole feet on the green, whole yards elsewhere."""

    x: float
    y: float
    lie: str
    distance: int

    @property
    def unit(self) -> str:
        """The unit of the logged distance."""
        return "ft" if self.lie == "green" else "yd"

    @property
    def yards(self) -> float:
        """The logged distance in yards."""
        return self.distance / 3 if self.lie == "green" else float(self.distance)


@dataclass
class Bag:
    """The clubs of a round; the pair on trial takes turns when both are carried."""

    labels: Sequence[str]
    trial: tuple[str, str]
    turn: int = 0

    def both(self) -> bool:
        """True when both irons on trial are carried."""
        return all(label in self.labels for label in self.trial)

    def take_turns(self, label: str) -> str:
        """The club itself, or the one of the pair whose turn it is."""
        if label not in self.trial or not self.both():
            return label
        self.turn += 1
        return self.trial[self.turn % 2]

    def long_iron(self) -> str:
        """An iron of the pair on trial."""
        return self.take_turns(next(label for label in self.trial if label in self.labels))


def plan_shot(truth: Truth, bag: Bag, hole: Hole, spot: Spot, day: date) -> Plan:
    """Decide on the next shot."""
    pin = (0.0, float(hole.back))
    if spot.lie == "green" or (spot.lie == "fringe" and spot.yards <= PUTT_FROM_FRINGE_YD):
        return Plan(PUTTER, "putt", spot.yards, pin, None)
    if spot.lie == "tee" and hole.par > 3:
        label = "driver" if hole.tee_club == "driver" else bag.long_iron()
        return full_shot(truth, hole, spot, label, day)
    if spot.lie == "recovery" and spot.yards > truth.short_game_below_yd:
        return _punch(truth, hole, spot, day)
    if spot.yards < truth.short_game_below_yd:
        club = CHIP_CLUB if spot.lie != "sand" and spot.yards < CHIP_BELOW_YD else SAND_CLUB
        swing = truth.part_swing(club, spot.lie, spot.yards, day)
        return Plan(club, "part", spot.yards, pin, swing)
    return _approach(truth, bag, hole, spot, day)


def full_shot(truth: Truth, hole: Hole, spot: Spot, label: str, day: date) -> Plan:
    """A full swing with a given club: at the middle of the fairway, or at the green when it is in reach."""
    target, swing = truth.full_swing(label, spot.lie, day)
    return Plan(label, "full", target, _aim(hole, spot, target), swing)


def _approach(truth: Truth, bag: Bag, hole: Hole, spot: Spot, day: date) -> Plan:
    clubs = [truth.club(label, day) for label in bag.labels if label not in (PUTTER, "driver")]
    lie = truth.lies[spot.lie]
    usable = [club for club in clubs if club.distance_yd <= lie.longest_yd]
    reach = max(club.distance_yd for club in usable) * lie.distance
    pond = any(water.relief == "line" for water in hole.water)
    wanted = spot.yards
    if wanted > reach + truth.tolerance_yd or (pond and wanted > POND_CARRY_YD):
        wanted = min(reach, max(wanted - LAY_UP_LEAVES_YD, truth.short_game_below_yd))
    best = min(usable, key=lambda club: abs(club.distance_yd * lie.distance - wanted))
    if abs(best.distance_yd * lie.distance - wanted) <= truth.tolerance_yd:
        return full_shot(truth, hole, spot, bag.take_turns(best.label), day)
    longer = [club for club in usable if club.distance_yd * lie.distance > wanted] or [best]
    label = bag.take_turns(min(longer, key=lambda club: club.distance_yd).label)
    swing = truth.part_swing(label, spot.lie, wanted, day)
    return Plan(label, "part", wanted, _aim(hole, spot, wanted), swing)


def _punch(truth: Truth, hole: Hole, spot: Spot, day: date) -> Plan:
    """Out of the trees, low, back to the middle of the fairway."""
    target = min(PUNCH_YD, max(30.0, spot.yards - 45.0))
    swing = truth.part_swing(PUNCH_CLUB, spot.lie, target, day)
    y = min(spot.y + 0.85 * target, hole.back - 30.0)
    return Plan(PUNCH_CLUB, "part", target, (hole.middle_line(y), y), swing)


def _aim(hole: Hole, spot: Spot, target_yd: float) -> Point:
    """Between pin and middle of the green when it is in reach, otherwise the fairway, away from what costs strokes."""
    if spot.yards - target_yd < 25:
        return (0.5 * hole.green[0], hole.back + 0.5 * hole.green[1])
    y = spot.y + math.sqrt(max(target_yd**2 - spot.x**2, 1.0))
    right, left = hole.out_of_bounds.get("right", math.inf), hole.out_of_bounds.get("left", math.inf)
    for water in hole.water:
        near, far = water.area[2:]
        if water.relief == "lateral" and near - 30 < y < far + 30:
            right, left = (min(right, 40.0), left) if water.area[0] > 0 else (right, min(left, 40.0))
    shift = AWAY_FROM_TROUBLE_YD * ((left < 60) - (right < 60))
    return (hole.middle_line(y) + shift, y)
