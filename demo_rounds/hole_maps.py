"""Write the maps of the invented course: `python -m demo_rounds.hole_maps [--to DIR]`.

Every hole of `course.toml` becomes polygons in local yards, features of one GeoJSON collection with the property
`hole`. Circles and the bent middle line become polygons whose edges lie within an inch or two of the curves.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any, Final

from demo_rounds.course import APRON_YD, FAIRWAY_FROM_YD, Hole, load_course
from server.game.hole_maps import Feature, feature, oval

FOLDER: Final = Path(__file__).parent
FILE: Final = "hole_maps.geojson"
WIDE_YD: Final = 120.0
"""Trees and out of bounds reach so far beyond where they begin."""
STEP_YD: Final = 10.0
BEFORE_TEE_YD, PAST_GREEN_YD = -20.0, 60.0
TEE_BOX: Final = (3.0, 5.0)
RELIEF: Final = {"lateral": "lateral_water_hazard", "line": "water_hazard"}


def features_of(hole: Hole) -> list[Feature]:
    """The map of one hole, as its ground is described in `course.toml`."""
    far = hole.back + PAST_GREEN_YD
    found = [_box("tee", -TEE_BOX[0], TEE_BOX[0], y - TEE_BOX[1], y + TEE_BOX[1]) for y in _tees(hole)]
    start = hole.back - hole.green[2] - APRON_YD if hole.par == 3 else FAIRWAY_FROM_YD
    half = hole.fairway_width / 2
    found.append(_strip(hole, "fairway", -half, half, start, float(hole.back)))
    x, past, radius = hole.green
    found.append(feature("green", oval(x, hole.back + past, radius, radius)))
    found += [feature("bunker", oval(bx, hole.back + by, r, r)) for bx, by, r in hole.bunkers]
    found += [feature(RELIEF[water.relief], _corners(*water.area)) for water in hole.water]
    left, right = hole.trees
    if left:
        found.append(_strip(hole, "trees", -left - WIDE_YD, -left, BEFORE_TEE_YD, far))
    if right:
        found.append(_strip(hole, "trees", right, right + WIDE_YD, BEFORE_TEE_YD, far))
    bounds = hole.out_of_bounds
    if "left" in bounds:
        found.append(_strip(hole, "out_of_bounds", -bounds["left"] - WIDE_YD, -bounds["left"], BEFORE_TEE_YD, far))
    if "right" in bounds:
        found.append(_strip(hole, "out_of_bounds", bounds["right"], bounds["right"] + WIDE_YD, BEFORE_TEE_YD, far))
    if "behind" in bounds:
        edge = hole.back + bounds["behind"]
        found.append(_box("out_of_bounds", -WIDE_YD, WIDE_YD, edge, edge + WIDE_YD))
    return found


def _tees(hole: Hole) -> list[float]:
    """y of the tees, the back one first; two closer than a tee box is long are one."""
    apart = hole.back - hole.middle
    return [0.0, float(apart)] if apart > 2 * TEE_BOX[1] else [0.0]


def _corners(left: float, right: float, near: float, far: float) -> list[tuple[float, float]]:
    return [(left, near), (right, near), (right, far), (left, far)]


def _box(golf: str, left: float, right: float, near: float, far: float) -> Feature:
    return feature(golf, _corners(left, right, near, far))


def _strip(hole: Hole, golf: str, left: float, right: float, near: float, far: float) -> Feature:
    """A strip along the middle line between two offsets."""
    steps = round((far - near) / STEP_YD)
    ys = [near + (far - near) * step / steps for step in range(steps + 1)]
    one = [(hole.middle_line(y) + right, y) for y in ys]
    other = [(hole.middle_line(y) + left, y) for y in reversed(ys)]
    return feature(golf, one + other)


def collection() -> dict[str, Any]:
    """All holes as one GeoJSON collection."""
    course = load_course()
    found = []
    for hole in course.holes:
        for made in features_of(hole):
            made["properties"]["hole"] = hole.number
            found.append(made)
    return {"type": "FeatureCollection", "course": course.name, "units": "local yards", "features": found}


def main(arguments: list[str] | None = None) -> None:
    """Write the collection into a folder."""
    parser = argparse.ArgumentParser(
        prog="python -m demo_rounds.hole_maps", description="Write the maps of the invented course again."
    )
    parser.add_argument("--to", type=Path, default=FOLDER, metavar="DIR", help="folder to write to")
    options = parser.parse_args(arguments)
    options.to.mkdir(parents=True, exist_ok=True)
    made = collection()
    head = {key: value for key, value in made.items() if key != "features"}
    lines = ",\n".join(json.dumps(entry, separators=(",", ":")) for entry in made["features"])
    text = json.dumps(head)[:-1] + ', "features": [\n' + lines + "\n]}\n"
    (options.to / FILE).write_text(text, encoding="utf-8")
    print(f"{len(made['features'])} features of {len(load_course().holes)} holes written to {options.to / FILE}")


if __name__ == "__main__":
    main()
