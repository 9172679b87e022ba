"""Patterns: where a club finishes against its target, with every figure's interval and what is not known yet.

Normal shapes fit badly in the tails (mishits come up short), so quantiles and skew are given beside the ellipse, and a
robust centre and spread beside the plain ones with the number of shots that they set aside.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from scipy import stats

from server.analysis.patterns.ellipses import Robust, circular_error, next_shot_ellipse, robust_fit
from server.analysis.patterns.finishes import FROM_DISTANCES, GOOD_LIES, TAPPED
from server.analysis.patterns.rows import (
    Circle,
    Direction,
    EllipseRow,
    FigureRow,
    Finish,
    Finishes,
    GroupPattern,
    Pattern,
    RobustRow,
    SideGroup,
    SideShares,
)
from server.analysis.patterns.spread import FEWEST_SHOTS, mean_figure, share_figure, spread_figure
from server.analysis.patterns.two_groups import two_groups

SPLITS: Final[dict[str, str | None]] = {"club": None, "lie": "lie", "setup": "setup", "shape": "planned_shape"}
"""What the patterns of a club may be split by, and the column. Full and part swings are always apart."""

QUANTILES: Final = (0.1, 0.25, 0.5, 0.75, 0.9)
ELLIPSE_SHARE: Final = 0.9

FEW_FOR_SIDE: Final = 35
"""A standard deviation from n shots is known to +-1.645 / sqrt(2 (n - 1)) of itself at 90 %: 20 % takes 35 shots."""
FEW_FOR_DEPTH: Final = 10
"""Other figures than the side spread repeat after 7 to 10 swings. Source: Sensors 22(23):9069 (2022)."""

MOST_FINISHES: Final = 500
"""Single finishes that a pattern lists at the most, the latest: a picture cannot show more of them. A choice of
this tool."""

SIDE_WARNING: Final = (
    "the side spread needs far more shots than the length: with 15 swings it does not repeat (Sensors 22:9069, 2022); "
    f"trust it from about {FEW_FOR_SIDE} shots on"
)


def patterns(finishes: pd.DataFrame, split: str = "club", *, singles: bool = False) -> list[Pattern]:
    """The patterns of every club, the clubs by their distance, longest first; full swings before part swings.

    `finishes`: as `finishes.finishes` returns it. `split`: a key of `SPLITS`; but for "lie" only
    shots from good lies (tee, fairway, fringe) count. `singles`: each pattern lists its finishes too, see
    `single_finishes`. ValueError for another `split`.
    """
    if split not in SPLITS:
        raise ValueError(f"split: {split!r} is not one of {', '.join(SPLITS)}")
    column = SPLITS[split]
    good = finishes["lie"].astype("object").isin(GOOD_LIES)
    taken = finishes if split == "lie" else finishes[good.to_numpy()]
    found: list[Pattern] = []
    for (club, swing), part in taken.groupby(["club", "swing"], observed=True, sort=False):
        groups = [("", part)] if column is None else list(_by(part, column))
        for name, group in groups:
            figures = pattern(group, singles=singles)
            found.append({"club": str(club), "swing": str(swing), "split": split, "group": name, **figures})
    reach = reach_of_clubs(taken)
    return sorted(found, key=lambda row: (-reach.get(row["club"], 0.0), row["club"], row["swing"], row["group"]))


def reach_of_clubs(finishes: pd.DataFrame) -> dict[str, float]:
    """The median yards along the line of each club's full swings, of the clubs with any."""
    full = finishes[finishes["swing"].eq("full") & finishes["along_yd"].notna()]
    return {str(club): float(part["along_yd"].median()) for club, part in full.groupby("club", observed=True)}


def _by(part: pd.DataFrame, column: str) -> list[tuple[str, pd.DataFrame]]:
    names = part[column].astype("object")
    names = names.where(names.notna(), "not recorded")
    return [(str(name), part[(names == name).to_numpy()]) for name in sorted(set(names))]


def pattern(group: pd.DataFrame, *, singles: bool = False) -> GroupPattern:
    """The pattern of one group of finishes; `singles`: with each finish."""
    tapped = group[group["source"].eq(TAPPED)]
    rounds = group["round_id"]
    # of a practice ball without a target the side alone is known
    finished = tapped[tapped["long_yd"].notna().to_numpy()]
    both = finished[["right_yd", "long_yd"]].to_numpy(dtype=np.float64)
    groups = side_groups(both)
    # a robust fit of two groups takes one of them for shots astray
    fit = None if groups else robust_fit(both)
    found: GroupPattern = {
        "shots": len(group),
        "rounds": int(rounds.nunique()),
        "tapped": len(tapped),
        "from_distances": int(group["source"].eq(FROM_DISTANCES).sum()),
        "target_yd": _median(group["target_yd"]),
        "right": _direction(tapped["right_yd"], tapped["round_id"]),
        "long": _direction(group["long_yd"], rounds),
        "offline_deg": _direction(tapped["offline_deg"], tapped["round_id"]),
        "ellipse": None if groups else _ellipse(both),
        "circle": None if groups else _circle(both),
        "groups": groups,
        "median_from_target_yd": float(np.median(np.hypot(*both.T))) if len(both) else None,
        "shares": _shares(group),
        "robust": _robust(fit, both),
        "warnings": [],
    }
    found["warnings"] = _warnings(found)
    return {**found, "finishes": single_finishes(finished, fit)} if singles else found


def single_finishes(tapped: pd.DataFrame, fit: Robust | None) -> Finishes:
    """The tapped finishes one by one, earliest first, the latest `MOST_FINISHES` of them.

    `tapped`: (n,) rows with `played_on`, `right_yd`, `long_yd`. `fit`: the robust fit of the same rows in the same
    order; None sets no shot aside. Returns `shots`, each with `right_yd`, `long_yd` and `set_aside`, and how many
    earlier ones were `left_out`.
    """
    aside = np.zeros(len(tapped), dtype=bool) if fit is None else fit.aside
    reported = tapped[["played_on", "right_yd", "long_yd"]].assign(set_aside=aside)
    latest = reported.sort_values("played_on", kind="stable").tail(MOST_FINISHES)
    columns = (latest[name].tolist() for name in ("right_yd", "long_yd", "set_aside"))
    shots: list[Finish] = [
        {"right_yd": right, "long_yd": long, "set_aside": far} for right, long, far in zip(*columns, strict=True)
    ]
    return {"shots": shots, "left_out": len(tapped) - len(shots)}


def _median(values: pd.Series) -> float | None:
    return None if values.isna().all() else float(values.median())


def _direction(values: pd.Series, rounds: pd.Series) -> Direction:
    """Mean, spread, quantiles and skew along one direction."""
    numbers = values.to_numpy(dtype=np.float64)
    numbers = numbers[np.isfinite(numbers)]
    enough = numbers.size >= FEWEST_SHOTS
    return {
        "centre": mean_figure(values, rounds).as_dict(),
        "spread": spread_figure(values, rounds).as_dict(),
        "quantiles": {f"{q:g}": float(np.quantile(numbers, q)) for q in QUANTILES} if enough else {},
        "skew": skew(numbers),
    }


def skew(numbers: np.ndarray) -> float | None:
    """Adjusted skewness G1 = sqrt(n (n - 1)) / (n - 2) m3 / m2^1.5; below zero for a tail to the short or left side.
    None for fewer than 5 or equal numbers."""
    if numbers.size < FEWEST_SHOTS or np.ptp(numbers) == 0:
        return None
    return float(stats.skew(numbers, bias=False))


def _ellipse(both: np.ndarray) -> EllipseRow | None:
    found = next_shot_ellipse(both, ELLIPSE_SHARE) if len(both) >= FEWEST_SHOTS else None
    if found is None:
        return None
    return {
        "holds_next_shot": ELLIPSE_SHARE,
        "shots": len(both),
        "right_yd": found.right_yd,
        "long_yd": found.long_yd,
        "half_long_yd": found.half_long_yd,
        "half_short_yd": found.half_short_yd,
        "turned_deg": found.turned_deg,
    }


def side_groups(both: np.ndarray) -> list[SideGroup]:
    """The left and the right group of finishes, each with its own ellipse; none where one group does.

    `both`: (n, 2) right and long in yards.
    """
    found = two_groups(both[:, 0])
    if found is None:
        return []
    sides = ((found.share_left, found.left, ~found.in_right), (1 - found.share_left, found.right, found.in_right))
    return [
        {
            "share": share,
            "shots": int(of_side.sum()),
            "right_yd": middle,
            "spread_yd": found.spread,
            "ellipse": _ellipse(both[of_side]),
        }
        for share, middle, of_side in sides
    ]


def groups_words(groups: list[SideGroup]) -> str:
    """Two groups in a sentence, yards."""
    parts = [f"{one['share']:.0%} around {abs(one['right_yd']):.0f} yd {_side(one['right_yd'])}" for one in groups]
    return f"two groups, not one: {' and '.join(parts)} of the target, few between them; the mean lies where few end"


def _side(right_yd: float) -> str:
    return "left" if right_yd < 0 else "right"


def _circle(both: np.ndarray) -> Circle | None:
    """Radii around the pattern's own centre that hold half and nine tenths, by the normal formula."""
    if len(both) < FEWEST_SHOTS:
        return None
    variances = np.maximum(np.linalg.eigvalsh(np.cov(both.T)), 0.0)
    small, large = (float(root) for root in np.sqrt(variances))
    return {"half_yd": circular_error(small, large, 0.5), "nine_tenths_yd": circular_error(small, large, 0.9)}


def _shares(group: pd.DataFrame) -> SideShares:
    rounds = group["round_id"]

    def share(flags: pd.Series, known: pd.Series) -> FigureRow:
        return share_figure(flags.astype(float).where(known), rounds).as_dict()

    right, long = group["right_yd"], group["long_yd"]
    return {
        "short": share(long < 0, long.notna()),
        "long": share(long > 0, long.notna()),
        "left": share(right < 0, right.notna()),
        "right": share(right > 0, right.notna()),
        "playable": share_figure(group["playable"], rounds).as_dict(),
    }


def _robust(fit: Robust | None, both: np.ndarray) -> RobustRow | None:
    """Centre and spreads without the shots far out of the pattern, and how many were set aside on which side."""
    if fit is None:
        return None
    aside = both[fit.aside]
    return {
        "right_yd": float(fit.centre[0]),
        "long_yd": float(fit.centre[1]),
        "right_spread_yd": float(fit.covariance[0, 0] ** 0.5),
        "long_spread_yd": float(fit.covariance[1, 1] ** 0.5),
        "set_aside": len(aside),
        "set_aside_short": int((aside[:, 1] < fit.centre[1]).sum()),
        "set_aside_left": int((aside[:, 0] < fit.centre[0]).sum()),
    }


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"


def _warnings(found: GroupPattern) -> list[str]:
    stated = [groups_words(found["groups"])] if found["groups"] else []
    hit, rounds = _counted(found["shots"], "shot", "shots"), _counted(found["rounds"], "round", "rounds")
    if found["shots"] < FEWEST_SHOTS or found["rounds"] < 2:
        stated.append(f"not clear yet: {hit} in {rounds}; at least 5 shots in 2 rounds are needed")
    elif found["shots"] < FEW_FOR_DEPTH:
        stated.append(f"only {hit}: lengths repeat from about {FEW_FOR_DEPTH} shots on")
    if found["tapped"] < FEW_FOR_SIDE:
        stated.append(f"{_counted(found['tapped'], 'tapped finish', 'tapped finishes')}: {SIDE_WARNING}")
    untapped = found["from_distances"]
    if untapped:
        stated.append(
            f"{_counted(untapped, 'shot', 'shots')} without a tapped finish: the length comes from the distances "
            "before and after, the side is not known"
        )
    aside = found["robust"]["set_aside"] if found["robust"] else 0
    if aside:
        stated.append(f"{aside} outlier{'' if aside == 1 else 's'}, left out of the robust figures")
    return stated
