"""Part swings of both sources: the course's, and where rounds are not enough data practice's, its shift allowed for.

Errors are taken as shares of the target, and the shift of a club or of a band is learnt from the others, as in
`pooling`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from server.analysis.patterns.part_swings import bias_words
from server.analysis.patterns.rows import PartSwingBand, PartSwingClub, PartSwingRow, PartSwings
from server.analysis.patterns.spread import Figure
from server.analysis.practice.pooling import pooled, proportional, shift_of

Row = TypeVar("Row", PartSwingBand, PartSwingClub)


def part_swings_of_both(course: PartSwings, practice: PartSwings, level: float) -> PartSwings:
    """The part swings of the course; rows that rounds are too few for filled in by practice where it is known how
    practice differs."""
    clubs = _filled_in(course["clubs"], practice["clubs"], "club", level)
    bands = _filled_in(course["bands"], practice["bands"], "taken_off", level)
    return {**course, "clubs": clubs, "bands": bands}


def _filled_in(course: Sequence[Row], practice: Sequence[Row], name: str, level: float) -> list[Row]:
    found: dict[str, Row] = {str(row[name]): row for row in course}  # type: ignore[literal-required]
    beside: dict[str, Row] = {str(row[name]): row for row in practice}  # type: ignore[literal-required]
    shifts = {key: _shift(found[key], row) for key, row in beside.items() if key in found}
    made: list[Row] = []
    for key in [*found, *(key for key in beside if key not in found)]:
        if key not in beside:
            made.append(found[key])
            continue
        others = [shift for other, shift in shifts.items() if other != key and shift is not None]
        made.append(_of_both(found.get(key), beside[key], others, level))
    return made


def _figure(row: PartSwingRow | None) -> Figure:
    """The mean error as a share of the target."""
    if row is None or row["bias_yd"] is None or row["target_yd"] is None:
        return Figure(None, None, None, 0)
    return Figure(row["bias_yd"], row["low"], row["high"], row["shots"]).through(proportional(row["target_yd"]).to)


def _shift(course: PartSwingRow, practice: PartSwingRow) -> float | None:
    return shift_of(_figure(course), _figure(practice))


def _of_both(course: Row | None, practice: Row, others: Sequence[float], level: float) -> Row:
    own = _figure(course)
    bias_found = pooled(own, _figure(practice), others, level=level)
    if course is not None and (bias_found is own or bias_found.value is None):
        return course
    shots, rounds = (0, 0) if course is None else (course["shots"], course["rounds"])
    bare: PartSwingRow = {
        "shots": shots, "rounds": rounds, "target_yd": practice["target_yd"], "bias_yd": None, "low": None,
        "high": None, "bias_pct": None, "spread_yd": None, "half_within_yd": None, "half_within_pct": None,
        "lacking": None, "words": "",
    }  # fmt: skip
    target = practice["target_yd"]
    if bias_found.value is None or bias_found.low is None or bias_found.high is None or target is None:
        bare["words"] = f"Not enough data on the course; {practice['shots']} practice balls show practice only."
        bare["lacking"] = bare["words"]
    else:
        bias, low, high = (target * end for end in (bias_found.value, bias_found.low, bias_found.high))
        bare["bias_yd"], bare["low"], bare["high"], bare["bias_pct"] = bias, low, high, 100 * bias_found.value
        bare["words"] = f"{bias_words(bias, low, high, level)} By {practice['shots']} practice balls."
    made = practice.copy()
    made.update(bare)  # type: ignore[typeddict-item]
    return made
