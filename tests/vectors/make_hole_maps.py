"""Makes `hole_maps.json`: forms of holes and the maps that they become, which Python and the browser must both meet.

    python -m tests.vectors.make_hole_maps          writes the file anew

Form: {"cases": [{"name", "form", "features"}, {"name", "form", "faults"}]}. `form` as the phone keeps it; `features`
GeoJSON polygons in yards to 0.01; `faults` the words of what is wrong, in order.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, Final

from server.game.map_form import HoleForm, MapFormError, Trouble, map_from_form

PATH: Final = Path(__file__).with_name("hole_maps.json")

PLAIN: Final[dict[str, Any]] = {"length_yd": 400, "green_depth_yd": 28, "green_width_yd": 24, "fairway": [[220, 32]]}
BENT: Final = PLAIN | {"length_yd": 431.5, "fairway": [[200, 34], [290, 26]], "bend_yd": -37}


def _trouble(kind: str, side: str, begins_yd: Any, from_yd: Any = None, to_yd: Any = None) -> dict[str, Any]:
    return {"kind": kind, "side": side, "begins_yd": begins_yd, "from_yd": from_yd, "to_yd": to_yd}


ALL_KINDS: Final = [
    _trouble("out_of_bounds", "right", 40),
    _trouble("red water", "left", 28, 180, 260),
    _trouble("yellow water", "short", 4),
    _trouble("trees", "long", 12.5),
    _trouble("bunker", "right", 17, 230, 250),
    _trouble("bunker", "short", 3),
    _trouble("bunker", "long", 0),
]

SOUND: Final[dict[str, dict[str, Any]]] = {
    "a par 3 of tee and green alone": {"length_yd": 160, "green_depth_yd": 26, "green_width_yd": 22},
    "one width": PLAIN,
    "two widths": PLAIN | {"fairway": [[200, 36], [300, 28]]},
    "every kind of trouble": PLAIN | {"trouble": ALL_KINDS},
    "every kind of trouble on a bent hole": BENT | {"trouble": ALL_KINDS},
    "a bend to the right": PLAIN | {"bend_yd": 25},
    "halves of a hundredth are rounded to even": PLAIN | {"fairway": [[220, 30.25]], "bend_yd": 0.125},
    "trouble from half way on": BENT | {"trouble": [_trouble("trees", "left", 22, 215.75)]},
    "trouble up to half way": BENT | {"trouble": [_trouble("trees", "right", 22, None, 215.75)]},
    "the longest and widest": {
        "length_yd": 700,
        "green_depth_yd": 80,
        "green_width_yd": 80,
        "fairway": [[50, 120], [700, 5]],
        "bend_yd": 150,
        "trouble": [_trouble("out_of_bounds", "right", 150)],
    },
    "the shortest": {"length_yd": 50, "green_depth_yd": 80, "green_width_yd": 5, "fairway": [[50, 5]]},
}
BAD: Final[dict[str, dict[str, Any]]] = {
    "too long": PLAIN | {"length_yd": 5000},
    "nothing filled in": {"length_yd": None, "green_depth_yd": None, "green_width_yd": None},
    "a green of no depth": PLAIN | {"green_depth_yd": 0},
    "a bend across the next hole": PLAIN | {"bend_yd": -151},
    "a fairway behind the green": PLAIN | {"fairway": [[401, 30]]},
    "a fairway too wide": PLAIN | {"fairway": [[200, 30], [300, 500]]},
    "a width without its distance": PLAIN | {"fairway": [[None, 30], [250, 30]]},
    "widths the wrong way round": PLAIN | {"fairway": [[300, 30], [200, 30]]},
    "three widths": PLAIN | {"fairway": [[200, 30], [250, 30], [300, 30]]},
    "no such trouble": PLAIN | {"trouble": [_trouble("moat", "left", 20)]},
    "no such side": PLAIN | {"trouble": [_trouble("trees", "above", 20)]},
    "trouble that begins nowhere": PLAIN | {"trouble": [_trouble("trees", "left", None)]},
    "trouble far away": PLAIN | {"trouble": [_trouble("trees", "left", 20), _trouble("bunker", "long", 150.5)]},
    "a stretch the wrong way round": PLAIN | {"trouble": [_trouble("trees", "left", 20, 300, 200)]},
    "a stretch behind the hole": PLAIN | {"trouble": [_trouble("trees", "left", 20, 454)]},
    "a stretch of no length": PLAIN | {"trouble": [_trouble("trees", "left", 20, 100, 100.5)]},
    "several at once": PLAIN | {"green_width_yd": 81, "bend_yd": 200, "trouble": [_trouble("moat", "above", -1)]},
}


def form_of(raw: dict[str, Any]) -> HoleForm:
    """The form as Python has it."""
    return HoleForm(
        **{
            **raw,
            "fairway": tuple((at, width) for at, width in raw.get("fairway", [])),
            "trouble": tuple(Trouble(**one) for one in raw.get("trouble", [])),
        }
    )


def _case(name: str, raw: dict[str, Any]) -> dict[str, Any]:
    try:
        return {"name": name, "form": raw, "features": map_from_form(form_of(raw))}
    except MapFormError as error:
        return {"name": name, "form": raw, "faults": error.faults}


def made_now() -> str:
    """What the file must hold: a line for every case."""
    cases = [_case(name, raw) for name, raw in (SOUND | BAD).items()]
    lines = ",\n".join(json.dumps(case, allow_nan=False) for case in cases)
    return f'{{"cases": [\n{lines}\n]}}\n'


if __name__ == "__main__":
    PATH.write_text(made_now(), encoding="utf-8")
    print(f"wrote {PATH}")
    sys.exit(0)
