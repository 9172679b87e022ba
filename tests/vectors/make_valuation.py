"""Makes `valuation.json`: shots and their values, which Python and the browser must both meet to 1e-9.

    python -m tests.vectors.make_valuation          writes the file anew
    python -m tests.vectors.make_valuation --check  says whether the file is what would be written now

Form: {"baseline": {"id", "version"}, "cases": [{"name", "kind", "par", "shots": [...], "expected": [...], "score",
"strokes_gained_of_record"}]}. `kind` is the round's (practice where there are extra balls). `expected` stands in the
order of `shots`, not always the order of play; null stands for "no value". `score` is the strokes and
penalty strokes of ball 1, null unless its numbers run 1..n and its last shot alone is holed.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path
from typing import Any

import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline, load_baseline
from server.analysis.strokes_gained.attribution import attribute
from server.game.categories import FOUR_PART, THREE_PART, CategoryScheme
from tests.vectors.valuation_cases import Case, all_cases

PATH = Path(__file__).with_name("valuation.json")
SHOT_FIELDS = [
    "ball",
    "order",
    "lie",
    "distance_yd",
    "holed",
    "penalty_strokes",
    "penalty_reason",
    "end_lie",
    "end_distance_yd",
]


def _or_null(value: Any) -> Any:
    """A JSON value: null for a missing one, plain numbers and text otherwise."""
    if pd.isna(value):
        return None
    return value.item() if hasattr(value, "item") else value


def score_of_record(shots: list[dict[str, Any]]) -> int | None:
    """Strokes and penalty strokes of ball 1, or None while it has no score."""
    played = sorted((shot for shot in shots if shot["ball"] == 1), key=lambda shot: shot["order"])
    numbers = [shot["order"] for shot in played]
    holed = [shot["holed"] for shot in played]
    if not played or numbers != list(range(1, len(played) + 1)) or holed != [False] * (len(played) - 1) + [True]:
        return None
    return len(played) + sum(shot["penalty_strokes"] for shot in played)


def valued_case(case: Case, baseline: Baseline) -> dict[str, Any]:
    """One case with its shots and what they are worth."""
    shots = [{name: shot[name] for name in SHOT_FIELDS} for shot in case.shots]
    frame = pd.DataFrame(shots).assign(round_id=1, hole=1, par=case.par)
    four = attribute(frame, baseline, CategoryScheme(FOUR_PART))
    three = attribute(frame, baseline, CategoryScheme(THREE_PART))
    columns = {
        "category_four_part": four["category"],
        "category_three_part": three["category"],
        **{name: four[name] for name in ("expected_before", "expected_after", "strokes_gained", "basis")},
        **{name: four[name] for name in ("end_lie", "end_distance_yd")},
    }
    rows = zip(*columns.values(), strict=True)
    gained = four.loc[four["ball"] == 1, "strokes_gained"].dropna()
    return {
        "name": case.name,
        "kind": "practice" if any(shot["ball"] > 1 for shot in shots) else "casual",
        "par": case.par,
        "shots": shots,
        "expected": [dict(zip(columns, map(_or_null, row), strict=True)) for row in rows],
        "score": score_of_record(shots),
        "strokes_gained_of_record": math.fsum(gained) if len(gained) else None,
    }


def as_text(cases: list[dict[str, Any]], baseline: Baseline) -> str:
    """The file's text: JSON with a line for every shot."""
    lines = [f'{{"baseline": {json.dumps({"id": baseline.id, "version": baseline.version})}, "cases": [']
    blocks = []
    for case in cases:
        head = {name: value for name, value in case.items() if name not in ("shots", "expected")}
        lists = []
        for name in ("shots", "expected"):
            rows = ",\n    ".join(json.dumps(row, allow_nan=False) for row in case[name])
            lists.append(f'  "{name}": [\n    {rows}]')
        blocks.append(json.dumps(head)[:-1] + ",\n" + ",\n".join(lists) + "}")
    return "\n".join([*lines, ",\n".join(blocks), "]}"]) + "\n"


def made_now() -> str:
    """What the file must hold."""
    baseline = load_baseline("tour")
    return as_text([valued_case(case, baseline) for case in all_cases()], baseline)


def main(arguments: list[str]) -> int:
    """Write the file, or compare it."""
    if arguments == ["--check"]:
        same = PATH.is_file() and PATH.read_text(encoding="utf-8") == made_now()
        print(f"{PATH.name} is {'up to date' if same else 'not what would be written now'}")
        return 0 if same else 1
    PATH.write_text(made_now(), encoding="utf-8")
    print(f"wrote {PATH}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
