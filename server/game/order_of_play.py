"""Order of play: what the shots of one round must agree on between them.

A single shot's own fields are checked by `server.records`; here it is what only shows when shots stand
together: numbering, nothing after a holed shot, where a ball begins, extra balls, penalties.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Final

from server.game.lies import TEE
from server.game.penalties import MOST_CLUBS, returns_to_same_spot
from server.game.shots_in_columns import InColumns

Shot = Mapping[str, Any]

ERROR: Final = "error"
WARNING: Final = "warning"
PRACTICE: Final = "practice"
CASUAL: Final = "casual"
COMPETITION: Final = "competition"
KINDS: Final[tuple[str, ...]] = (PRACTICE, CASUAL, COMPETITION)


@dataclass(frozen=True)
class Problem:
    """One thing that does not fit. `place` is the shot's place in the list that was checked (None: the round)."""

    field: str
    message: str
    place: int | None = None
    severity: str = ERROR


def check_round(shots: Sequence[Shot], holes: Collection[int], kind: str, finished: bool = True) -> list[Problem]:
    """Everything that does not fit among the shots of one round, in the order of the list.

    `holes`: the numbers of the holes that the round defines; `finished`: whether every ball must have come to an
    end (imported or closed rounds). A shot has `hole`, `ball`, `order`, `lie`, `distance_yd`, `holed`,
    `penalty_strokes`, `penalty_reason`, `end_lie`, `end_distance_yd`, `picked_up`, `provisional`.
    """
    columns = _columns(shots)
    closely = _holes_to_look_at(columns, holes)
    if not closely:
        return []
    places = [place for place, hole in enumerate(columns[0]) if hole in closely]
    near = shots.rows(places, _READ) if isinstance(shots, InColumns) else [shots[place] for place in places]
    found = _check_closely(near, holes, kind, finished=finished)
    return [one if one.place is None else replace(one, place=places[one.place]) for one in found]


def _check_closely(shots: Sequence[Shot], holes: Collection[int], kind: str, *, finished: bool) -> list[Problem]:
    """`check_round` of all shots of some holes."""
    problems: list[Problem] = []
    balls: dict[tuple[int, int], list[int]] = defaultdict(list)
    for place, shot in enumerate(shots):
        balls[shot["hole"], shot.get("ball") or 1].append(place)
        if shot["hole"] not in holes:
            defined = f"{min(holes)} to {max(holes)}" if holes else "none"
            problems.append(Problem("hole", f"hole {shot['hole']} is not defined by the round ({defined})", place))
    for (_, ball), places in balls.items():
        places.sort(key=lambda place: shots[place]["order"])
        problems += _check_numbers(shots, places)
        problems += _check_ball(shots, places, ball, kind)
        problems += _check_ends(shots, places)
    if finished:
        words = "the last shot of the ball is neither holed nor has an end"
        problems += [Problem("holed", words, place) for place in balls_left_open(shots)]
    return sorted(problems, key=lambda problem: (problem.place is None, problem.place))


def _columns(shots: Sequence[Shot]) -> list[Sequence[Any]]:
    """What the shots have in the fields of `_LOOKED_AT`."""
    if isinstance(shots, InColumns):
        return list(map(shots.column, _LOOKED_AT))
    return [[shot.get(name) for shot in shots] for name in _LOOKED_AT]


def _holes_to_look_at(columns: Sequence[Sequence[Any]], holes: Collection[int]) -> set[int]:
    """The holes where anything may be wrong; on the others one ball was played from the tee, shot by shot, until it was
    holed, and nothing else is recorded of it. Most holes are of that sort, and one look at each shot settles them."""
    closely: set[int] = set()
    last: dict[int, tuple[int, bool]] = {}
    holes_of, balls, orders, lies, holed, *beside = columns
    for hole, order, lie, ended in zip(holes_of, orders, lies, holed, strict=True):
        before = last.get(hole)
        if before is None:
            follows = order == 1 and lie == TEE and hole in holes
        else:
            follows = order == before[0] + 1 and not before[1]
        if not follows:
            closely.add(hole)
        last[hole] = (order, ended)
    closely.update(hole for hole, (_, ended) in last.items() if not ended)
    if not {None, 1}.issuperset(balls):
        closely.update(hole for hole, ball in zip(holes_of, balls, strict=True) if ball not in (None, 1))
    for column in beside:
        if any(column):
            closely.update(hole for hole, recorded in zip(holes_of, column, strict=True) if recorded)
    return closely


_RECORDED_BESIDE: Final = ("provisional", "picked_up", "penalty_strokes", "penalty_reason", "end_distance_yd")
_LOOKED_AT: Final = ("hole", "ball", "order", "lie", "holed", *_RECORDED_BESIDE)
_READ: Final = (*_LOOKED_AT, "distance_yd", "end_lie")


def balls_left_open(shots: Sequence[Shot]) -> list[int]:
    """The places of the last shots of balls that came to no end: neither holed nor picked up, and no end entered.

    A provisional ball needs none: once the first ball is found it is abandoned where it lies (rule 18.3c).
    """
    balls: dict[tuple[int, int], list[int]] = defaultdict(list)
    for place, shot in enumerate(shots):
        balls[shot["hole"], shot.get("ball") or 1].append(place)
    left = []
    for (_, ball), places in balls.items():
        places.sort(key=lambda place: shots[place]["order"])
        first, last = shots[places[0]], shots[places[-1]]
        provisional = ball > 1 and bool(first.get("provisional"))
        if not provisional and not _has_ended(last):
            left.append(places[-1])
    return sorted(left)


def _has_ended(last: Shot) -> bool:
    return bool(last.get("holed") or last.get("picked_up")) or last.get("end_distance_yd") is not None


def check_bag(bag: Collection[Any], kind: str) -> list[Problem]:
    """Rule 4.1b: more than 14 clubs in a counting round breaks the rule; it is stated, not refused."""
    if len(bag) <= MOST_CLUBS or kind == PRACTICE:
        return []
    words = f"{len(bag)} clubs are in the bag, rule 4.1b allows {MOST_CLUBS} in a counting round"
    return [Problem("bag", words, None, WARNING)]


def _check_numbers(shots: Sequence[Shot], places: list[int]) -> list[Problem]:
    problems = []
    expected = 1
    for place in places:
        order = shots[place]["order"]
        if order < expected:
            problems.append(Problem("shot", f"two shots of this ball have the number {order}", place))
        elif order > expected:
            missing = f"{expected}" if order == expected + 1 else f"{expected} to {order - 1}"
            problems.append(Problem("shot", f"shot {order} comes without shot {missing} before it", place))
        expected = max(expected, order + 1)
    return problems


def _check_ball(shots: Sequence[Shot], places: list[int], ball: int, kind: str) -> list[Problem]:
    problems = []
    first = shots[places[0]]
    if ball == 1 and first["order"] == 1 and first["lie"] != TEE:
        problems.append(Problem("lie", f"the first shot of a hole is from the tee, not from {first['lie']}", places[0]))
    if ball == 1 and any(shots[place].get("provisional") for place in places):
        problems.append(Problem("provisional", "ball 1 scores and is not a provisional ball", places[0]))
    if ball > 1 and kind != PRACTICE and not first.get("provisional"):
        words = f"ball {ball} is an extra ball, and a {kind} round takes only ball 1 (rule 5.5)"
        problems.append(Problem("ball", words, places[0]))
    holed_at = next((shots[place]["order"] for place in places if shots[place].get("holed")), None)
    for place in places:
        if holed_at is not None and shots[place]["order"] > holed_at:
            words = f"shot {shots[place]['order']} comes after shot {holed_at} was holed"
            problems.append(Problem("holed", words, place))
    return problems


def _check_ends(shots: Sequence[Shot], places: list[int]) -> list[Problem]:
    problems = []
    for place, after in pairwise(places):
        shot, next_shot = shots[place], shots[after]
        if next_shot["order"] != shot["order"] + 1:
            continue
        start = (next_shot["lie"], next_shot["distance_yd"])
        same_spot = returns_to_same_spot(shot.get("penalty_reason"), shot.get("penalty_strokes") or 0)
        if same_spot and start != (shot["lie"], shot["distance_yd"]):
            words = (
                f"after {shot['penalty_reason']} for one stroke the next shot is played from the same spot "
                f"(rule 18.2b), {shot['lie']} {shot['distance_yd']:g} yd"
            )
            problems.append(Problem("distance", words, after, WARNING))
        end = (shot.get("end_lie"), shot.get("end_distance_yd"))
        if end[1] is not None and end != start:
            words = f"{end[0]} {end[1]:g} yd was entered, but the next shot starts at {start[0]} {start[1]:g} yd"
            problems.append(Problem("end_distance", words, place, WARNING))
        if shot.get("picked_up"):
            problems.append(Problem("picked_up", "the ball was picked up, but another shot follows", after))
    return problems
