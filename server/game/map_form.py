"""A hole's map from a few numbers that can be entered in a minute: how wide the fairway is at two distances, what
trouble lies on which side and where it begins, how deep and wide the green is.

The hole is straight, or bends to one side half way. Bounds of the numbers are choices of this tool.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from server.game.hole_maps import Feature, feature, oval
from server.game.ranges import FARTHEST_YD

LEFT, RIGHT, SHORT, LONG = "left", "right", "short", "long"
SIDES: Final = (LEFT, RIGHT, SHORT, LONG)
"""Left and right of the hole; short of and behind the green."""

TROUBLE: Final = {
    "out_of_bounds": "out_of_bounds",
    "red water": "lateral_water_hazard",
    "yellow water": "water_hazard",
    "trees": "trees",
    "bunker": "bunker",
}
"""What may be stated, and the feature it becomes."""

WIDE_YD: Final = 100.0
"""Trouble without an end reaches this far aside or behind."""
BUNKER_YD: Final = 10.0
FAIRWAY_BEFORE_YD: Final = 100.0
"""The fairway begins so far before the first distance at which its width was given."""
SHORTEST_STRETCH_YD: Final = 1.0
PAST_GREEN_YD: Final = 40.0
"""Trouble without an end goes on so far behind the green."""
STEP_YD: Final = 20.0
TEE_BOX: Final = (3.0, 5.0)


@dataclass(frozen=True)
class Trouble:
    """Trouble on one side. `begins_yd`: from the middle of the fairway (left, right) or from the edge of the green
    (short, long); `from_yd`, `to_yd`: along the hole from the tee, for left and right; all of it when left out."""

    kind: str
    side: str
    begins_yd: float
    from_yd: float | None = None
    to_yd: float | None = None


@dataclass(frozen=True)
class HoleForm:
    """What was entered. `fairway`: up to two (yards from the tee, width); none on a par 3. `bend_yd`: how far the
    middle line swings out half way, right positive."""

    length_yd: float
    green_depth_yd: float
    green_width_yd: float
    fairway: tuple[tuple[float, float], ...] = ()
    trouble: tuple[Trouble, ...] = field(default=())
    bend_yd: float = 0.0


class MapFormError(ValueError):
    """A form that cannot become a map; `faults` names each field, its value and its range."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("; ".join(faults))
        self.faults = faults


def form_faults(form: HoleForm) -> list[str]:
    """What is wrong, in words."""
    found: list[str] = []

    def within(name: str, value: Any, low: float, high: float) -> None:
        if value is None:
            found.append(f"{name}: is missing ({low:g} to {high:g} yd)")
        elif isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            found.append(f"{name}: {value} is outside {low:g} to {high:g} yd")

    within("length_yd", form.length_yd, 50, FARTHEST_YD)
    within("green_depth_yd", form.green_depth_yd, 5, 80)
    within("green_width_yd", form.green_width_yd, 5, 80)
    within("bend_yd", form.bend_yd, -150, 150)
    known = not found
    hole_end = form.length_yd if known else FARTHEST_YD
    map_end = _map_end(form) if known else FARTHEST_YD
    if len(form.fairway) > 2:
        found.append(f"fairway: {len(form.fairway)} widths are more than 2")
    for place, (at, width) in enumerate(form.fairway, start=1):
        within(f"fairway {place}, distance", at, 50, hole_end)
        within(f"fairway {place}, width", width, 5, 120)
    ats = [at for at, _ in form.fairway]
    if len(ats) == 2 and None not in ats and ats[0] >= ats[1]:
        found.append("fairway: the second distance must be greater than the first")
    for place, trouble in enumerate(form.trouble, start=1):
        if trouble.kind not in TROUBLE:
            found.append(f"trouble {place}, kind: {trouble.kind!r} is not one of {', '.join(TROUBLE)}")
        if trouble.side not in SIDES:
            found.append(f"trouble {place}, side: {trouble.side!r} is not one of {', '.join(SIDES)}")
        within(f"trouble {place}, begins_yd", trouble.begins_yd, 0, 150)
        first, last = trouble.from_yd or 0.0, FARTHEST_YD if trouble.to_yd is None else trouble.to_yd
        if trouble.side in (LEFT, RIGHT) and not (0 <= first < map_end and last - first >= SHORTEST_STRETCH_YD):
            found.append(f"trouble {place}: from {first:g} to {last:g} yd is not a valid range")
    return found


def map_from_form(form: HoleForm) -> list[Feature]:
    """The features of the hole in local yards: tee, fairway, green, trouble. Raises MapFormError.

    The hole is in the middle of the green, at (0, length_yd).
    """
    if faults := form_faults(form):
        raise MapFormError(faults)
    half_width, half_depth = form.green_width_yd / 2, form.green_depth_yd / 2
    box, deep = TEE_BOX
    found = [feature("tee", [(-box, -deep), (box, -deep), (box, deep), (-box, deep)])]
    if form.fairway:
        found.append(_fairway(form, form.length_yd - half_depth))
    found.append(feature("green", oval(0, form.length_yd, half_width, half_depth)))
    return found + [_trouble(form, trouble) for trouble in form.trouble]


def _map_end(form: HoleForm) -> float:
    """y where trouble without an end stops."""
    return form.length_yd + form.green_depth_yd / 2 + PAST_GREEN_YD


def middle_line(form: HoleForm, y: float) -> float:
    """x of the middle of the fairway: a parabola through tee and green that swings out by `bend_yd`."""
    along = min(max(y / form.length_yd, 0.0), 1.0)
    return 4 * form.bend_yd * along * (1 - along)


def _stations(first: float, last: float) -> Iterator[float]:
    yield first
    y = first + STEP_YD
    while y < last - STEP_YD / 2:
        yield y
        y += STEP_YD
    yield last


def _fairway(form: HoleForm, green_front: float) -> Feature:
    near, far = form.fairway[0], form.fairway[-1]
    start = max(20.0, near[0] - FAIRWAY_BEFORE_YD)

    def width(y: float) -> float:
        if near[0] == far[0]:
            return near[1]
        share = min(max((y - near[0]) / (far[0] - near[0]), 0.0), 1.0)
        return near[1] + share * (far[1] - near[1])

    ys = list(_stations(min(start, green_front - 1.0), green_front))
    right = [(middle_line(form, y) + width(y) / 2, y) for y in ys]
    left = [(middle_line(form, y) - width(y) / 2, y) for y in reversed(ys)]
    return feature("fairway", right + left)


def _trouble(form: HoleForm, trouble: Trouble) -> Feature:
    kind = TROUBLE[trouble.kind]
    wide = BUNKER_YD if kind == "bunker" else WIDE_YD
    half_width, half_depth = form.green_width_yd / 2, form.green_depth_yd / 2
    if trouble.side in (SHORT, LONG):
        sign = 1 if trouble.side == LONG else -1
        near = form.length_yd + sign * (half_depth + trouble.begins_yd)
        far = near + sign * (BUNKER_YD if trouble.side == SHORT or kind == "bunker" else wide)
        aside = half_width if kind == "bunker" else wide
        return feature(kind, [(-aside, near), (aside, near), (aside, far), (-aside, far)])
    sign = 1 if trouble.side == RIGHT else -1
    first = trouble.from_yd if trouble.from_yd is not None else -20.0
    last = trouble.to_yd if trouble.to_yd is not None else _map_end(form)
    ys = list(_stations(first, last))
    inner = [(middle_line(form, y) + sign * trouble.begins_yd, y) for y in ys]
    outer = [(middle_line(form, y) + sign * (trouble.begins_yd + wide), y) for y in reversed(ys)]
    return feature(kind, inner + outer)
