"""The bag for a course: what each club is worth over its holes, and what changing a club or the putting would bring.

Every hole becomes a table of choices (`table`), each bag is solved on it (`bags`), and what bags cost is worked out
again under drawn patterns (`drawn`). Nearer the hole than the shortest swing that is planned the player's own curves
apply whatever is carried: what a wedge is worth there is not counted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise
from typing import Final

import numpy as np

from server.analysis.course_bag.aimed import Aimed
from server.analysis.course_bag.bags import HoleBags, Solution
from server.analysis.course_bag.choosing import ROOM, SAME, Bag, Chosen, choose
from server.analysis.course_bag.drawn import DRAWS, drawn_strokes
from server.analysis.course_bag.swings import Changes, Swings, longer, tighter
from server.analysis.course_bag.table import Player, Table, table_of
from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.ahead import LEAST_NEAR_YD, MOST_NEAR_YD, STEEP_DEG
from server.analysis.plan.flight import USUAL_DAY, Day
from server.analysis.plan.hole_grid import hole_grid
from server.analysis.plan.hole_to_play import HoleToPlay
from server.game.lies import FAIRWAY

LONGER_YD: Final = 5.0
USED: Final = 0.05
"""A hole is one where a club is used when it is played there so often a round."""
BUILDING: Final = 0.7
CHOOSING: Final = 0.8
"""Shares of the work that are done when holes are solved, and when the bag is chosen."""


@dataclass(frozen=True, eq=False)
class Curves:
    """The player's own expected strokes; the other ones on the green; and what those are worth more or less where a
    shot near the hole is played off the green."""

    own: Baseline
    other: Baseline
    off_green: float = 0.0


@dataclass(frozen=True, eq=False)
class Difference:
    """Strokes a round that a bag costs against another, and the same under drawn patterns (d,)."""

    strokes: float
    drawn: Floats


@dataclass(frozen=True, eq=False)
class ClubFound:
    """What is found of a club. `worth`: strokes lost without it, of one that is carried; strokes saved with it, of one
    that is left out; None of the only club; `shots`: a round; `holes`: where it is used; `instead`: of one left out,
    the club that it would come for, and what that would cost; `longer`, `tighter`: what such a change would save, of
    one carried."""

    club: str
    carried: bool
    worth: Difference | None
    shots: float
    holes: list[int]
    instead: tuple[str, Difference] | None = None
    longer: Difference | None = None
    tighter: Difference | None = None


@dataclass(frozen=True, eq=False)
class Wedge:
    """One more wedge, halfway between two clubs. `instead`: who stays at home for it, None when there is room."""

    between: tuple[str, str]
    reach_yd: tuple[float, float, float]
    instead: str | None
    saves: Difference


@dataclass(frozen=True, eq=False)
class CourseBag:
    """The bag for a course. `strokes`: expected over the holes with the bag; `by_hole`: the same; `shots`: planned
    shots a round; `first_putts`: yards of balls that come to rest on the green, and how often (k,) each."""

    holes: list[int]
    chosen: Chosen
    strokes: float
    drawn: Floats
    by_hole: list[float]
    shots: float
    near_yd: float
    clubs: list[ClubFound]
    wedge: Wedge | None
    putting: float
    places: list[int] = field(default_factory=list)


@dataclass(eq=False)
class _Hole:
    """A hole ready to be asked."""

    number: int
    player: Player
    table: Table
    bags: HoleBags


class _Course:
    """All holes, and what is to be known of them under drawn patterns."""

    def __init__(self, holes: list[_Hole], draws: int) -> None:
        self.holes, self.draws = holes, draws
        self.asked: dict[str, list[Solution]] = {}

    def ask(self, name: str, solutions: list[Solution]) -> float:
        """Note the play of all holes under a name; its strokes."""
        self.asked[name] = solutions
        return sum(one.strokes for one in solutions)

    def known(self, progress: Callable[[float], None]) -> dict[str, Floats]:
        """Strokes under drawn patterns of whatever was asked."""
        names = list(self.asked)
        total = np.zeros((len(names), self.draws))
        for place, hole in enumerate(self.holes):
            total += drawn_strokes(hole.player, hole.table, [self.asked[name][place] for name in names], self.draws)
            hole.player.forget()
            progress((place + 1) / len(self.holes))
        return dict(zip(names, total, strict=True))


def course_bag(
    holes: Sequence[HoleToPlay],
    swings: Swings,
    curves: Curves,
    *,
    longer_yd: float = LONGER_YD,
    room: int = ROOM,
    day: Day = USUAL_DAY,
    draws: int = DRAWS,
    progress: Callable[[float], None] | None = None,
) -> CourseBag:
    """The bag for these holes out of the clubs of `swings`. `longer_yd`: yards of the first what-if; `room`: clubs
    carried beside the putter; `progress`: called with the share done, and may raise `StoppedError`.

    ValueError when there is no hole or no club, or the curves have no value for a lie."""
    report = progress or (lambda _share: None)
    if not holes:
        raise ValueError("there is no hole to compare bags on")
    if not swings.clubs or not swings.tee:
        raise ValueError("there is no club to compare")
    own = len(swings.clubs)
    gap = widest_gap(swings)
    every, numbers = _with_changes(swings, longer_yd, gap)
    near = near_yd(swings)
    made = []
    for place, hole in enumerate(holes):
        done = partial(_part, report, BUILDING * place / len(holes), BUILDING * (place + 1) / len(holes))
        made.append(_prepared(hole, every, swings, curves, near, day, done))
    bags = [hole.bags for hole in made]
    chosen = choose(bags, own, room, partial(_part, report, BUILDING, CHOOSING))
    return _found(_Course(made, draws), swings, chosen, numbers, gap, near, partial(_part, report, CHOOSING, 1.0), room)


def _part(report: Callable[[float], None], before: float, after: float, share: float) -> None:
    report(before + (after - before) * share)


def near_yd(swings: Swings) -> float:
    """Nearer the hole than this the player's own curves apply."""
    shortest = min((one.option.reach_yd for one in swings.lies[FAIRWAY]), default=MOST_NEAR_YD)
    return float(np.clip(shortest, LEAST_NEAR_YD, MOST_NEAR_YD))


def widest_gap(swings: Swings) -> tuple[int, int] | None:
    """The two neighbours among irons and wedges that are farthest apart, the longer one first; None for fewer than
    two."""
    reach: dict[int, float] = {}
    for one in swings.lies[FAIRWAY]:
        if one.club >= 0 and one.option.flight.descent_deg >= STEEP_DEG:
            reach.setdefault(one.club, one.option.reach_yd)
    order = sorted(reach, key=lambda club: -reach[club])
    pairs = list(pairwise(order))
    return max(pairs, key=lambda pair: reach[pair[0]] - reach[pair[1]]) if pairs else None


def _with_changes(
    swings: Swings, yards: float, gap: tuple[int, int] | None
) -> tuple[Swings, dict[tuple[str, int], int]]:
    """The swings with every club longer, tighter, and one between; their numbers."""
    changes = Changes(swings)
    numbers = {}
    for club, name in enumerate(swings.clubs):
        numbers["longer", club] = changes.changed(club, f"{name}, longer", partial(longer, yards=yards))
        numbers["tighter", club] = changes.changed(club, f"{name}, tighter", tighter)
    if gap is not None:
        numbers["wedge", 0] = changes.halfway(*gap, "one more wedge")
    return changes.swings(), numbers


def _prepared(
    hole: HoleToPlay,
    every: Swings,
    swings: Swings,
    curves: Curves,
    near: float,
    day: Day,
    done: Callable[[float], None],
) -> _Hole:
    """A hole's table."""
    grid = hole_grid(hole.ground, hole.start, hole.pin).coarser()
    aimed = Aimed(grid, swings.options(), curves.own, near, day, partial(_part, done, 0.0, 0.5))
    player = Player(aimed, every, (curves.own, curves.other, curves.off_green), hole.start, day)
    table = table_of(player, partial(_part, done, 0.5, 1.0), len(swings.clubs))
    player.forget()
    bags = HoleBags(table, len(every.clubs))
    bags.solve(frozenset(range(len(swings.clubs))))
    return _Hole(hole.number, player, table, bags)


def _found(
    course: _Course,
    swings: Swings,
    chosen: Chosen,
    numbers: dict[tuple[str, int], int],
    gap: tuple[int, int] | None,
    near: float,
    report: Callable[[float], None],
    room: int,
) -> CourseBag:
    bags, bag = [hole.bags for hole in course.holes], chosen.bag
    full = [one.solve(bag) for one in bags]
    strokes = course.ask("full", full)
    cost: dict[str, float] = {"full": strokes}
    clubs = range(len(swings.clubs))
    instead: dict[int, int] = {}
    for club in clubs:
        if club in bag:
            if len(bag) > 1:
                cost[f"worth {club}"] = course.ask(f"worth {club}", [one.without(bag, club) for one in bags])
            for change in ("longer", "tighter"):
                play = [one.with_instead(bag, club, numbers[change, club]) for one in bags]
                cost[f"{change} {club}"] = course.ask(f"{change} {club}", play)
        else:
            cost[f"worth {club}"] = course.ask(f"worth {club}", [one.with_instead(bag, None, club) for one in bags])
            instead[club] = _for_whom(bags, bag, club)
            play = [one.with_instead(bag, instead[club], club) for one in bags]
            cost[f"instead {club}"] = course.ask(f"instead {club}", play)
    away: int | None = None
    if gap is not None:
        new = numbers["wedge", 0]
        away = None if len(bag) < room else _for_whom(bags, bag, new)
        cost["wedge"] = course.ask("wedge", [one.with_instead(bag, away, new) for one in bags])
    putting = sum(one.solve(bag, other=True).strokes for one in bags) - strokes
    drawn = course.known(report)

    def against(name: str, sign: float = 1.0) -> Difference:
        return Difference(_near_zero(sign * (cost[name] - strokes)), sign * (drawn[name] - drawn["full"]))

    shots = np.sum([one.shots(len(swings.clubs)) for one in full], axis=0)
    found = []
    for club in clubs:
        carried = club in bag
        found.append(
            ClubFound(
                swings.clubs[club],
                carried,
                against(f"worth {club}", 1.0 if carried else -1.0) if f"worth {club}" in cost else None,
                float(shots[club]),
                [
                    hole.number
                    for hole, one in zip(course.holes, full, strict=True)
                    if one.shots(len(clubs))[club] >= USED
                ],
                (swings.clubs[instead[club]], against(f"instead {club}")) if club in instead else None,
                against(f"longer {club}", -1.0) if carried else None,
                against(f"tighter {club}", -1.0) if carried else None,
            )
        )
    wedge = None
    if gap is not None:
        reach = [next(one.option.reach_yd for one in swings.lies[FAIRWAY] if one.club == club) for club in gap]
        between = swings.clubs[gap[0]], swings.clubs[gap[1]]
        name = None if away is None else swings.clubs[away]
        wedge = Wedge(between, (reach[0], sum(reach) / 2, reach[1]), name, against("wedge", -1.0))
    return CourseBag(
        [hole.number for hole in course.holes],
        chosen,
        strokes,
        drawn["full"],
        [one.strokes for one in full],
        float(sum(one.visits.sum() for one in full)),
        near,
        found,
        wedge,
        _near_zero(-putting),
        [hole.table.places for hole in course.holes],
    )


def _for_whom(bags: Sequence[HoleBags], bag: Bag, new: int) -> int:
    """The club of a bag that a new one had best come for."""
    cost = {club: sum(one.with_instead(bag, club, new).strokes for one in bags) for club in sorted(bag)}
    least = min(cost.values())
    return max(club for club, value in cost.items() if value <= least + SAME)


def _near_zero(value: float) -> float:
    """A difference that is only what solving leaves open is none."""
    return 0.0 if abs(value) < 1e-7 else value
