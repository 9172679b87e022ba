"""The swings that bags are compared with: every club from every lie, and the same clubs changed as a what-if has it.

Irons and wedges are also played shorter from the fairway, in two steps: whoever leaves a club at home plays the next
one down. A choice of this tool; the patterns are taken in proportion.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.ahead import STEEP_DEG
from server.analysis.plan.flight import BY_SORT
from server.analysis.plan.hole_grid import LIES
from server.analysis.plan.landings import Landings
from server.analysis.plan.options import PUNCHED, Bag
from server.analysis.plan.tee_plan import Option
from server.game.lies import FAIRWAY, TEE
from server.game.ranges import FARTHEST_YD

SHORTER: Final = (0.93, 0.86)
"""The steps down, shares of the full length."""
DEPTHS, SIDES = 16, 16
"""Groups of a pattern's landings, each represented by one ball."""
GOLDEN: Final = 0.618034
"""Multiples of it, modulo 1, fill the unit interval evenly."""
TIGHTER: Final = 0.9
LIKE_THE_TEE: Final = 2
"""With at most so many clubs besides drivers, drivers are played from every lie too."""
EVER: Final = -1
"""The number of what is in no bag and always there: a punch."""


@dataclass(frozen=True, eq=False)
class Sample:
    """Balls that represent the landings of a pattern. The landings are put in groups of like share by how far they
    go, and each of these in groups from left to right; one of each represents its group, farther left or right in
    it from one depth to the next, so that all together are spread over the sides in fine steps. Chance is left less
    than by picking one landing in so many: an option is not the best because of the balls picked.

    `order` (n,): landings group by group; `first` (b,): where each begins; `ball` (b,): the landing that
    represents it."""

    order: npt.NDArray[np.intp]
    first: npt.NDArray[np.intp]
    ball: npt.NDArray[np.intp]

    @staticmethod
    def of(landings: Landings) -> Sample:
        """The balls of a pattern, `DEPTHS` times `SIDES` or fewer."""
        depth = _groups(landings.along, landings.share, DEPTHS)
        side = np.zeros(depth.size, dtype=np.intp)
        for group in range(DEPTHS):
            here = np.flatnonzero(depth == group)
            if here.size:
                side[here] = _groups(landings.right[here], landings.share[here], SIDES)
        cell = depth * SIDES + side
        order = np.lexsort((landings.right, cell))
        first = np.flatnonzero(np.r_[True, np.diff(cell[order]) > 0])
        size = np.diff(np.r_[first, order.size])
        within = (cell[order[first]] // SIDES * GOLDEN) % 1.0
        return Sample(order, first, order[first + (size * within).astype(np.intp)])

    def shares(self, every: npt.NDArray[np.floating]) -> Floats:
        """Shares of the balls out of those of the landings (..., n): (..., b), summing to 1."""
        found = np.add.reduceat(every[..., self.order], self.first, axis=-1, dtype=np.float64)
        return np.asarray(found / found.sum(axis=-1, keepdims=True))


def _groups(values: Floats, share: Floats, count: int) -> npt.NDArray[np.intp]:
    """Which of `count` groups of like share each value is in, from the least to the greatest."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(share[order])
    found = np.empty(values.size, dtype=np.intp)
    found[order] = np.clip((reached - share[order] / 2) / reached[-1] * count, 0, count - 1).astype(np.intp)
    return found


@dataclass(frozen=True, eq=False)
class Played:
    """A swing of a club. `club`: its number, `EVER` for none; `of`: the swing that this one is, made longer, shorter
    or tighter: its balls are the same ones, moved."""

    club: int
    option: Option
    of: Played | None = None

    @cached_property
    def sample(self) -> Sample:
        """The balls that are played."""
        return Sample.of(self.option.landings) if self.of is None else self.of.sample

    @cached_property
    def shares(self) -> Floats:
        """Their shares (b,)."""
        return self.sample.shares(self.option.landings.share)

    def drawn(self, draws: int) -> Floats:
        """Their shares under so many drawn patterns, each row summing to 1: (draws, b)."""
        if self.of is not None:
            return self.of.drawn(draws)
        if draws not in self._drawn:
            landings = self.option.landings
            every = landings.repeated(draws) if isinstance(landings, Between) else _repeated(landings.drawn, draws)
            self._drawn[draws] = self.sample.shares(every)
        return self._drawn[draws]

    @cached_property
    def _drawn(self) -> dict[int, Floats]:
        return {}


@dataclass(frozen=True, eq=False)
class Between(Landings):
    """Landings of an invented club: half of each neighbour's. `parts`: the two."""

    parts: tuple[Landings, Landings] | None = None

    def repeated(self, draws: int) -> Floats:
        """As `Landings.drawn`, each draw half of either neighbour's."""
        assert self.parts is not None
        return np.concatenate([_repeated(part.drawn, draws) / 2 for part in self.parts], axis=1)


def _repeated(shares: npt.NDArray[np.floating], draws: int) -> Floats:
    return np.asarray(shares[np.arange(draws) % len(shares)], dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Swings:
    """Every swing by lie, the tee's apart. `clubs`: names in the order of their numbers; a what-if's clubs follow
    them. Swings off the tee that a what-if changed point at the one they come from, `source`: lie -> place of each
    changed swing in the list of its lie."""

    clubs: tuple[str, ...]
    tee: list[Played]
    lies: dict[str, list[Played]]
    source: dict[str, list[int]]
    """Of every swing of a lie, the place in the list of the one whose directions it is played in."""

    def options(self) -> dict[str, list[Option]]:
        """What a hole is solved with: the swings of the player's own clubs."""
        return {
            lie: [one.option for place, one in enumerate(played) if self.source[lie][place] == place]
            for lie, played in self.lies.items()
        }


def swings_of(bag: Bag, clubs: Sequence[str]) -> Swings:
    """The swings of these clubs. A club without shots enough has none."""
    number = {name: place for place, name in enumerate(clubs)}
    tee = _numbered(bag.options(TEE, FARTHEST_YD, clubs)[0], number)
    lies = {lie: _numbered(bag.options(lie, FARTHEST_YD, clubs)[0], number) for lie in LIES}
    return from_lists(clubs, tee, lies)


def from_lists(clubs: Sequence[str], tee: list[Played], lies: Mapping[str, list[Played]]) -> Swings:
    """Swings out of what is played from tee and lies: drivers left on the tee, shorter swings added."""
    others = {one.club for one in lies[FAIRWAY] if one.option.flight != BY_SORT["driver"]} - {EVER}
    found: dict[str, list[Played]] = {}
    for lie in LIES:
        kept = [one for one in lies[lie] if one.option.flight != BY_SORT["driver"]]
        found[lie] = list(lies[lie]) if len(others) <= LIKE_THE_TEE else kept
    steep = [one for one in found[FAIRWAY] if one.option.flight.descent_deg >= STEEP_DEG]
    found[FAIRWAY] += [Played(one.club, scaled(one.option, share), one) for share in SHORTER for one in steep]
    return Swings(tuple(clubs), tee, found, {lie: list(range(len(played))) for lie, played in found.items()})


def _numbered(options: Sequence[Option], number: Mapping[str, int]) -> list[Played]:
    return [Played(EVER if one.about["club"] == PUNCHED else number[one.about["club"]], one) for one in options]


def scaled(option: Option, share: float) -> Option:
    """The same club as far as `share` of its length, its pattern in proportion."""
    landings = replace(option.landings, right=option.landings.right * share, along=option.landings.along * share)
    return replace(option, landings=landings, reach_yd=option.reach_yd * share)


def longer(option: Option, yards: float) -> Option:
    """The same club so many yards longer, its pattern as wide in degrees."""
    return scaled(option, (option.reach_yd + yards) / option.reach_yd)


def tighter(option: Option, share: float = TIGHTER) -> Option:
    """The same club with every ball `share` as far from the middle of its pattern as it was."""
    of = option.landings
    right, along = float(of.right @ of.share), float(of.along @ of.share)
    moved = replace(of, right=right + share * (of.right - right), along=along + share * (of.along - along))
    return replace(option, landings=moved)


def between(first: Option, second: Option, name: str) -> Option:
    """An invented club halfway between two: half of either pattern, both brought to the length halfway."""
    reach = (first.reach_yd + second.reach_yd) / 2
    one, other = (scaled(option, reach / option.reach_yd).landings for option in (first, second))
    landings = Between(
        np.r_[one.right, other.right],
        np.r_[one.along, other.along],
        np.r_[one.share, other.share] / 2,
        parts=(one, other),
    )
    about = first.about | {"club": name, "shots": 0, "notes": ["invented by this tool"]}
    flight = max((first.flight, second.flight), key=lambda flight: flight.descent_deg)
    return Option(name, landings, reach, about, flight)


class Changes:
    """Swings with what-ifs' clubs behind the player's own."""

    def __init__(self, swings: Swings) -> None:
        self.names = list(swings.clubs)
        self.tee = list(swings.tee)
        self.lies = {lie: list(played) for lie, played in swings.lies.items()}
        self.source = {lie: list(places) for lie, places in swings.source.items()}
        self.own = swings

    def changed(self, club: int, name: str, how: Callable[[Option], Option]) -> int:
        """A club changed by `how`, a function of an option; its number."""
        number = self._numbered(name)
        self.tee += [Played(number, how(one.option), one) for one in self.own.tee if one.club == club]
        for lie, played in self.own.lies.items():
            for place, one in enumerate(played):
                if one.club == club:
                    self.lies[lie].append(Played(number, how(one.option), one))
                    self.source[lie].append(place)
        return number

    def halfway(self, first: int, second: int, name: str) -> int:
        """A club halfway between two, played in the directions of the first; its number."""
        number = self._numbered(name)
        for one, other in _pairs(self.own.tee, first, second):
            self.tee.append(Played(number, between(self.own.tee[one].option, self.own.tee[other].option, name)))
        for lie, played in self.own.lies.items():
            for one, other in _pairs(played, first, second):
                self.lies[lie].append(Played(number, between(played[one].option, played[other].option, name)))
                self.source[lie].append(one)
        return number

    def _numbered(self, name: str) -> int:
        self.names.append(name)
        return len(self.names) - 1

    def swings(self) -> Swings:
        """All of them."""
        return Swings(tuple(self.names), self.tee, self.lies, self.source)


def _pairs(played: Sequence[Played], first: int, second: int) -> list[tuple[int, int]]:
    """Places of the swings of two clubs that belong together: full with full, each step down with the same; the first
    shape of each where there are several."""
    ones, others = ([place for place, one in enumerate(played) if one.club == club] for club in (first, second))
    steps: list[tuple[int, int]] = []
    for one in ones:
        share = _step(played, ones, one)
        fits = [other for other in others if abs(_step(played, others, other) - share) < 0.02]
        if fits and all(abs(_step(played, ones, taken) - share) >= 0.02 for taken, _ in steps):
            steps.append((one, fits[0]))
    return steps


def _step(played: Sequence[Played], places: Sequence[int], place: int) -> float:
    """How long a swing is beside the first of its club."""
    return played[place].option.reach_yd / played[places[0]].option.reach_yd
