"""The fields of a shot, each spelled once: name, type, range, unit, column, cell, meaning.

The schema of a record (`server.records.schemas`), the columns of the database (`server.store.tables`), the frames
(`server.store.frames`), the rows of a shots table (`server.files`) and the data dictionary follow from this table.
A new field is a new row here, a migration, and whatever is to be done with it; `web/js/game/shot.js` is its twin.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from marshmallow import fields

from server.game import ranges
from server.game.lies import LIES
from server.game.penalties import PENALTY_STROKES, REASONS
from server.records.fields import Choice, Flag, Identity, Number, Position, Text, WholeNumber

SHAPES: Final = ("draw", "straight", "fade")
HEIGHTS: Final = ("low", "normal", "high")
STRIKES: Final = ("centre", "heel", "toe", "high", "low", "thin", "fat")
SWINGS: Final = ("full", "part")

ID: Final = "id"
INTEGER: Final = "integer"
NUMBER: Final = "number"
CHOICE: Final = "choice"
FLAG: Final = "flag"
TEXT: Final = "text"
POSITION: Final = "position"
TYPES: Final = (ID, INTEGER, NUMBER, CHOICE, FLAG, TEXT, POSITION)


@dataclass(frozen=True)
class ShotField:
    """A field of a shot.

    `required`: a record must give it; else `default` replaces it. `low`, `high`, `unit`: of numbers, both ends
    included, but for `low` where `above`. `one_of`: of choices. `longest`: characters of a text. `cells`: its columns
    in a shots table, none where such a table does not hold it; `cell_default`: what an empty or missing cell means.
    """

    name: str
    type: str
    meaning: str
    required: bool = False
    default: Any = None
    low: float = 0
    high: float = 0
    above: bool = False
    unit: str = ""
    one_of: tuple[str, ...] = ()
    longest: int = 0
    cells: tuple[str, ...] = ()
    cell_default: str = ""

    def __post_init__(self) -> None:
        if self.type not in TYPES:
            raise ValueError(f"{self.name}: type {self.type!r} is not one of {', '.join(TYPES)}")

    @property
    def nullable(self) -> bool:
        """Whether a record may lack it altogether."""
        return not self.required and self.default is None

    def schema_field(self) -> fields.Field[Any]:
        """The field of the record's schema."""
        more: dict[str, Any] = {"metadata": {"description": self.meaning}}
        if self.required:
            more["required"] = True
        else:
            more["load_default"] = self.default
        if self.nullable:
            more["allow_none"] = True
        return self._typed(more)

    def _typed(self, more: dict[str, Any]) -> fields.Field[Any]:
        makers: dict[str, Callable[[], fields.Field[Any]]] = {
            ID: lambda: Identity(**more),
            INTEGER: lambda: WholeNumber(int(self.low), int(self.high), **more),
            NUMBER: lambda: Number(self.low, self.high, self.unit, above=self.above, **more),
            CHOICE: lambda: Choice(self.one_of, **more),
            FLAG: lambda: Flag(**more),
            TEXT: lambda: Text(self.longest, **more),
            POSITION: lambda: Position(**more),
        }
        return makers[self.type]()


_SIDE: Final = ranges.FARTHEST_OFFLINE_YD
_FAR: Final = ranges.FARTHEST_YD


def _yards(name: str, meaning: str, low: float, high: float, *, above: bool = False, **more: Any) -> ShotField:
    return ShotField(name, NUMBER, meaning, low=low, high=high, above=above, unit="yd", **{"cells": (name,)} | more)


def _choice(name: str, meaning: str, one_of: tuple[str, ...], **more: Any) -> ShotField:
    return ShotField(name, CHOICE, meaning, one_of=one_of, cells=(name,), **more)


SHOT_FIELDS: Final = (
    ShotField("round_id", ID, "the round", required=True),
    ShotField("hole", INTEGER, "the hole's number", required=True, low=1, high=ranges.MOST_HOLES, cells=("hole",)),
    ShotField(
        "ball",
        INTEGER,
        "1 is the ball that scores, 2 and up are extra or provisional balls",
        required=True,
        low=1,
        high=ranges.MOST_BALLS,
        cells=("ball",),
        cell_default="1",
    ),
    ShotField(
        "order",
        INTEGER,
        "the number of the shot on its ball",
        required=True,
        low=1,
        high=ranges.MOST_SHOTS_A_BALL,
        cells=("shot",),
    ),
    _choice("lie", "where the ball lay before the shot", LIES, required=True),
    _yards(
        "distance_yd",
        "distance to the hole before the shot",
        0,
        _FAR,
        above=True,
        required=True,
        cells=("distance", "unit"),
    ),
    ShotField("club_id", ID, "the club", required=True, cells=("club",)),
    ShotField("holed", FLAG, "the shot went in", default=False, cells=("holed",)),
    ShotField(
        "penalty_strokes",
        INTEGER,
        "penalty strokes that the shot brought",
        default=0,
        low=min(PENALTY_STROKES),
        high=max(PENALTY_STROKES),
        unit="strokes",
        cells=("penalty_strokes",),
        cell_default="0",
    ),
    _choice("penalty_reason", "why there were penalty strokes", REASONS),
    _choice("end_lie", "where the ball ended, as it was entered: only where no next shot tells", LIES),
    _yards(
        "end_distance_yd",
        "distance to the hole after the shot, as it was entered",
        0,
        _FAR,
        above=True,
        cells=("end_distance", "end_unit"),
    ),
    ShotField("picked_up", FLAG, "the ball was picked up: the hole is not finished with it", default=False),
    _choice("swing", "full or part swing; only full swings count for a club's distance", SWINGS),
    _choice("planned_shape", "the shape that was planned", SHAPES),
    _choice("planned_height", "the height that was planned", HEIGHTS),
    _choice("actual_shape", "the shape that came", SHAPES),
    _yards("target_yd", "the intended distance", 0, _FAR, above=True),
    _yards("right_yd", "where it finished beside the target: right is positive, left negative", -_SIDE, _SIDE),
    _yards("long_yd", "where it finished against the target: long is positive, short negative", -_FAR, _SIDE),
    _yards(
        "carry_yd",
        "how far it flew before it first touched the ground",
        0,
        ranges.FARTHEST_CARRY_YD,
        above=True,
    ),
    _choice("strike", "where the face met the ball", STRIKES),
    ShotField(
        "position",
        POSITION,
        "where it was played: longitude, latitude (WGS84 degrees), accuracy in metres",
        cells=("lon", "lat", "accuracy_m"),
    ),
    ShotField("note", TEXT, "free words", longest=2000, cells=("note",)),
    ShotField(
        "provisional",
        FLAG,
        "yes for the shots of a provisional ball (rule 18.3); a CSV leaves the others blank",
        default=False,
        cells=("provisional",),
    ),
    ShotField("at", TEXT, "when it was entered, by the device's clock", longest=40),
)
"""Every field of a shot, in the order of a shots table."""

BY_NAME: Final = {field.name: field for field in SHOT_FIELDS}
CELLS: Final = tuple(cell for field in SHOT_FIELDS for cell in field.cells)
"""The columns of a shots table that hold a shot's own fields, in order."""
REQUIRED_CELLS: Final = tuple(
    field.cells[0] for field in SHOT_FIELDS if field.required and field.cells and not field.cell_default
)
"""Those of them that a table must have."""
