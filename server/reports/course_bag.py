"""The bag for a course: a player's clubs, a course's maps and a baseline put together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.course_bag.choosing import MOST_CARRIED, ROOM
from server.analysis.course_bag.course import (
    LONGER_YD,
    ClubFound,
    CourseBag,
    Curves,
    Difference,
    Wedge,
    course_bag,
    near_yd,
)
from server.analysis.course_bag.putting import off_green, redrawn
from server.analysis.course_bag.swings import swings_of
from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.curves import Floats
from server.analysis.plan.choice import LEVEL, NO_DIFFERENCE, SURE, WORTH_REPORTING
from server.analysis.plan.options import Bag, bag_of
from server.analysis.plan.rows import LeftOut
from server.game.lies import TEE
from server.game.numbers import signed
from server.game.ranges import FARTHEST_YD
from server.reports.course_bag_rows import BagClub, BagFigure, BagPutting, CourseBagDocument, MoreWedge, SwappedFor
from server.reports.plan import CAUTION, PlanError, curves_of, hole_to_play, tees_of
from server.store.players import Player
from server.store.rows import TeesRow

LEAST_LONGER_YD, MOST_LONGER_YD = 1.0, 30.0
PUTTER: Final = "putter"
WORTH_IT, WOULD_BE = "worth carrying", "would be worth carrying"
RETIRED: Final = "retired: not carried any more"

NOTES: Final = (
    "Every bag is played as it is best played on these holes, with your own patterns; intervals show how uncertain "
    "the patterns are, nothing else. The map, the curves and the weather are taken as known.",
    "A club is worth the strokes that leaving it out costs here, with nothing in its place. It is called worth "
    f"carrying when that is over {WORTH_REPORTING:g} strokes and so in 97.5 of 100 drawn patterns.",
    "The same shots choose the bag and value it, so its advantage looks slightly too large.",
    "A longer club keeps its spread in degrees; a tighter one has every ball a tenth nearer the middle of its pattern.",
)


@dataclass(frozen=True)
class BagAsked:
    """What is asked: the tees (the first unless named), and by how many yards a club is longer in the first
    what-if, and the holes, every mapped one when None."""

    tees: str | None = None
    longer_yd: float = LONGER_YD
    holes: tuple[int, ...] | None = None


def course_bag_document(
    player: Player,
    valued: pd.DataFrame,
    baseline: Baseline,
    course: tuple[str, Sequence[TeesRow]],
    maps: Mapping[int, str],
    owned: Mapping[str, str],
    asked: BagAsked,
    progress: Callable[[float], None] | None = None,
) -> CourseBagDocument:
    """The bag for a course. `valued`: as `valued_shots` returns it; `owned`: label -> sort of the clubs that are not
    retired; `progress`: called with the share done, and may raise `StoppedError`. PlanError names what is wrong."""
    if not LEAST_LONGER_YD <= asked.longer_yd <= MOST_LONGER_YD:
        raise PlanError("longer_yd", f"{asked.longer_yd:g} is outside {LEAST_LONGER_YD:g} to {MOST_LONGER_YD:g} yd")
    name, all_tees = course
    tees, defined = tees_of(name, all_tees, asked.tees)
    mapped = [number for number in sorted(defined) if number in maps]
    if not mapped:
        raise PlanError("course_id", f"none of the holes of {name} has a map; map at least one")
    for number in asked.holes or ():
        if number not in mapped:
            known = ", ".join(str(one) for one in mapped)
            raise PlanError("hole", f"hole {number} of {name} has no map; mapped holes: {known}")
    mapped = [number for number in mapped if asked.holes is None or number in asked.holes]
    holes = [hole_to_play(number, defined[number], maps[number]) for number in mapped]
    bag = bag_of(valued, player.plays)
    clubs, left_out = _clubs(bag, owned)
    if not clubs:
        few = "; ".join(f"{entry['name']}: {entry['reason']}" for entry in left_out)
        raise PlanError("clubs", f"no club has shots enough to compare with ({few or 'no shots are logged'})")
    swings, own = swings_of(bag, clubs), curves_of(valued, baseline)
    try:
        curves = Curves(own, baseline, off_green(valued, own, baseline, near_yd(swings)))
        found = course_bag(holes, swings, curves, longer_yd=asked.longer_yd, progress=progress)
    except ValueError as error:
        raise PlanError("baseline", str(error)) from error
    clubs_ = sorted((_club(one, found, asked.longer_yd) for one in found.clubs), key=_order)
    wedge = None if found.wedge is None else _wedge(found.wedge)
    putting = _putting(found, valued, own, baseline)
    return {
        "player": player.name,
        "player_id": player.player_id,
        "course": name,
        "tees": tees,
        "words": _words(found, clubs_, name),
        "most_clubs": MOST_CARRIED,
        "putter": next((label for label, sort in owned.items() if sort == PUTTER), PUTTER),
        "every_choice": found.chosen.every,
        "expected": figure(Difference(found.strokes, found.drawn), "expected strokes with this bag"),
        "holes": [
            {"number": number, "par": defined[number]["par"], "expected": value}
            for number, value in zip(found.holes, found.by_hole, strict=True)
        ],
        "unmapped": [number for number in sorted(defined) if number not in maps],
        "near_yd": found.near_yd,
        "longer_yd": asked.longer_yd,
        "clubs": clubs_,
        "wedge": wedge,
        "putting": putting,
        "left_out": left_out,
        "baseline": {"id": baseline.id, "version": baseline.version},
        "level": LEVEL,
        "notes": [
            *NOTES,
            f"Nearer the hole than {found.near_yd:.0f} yd your own results count whatever is in the bag: what a wedge "
            "is worth in the short game is not counted.",
        ],
        "caution": CAUTION,
    }


def _clubs(bag: Bag, owned: Mapping[str, str]) -> tuple[list[str], list[LeftOut]]:
    """The clubs to compare, those with shots enough, and who is left out with the reason. The putter is neither."""
    options, left_out = bag.options(TEE, FARTHEST_YD)
    names: list[str] = []
    for option in options:
        club = option.about["club"]
        if club not in names and owned.get(club) != PUTTER:
            names.append(club)
    left_out += [{"name": name, "reason": RETIRED} for name in names if name not in owned]
    known = {entry["name"] for entry in left_out} | set(names)
    left_out += [
        {"name": name, "reason": "no tapped full swings"}
        for name, sort in owned.items()
        if name not in known and sort != PUTTER
    ]
    return [name for name in names if name in owned], left_out


def figure(found: Difference, verdict: str | None = None, good: str = "a real difference") -> BagFigure:
    """A difference with its interval. `verdict`: the words, else `good` where it is clear."""
    low, high = np.quantile(found.drawn, ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
    chance = float(np.mean(found.drawn > 0) + np.mean(found.drawn == 0) / 2)
    clear = found.strokes > WORTH_REPORTING and chance >= SURE
    return {
        "strokes": found.strokes,
        "low": float(low),
        "high": float(high),
        "chance": chance,
        "clear": bool(clear),
        "verdict": verdict or (good if clear else NO_DIFFERENCE),
    }


def _order(row: BagClub) -> tuple[bool, float]:
    return not row["carried"], 0.0 if row["worth"] is None else -row["worth"]["strokes"]


def _club(one: ClubFound, found: CourseBag, longer_yd: float) -> BagClub:
    swapped: SwappedFor | None = None
    if one.instead is not None:
        club, costs = one.instead
        swapped = {"club": club, "costs": figure(costs, good=f"the {club} is better")}
    return {
        "club": one.club,
        "carried": one.carried,
        "worth": None if one.worth is None else figure(one.worth, good=WORTH_IT if one.carried else WOULD_BE),
        "shots": one.shots,
        "share": one.shots / found.shots if found.shots else 0.0,
        "holes": one.holes,
        "instead": swapped,
        "longer": None if one.longer is None else figure(one.longer, good=f"{longer_yd:g} yd more would matter"),
        "tighter": None if one.tighter is None else figure(one.tighter, good="a tighter spread would matter"),
    }


def _wedge(found: Wedge) -> MoreWedge:
    longer, shorter = found.between
    saves = figure(found.saves, good="it would matter")
    for_whom = "" if found.instead is None else f", in place of the {found.instead}"
    words = (
        f"A club of {found.reach_yd[1]:.0f} yd between the {longer} ({found.reach_yd[0]:.0f}) and the {shorter} "
        f"({found.reach_yd[2]:.0f}){for_whom}, would save {_strokes(saves)}: {saves['verdict']}. Its pattern "
        "is assumed: half of each neighbour's."
    )
    return {
        "longer": longer,
        "shorter": shorter,
        "longer_yd": found.reach_yd[0],
        "shorter_yd": found.reach_yd[2],
        "reach_yd": found.reach_yd[1],
        "instead": found.instead,
        "saves": saves,
        "words": words,
    }


def _putting(found: CourseBag, valued: pd.DataFrame, own: Baseline, baseline: Baseline) -> BagPutting:
    if own is baseline:
        words = "Too few rounds for your own putting: putts are valued by the baseline."
        return {"saves": None, "words": words}
    drawn: Floats = found.putting + len(found.holes) * redrawn(valued, own, baseline)
    saves = figure(Difference(found.putting, drawn), good="it would matter")
    words = f"Putting as the baseline's golfers do would save {_strokes(saves)}: {saves['verdict']}."
    return {"saves": saves, "words": words}


def _strokes(value: BagFigure) -> str:
    """A figure in words.

    >>> _strokes({"strokes": 0.214, "low": -0.1, "high": 0.5, "chance": 0.9, "clear": False, "verdict": ""})
    '0.21 strokes a round (-0.10 to +0.50)'
    """
    return f"{value['strokes']:.2f} strokes a round ({signed(value['low'], 2)} to {signed(value['high'], 2)})"


def _words(found: CourseBag, clubs: Sequence[BagClub], course: str) -> list[str]:
    """The answer in a sentence, then what else is to be known."""
    holes = len(found.holes)
    over = f"over {'the one mapped hole' if holes == 1 else f'{holes} mapped holes'} of {course}"
    carried = [row for row in clubs if row["carried"]]
    home = [row for row in clubs if not row["carried"]]
    sentences = []
    if not home:
        fits = "all fourteen fit" if len(carried) == ROOM else "there is room for all of them"
        most = carried[0]
        sentences.append(
            f"There is one club to compare, the {most['club']}: nothing to choose."
            if most["worth"] is None
            else f"With {len(carried)} clubs beside the putter {fits}; {over} the {most['club']} is worth most, "
            f"{_strokes(most['worth'])}."
        )
    else:
        names = [row["club"] for row in home]
        sentences.append(left_at_home(over.replace("over", "On", 1), names, home[0]["instead"]))
    same = [row["club"] for row in carried if row["worth"] is not None and not row["worth"]["clear"]]
    if same:
        verb = "makes" if len(same) == 1 else "each make"
        sentences.append(f"Left out alone, the {_listed(same)} {verb} {NO_DIFFERENCE} here.")
    if not found.chosen.every:
        sentences.append("Too many clubs to try every choice: the least valuable was dropped one at a time.")
    return sentences


def left_at_home(where: str, names: Sequence[str], swap: SwappedFor | None) -> str:
    """Which clubs stay at home. `swap`: what the first of them would cost in place of another.

    No club is sent home against another that makes no real difference.
    """
    if swap is None:
        return f"{where}, leave the {_listed(names)} at home."
    costs = swap["costs"]
    beside = f"To carry the {names[0]} in place of the {swap['club']} would cost {_strokes(costs)}: {costs['verdict']}."
    if costs["clear"]:
        return f"{where}, leave the {_listed(names)} at home. {beside}"
    if len(names) == 1:
        return f"{where}, leave the {names[0]} or the {swap['club']} at home. {beside}"
    return f"{where}, the best bag is without the {_listed(names)}. {beside}"


def _listed(names: Sequence[str]) -> str:
    """Names as a sentence has them.

    >>> _listed(["5 iron"]), _listed(["5 iron", "6 iron", "7 iron"])
    ('5 iron', '5 iron, 6 iron and 7 iron')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
