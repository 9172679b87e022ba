"""The bag for a course, key by key."""

from __future__ import annotations

from typing import Annotated, TypedDict

from server.analysis.plan.rows import LeftOut
from server.reports.heading import BaselineNamed, OfPlayer


class BagFigure(TypedDict):
    """Strokes a round with their interval, and whether they are a difference."""

    strokes: Annotated[float, "a round over the mapped holes"]
    low: Annotated[float, "5th percentile over drawn patterns"]
    high: Annotated[float, "95th percentile"]
    chance: Annotated[float, "share of draws in which it is above 0"]
    clear: Annotated[bool, "above 0.05 strokes, and above 0 in 97.5 % of draws"]
    verdict: Annotated[str, "in words"]


class SwappedFor(TypedDict):
    """A club left at home, put into the bag for another one."""

    club: Annotated[str, "who would stay at home"]
    costs: BagFigure


class BagClub(TypedDict):
    """A club on this course."""

    club: str
    carried: bool
    worth: Annotated[
        BagFigure | None,
        "lost without it; of one left at home: saved if one more club could be carried; null of the only club",
    ]
    shots: Annotated[float, "planned shots a round; 0 of one left at home"]
    share: Annotated[float, "of all planned shots, 0 to 1"]
    holes: Annotated[list[int], "where it is used one time in twenty at least"]
    instead: Annotated[SwappedFor | None, "of one left at home: the club that it would best come for"]
    longer: Annotated[BagFigure | None, "saved if it went further, of one carried"]
    tighter: Annotated[BagFigure | None, "saved if its spread were a tenth tighter, of one carried"]


class MoreWedge(TypedDict):
    """A club that this tool invents, halfway between two neighbours."""

    longer: Annotated[str, "the longer neighbour"]
    shorter: str
    longer_yd: float
    shorter_yd: float
    reach_yd: Annotated[float, "how far the invented one goes"]
    instead: Annotated[str | None, "who stays at home for it; null where there is room"]
    saves: BagFigure
    words: str


class BagPutting(TypedDict):
    """Putting as the baseline's golfers do."""

    saves: Annotated[BagFigure | None, "null where the rounds are too few to know the player's own putting"]
    words: str


class BagHole(TypedDict):
    """A mapped hole with this bag."""

    number: int
    par: int
    expected: Annotated[float, "strokes"]


class CourseBagDocument(OfPlayer):
    """The bag for a course."""

    course: str
    tees: str
    words: Annotated[list[str], "the answer, then what else is to be known, in sentences"]
    most_clubs: Annotated[int, "rule 4.1b"]
    putter: Annotated[str, "the putter that is carried too"]
    every_choice: Annotated[bool, "every choice was tried; else the least worth was left out again and again"]
    expected: Annotated[BagFigure, "over the mapped holes with this bag"]
    holes: list[BagHole]
    unmapped: Annotated[list[int], "holes without a map: not counted"]
    near_yd: Annotated[float, "nearer the hole the player's own results count, whatever is carried"]
    longer_yd: float
    clubs: Annotated[list[BagClub], "carried first, worth most first"]
    wedge: MoreWedge | None
    putting: BagPutting
    left_out: Annotated[list[LeftOut], "clubs that cannot be compared, and why"]
    baseline: BaselineNamed
    level: Annotated[float, "of the intervals"]
    notes: list[str]
    caution: str
