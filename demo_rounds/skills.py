"""The true skills of an invented player, read from `truth.toml`, and what follows from them in closed form."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from statistics import NormalDist
from typing import Any, Final, NamedTuple

TRUTH: Final = Path(__file__).with_name("truth.toml")
DRAW, STRAIGHT, FADE = "draw", "straight", "fade"
CURVE_SIGN: Final = {DRAW: -1, STRAIGHT: 0, FADE: 1}
"""Side to which a shape curves for a right-handed player (right is +)."""

_NORMAL: Final = NormalDist()


class Moments(NamedTuple):
    """Means and standard deviations of a swing's finish against its target, in yards (long and right are +)."""

    long_mean: float
    long_sd: float
    right_mean: float
    right_sd: float


@dataclass(frozen=True)
class Swing:
    """The truth of one kind of swing. Formulas stand at the top of `truth.toml`.

    `depth` and `side` are spreads as a share of the target, with the least spreads in yards beside them;
    `mishit_short` the bounds of the share of the target that a mishit loses; `curve_yd` the planned shape's curve.
    """

    depth: float
    side: float
    mishit_share: float
    mishit_short: tuple[float, float]
    mishit_side_factor: float
    shape: str = STRAIGHT
    curve_yd: float = 0.0
    shape_share: float = 1.0
    straight_when_fails: float = 0.0
    hand: int = 1
    bias: float = 0.0
    depth_least_yd: float = 0.0
    side_least_yd: float = 0.0

    def depth_sd(self, target_yd: float) -> float:
        """Spread in length of clean hits, yards."""
        return self.depth_least_yd + self.depth * target_yd

    def side_sd(self, target_yd: float) -> float:
        """Spread sideways of clean hits that take the planned shape, yards."""
        return self.side_least_yd + self.side * target_yd

    def wider(self, factor: float) -> Swing:
        """The same swing with all normal spreads `factor` times as wide (a poor lie)."""
        return replace(
            self,
            depth=self.depth * factor,
            side=self.side * factor,
            depth_least_yd=self.depth_least_yd * factor,
            side_least_yd=self.side_least_yd * factor,
        )

    def shape_chances(self) -> dict[str, float]:
        """Chance of each actual shape."""
        missed = 1 - self.shape_share
        if self.shape == STRAIGHT:
            return {DRAW: missed / 2, STRAIGHT: self.shape_share, FADE: missed / 2}
        other = FADE if self.shape == DRAW else DRAW
        straight = missed * self.straight_when_fails
        return {self.shape: self.shape_share, STRAIGHT: straight, other: missed - straight}

    def shape_offset(self, actual: str) -> float:
        """Yards right of the target by which a ball of this actual shape finishes on average."""
        return self.hand * self.curve_yd * (CURVE_SIGN[actual] - CURVE_SIGN[self.shape])

    def moments(self, target_yd: float) -> Moments:
        """Mean and standard deviation of the finish of all balls, mishits and wrong shapes included."""
        low, high = (target_yd * bound for bound in self.mishit_short)
        loss, share = (low + high) / 2, self.mishit_share
        loss_square = loss**2 + (high - low) ** 2 / 12
        long_variance = self.depth_sd(target_yd) ** 2 + share * loss_square - (share * loss) ** 2
        chances = self.shape_chances()
        right_mean = sum(chance * self.shape_offset(shape) for shape, chance in chances.items())
        offset_square = sum(chance * self.shape_offset(shape) ** 2 for shape, chance in chances.items())
        widened = 1 - share + share * self.mishit_side_factor**2
        right_variance = self.side_sd(target_yd) ** 2 * widened + offset_square - right_mean**2
        return Moments(
            self.bias * target_yd - share * loss, math.sqrt(long_variance), right_mean, math.sqrt(right_variance)
        )

    def median_distance(self, target_yd: float) -> float:
        """Median distance along the line of all balls, mishits included: a little short of the target. Bisection."""
        sd, share = self.depth_sd(target_yd), self.mishit_share
        low, high = (target_yd * bound for bound in self.mishit_short)

        def area(z: float) -> float:
            return z * _NORMAL.cdf(z) + _NORMAL.pdf(z)

        below, above = -target_yd / 2, target_yd / 2
        for _ in range(60):
            x = (below + above) / 2
            mishit = sd / (high - low) * (area((x + high) / sd) - area((x + low) / sd))
            cdf = (1 - share) * _NORMAL.cdf(x / sd) + share * mishit
            below, above = (x, above) if cdf < 0.5 else (below, x)
        return target_yd * (1 + self.bias) + (below + above) / 2


@dataclass(frozen=True)
class Club:
    """A club: its full-swing distance from a good lie (the median of clean hits) and the truth of its swing."""

    label: str
    distance_yd: float
    swing: Swing


@dataclass(frozen=True)
class Putting:
    """Gelman-Nolan angle and distance model. Angles in radians, lengths in feet."""

    angle_sd_rad: float
    distance_sd: float
    overshot_ft: float
    tolerance_ft: float


@dataclass(frozen=True)
class Lie:
    """What a lie does to a swing: share of the distance left, spread factor, longest club used from it."""

    distance: float
    spread: float
    longest_yd: float = math.inf


@dataclass(frozen=True)
class Truth:
    """All true skills of one player."""

    player: str
    clubs: dict[str, Club]
    changes: tuple[dict[str, Any], ...]
    lies: dict[str, Lie]
    part: dict[str, float]
    short_game: Swing
    short_game_below_yd: float
    short_game_spread: dict[str, float]
    putting: Putting
    trial: tuple[str, str]
    tolerance_yd: float

    def club(self, label: str, day: date) -> Club:
        """The club as it was set up on that day."""
        club = self.clubs[label]
        for change in self.changes:
            if change["club"] == label and change["since"] <= day:
                side = math.tan(math.radians(change["side_deg"]))
                swing = replace(club.swing, side=side, mishit_share=change["mishit_share"])
                club = replace(club, swing=swing)
        return club

    def full_swing(self, label: str, lie: str, day: date) -> tuple[float, Swing]:
        """Target in yards and truth of a full swing with a club from a lie."""
        club = self.club(label, day)
        return club.distance_yd * self.lies[lie].distance, club.swing.wider(self.lies[lie].spread)

    def part_swing(self, label: str, lie: str, target_yd: float, day: date) -> Swing:
        """Truth of a swing with something taken off, or of a pitch, chip or bunker shot when the target is short."""
        if target_yd < self.short_game_below_yd:
            return self.short_game.wider(self.short_game_spread[lie])
        swing = self.club(label, day).swing.wider(self.lies[lie].spread * self.part["spread"])
        return replace(swing, bias=self.part["long_bias_pct"] / 100, curve_yd=swing.curve_yd * self.part["curve"])


def load_truth(path: Path = TRUTH) -> Truth:
    """Read a player's true skills. KeyError names what the file lacks."""
    facts = tomllib.loads(path.read_text(encoding="utf-8"))
    hand = 1 if facts["plays"] == "right" else -1
    short = facts["short_game"]
    clubs = {
        club["label"]: Club(
            club["label"],
            club["distance_yd"],
            Swing(
                **_common(club, facts),
                shape=club["shape"],
                curve_yd=club["curve_yd"],
                shape_share=club["shape_share"],
                straight_when_fails=facts["straight_when_shape_fails"],
                hand=hand,
            ),
        )
        for club in facts["club"]
    }
    least = {name: short[name] for name in ("depth_least_yd", "side_least_yd")}
    return Truth(
        player=facts["player"],
        clubs=clubs,
        changes=tuple(facts["setup_change"]),
        lies={name: Lie(**lie) for name, lie in facts["lie"].items()},
        part=facts["part_swing"],
        short_game=Swing(**_common(short, facts), **least),
        short_game_below_yd=short["below_yd"],
        short_game_spread=short["lie_spread"],
        putting=Putting(**facts["putting"]),
        trial=(facts["trial"]["better"], facts["trial"]["rival"]),
        tolerance_yd=facts["full_swing_tolerance_yd"],
    )


def _common(entry: dict[str, Any], facts: dict[str, Any]) -> dict[str, Any]:
    low, high = entry["mishit_short_pct"]
    return {
        "depth": entry["depth_pct"] / 100,
        "side": math.tan(math.radians(entry["side_deg"])),
        "mishit_share": entry["mishit_share"],
        "mishit_short": (low / 100, high / 100),
        "mishit_side_factor": facts["mishit_side_factor"],
    }
