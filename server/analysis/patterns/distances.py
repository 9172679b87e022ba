"""The distance ladder: how far each club's full swing goes, all shots counted, and the gap or overlap to the next club.

Overlap is the chance that of two shots on the same day the one with the shorter club goes further: P(Y > X) +
P(Y = X) / 2, the Mann-Whitney share. The choice between two clubs is made on one day, so what makes a day long or short
(wind, air, firmness) is taken out first: a length is divided by the day's factor, the median over all clubs' full
swings of the round of length by the club's median. Days change lengths in proportion (common practice, no source).

Its interval is on the logit scale with a t quantile. Its variance has rounds as clusters (N. A. Obuchowski, Biometrics
53, 1997, 567-578, read in two R packages that compute it, mitoticFigureCounts and fastAUC) and is at least that of
independent shots (DeLong, DeLong and Clarke-Pearson, Biometrics 44, 1988, 837-845).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
import pandas as pd
from scipy import special, stats

from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.air import Air
from server.analysis.patterns.finishes import FROM_DISTANCES
from server.analysis.patterns.rows import Ladder, Rung, Step
from server.analysis.patterns.spread import FEWEST_ROUNDS, FEWEST_SHOTS, LEVEL, Figure, median_figure

GAP_YD: Final = 18.0
"""A step wider than this is flagged. An elite player's irons step 12 to 15 yd (common practice, no source)."""
OVERLAP: Final = 0.35
"""An overlap above this is flagged. A choice of this tool: two clubs of one distance overlap by one half."""

DAY_SWINGS: Final = 5
"""A round with fewer full swings than this keeps its lengths as they are: its factor would be noise. A choice of this
tool."""
DAY_STEPS: Final = 5
"""Medians of clubs and of days are taken in turn this often; they settle in three or four."""

GAP, OVERLAPS, FITS, CANNOT_TELL = "gap", "overlap", "fits", "not clear yet"
BOTH_ON_TRIAL: Final = "both on trial"
"""Clubs that overlap because one is to take the other's place: alternatives, not steps of one bag."""

WIND_CAUTION: Final = "wind, firmness and temperature change distances"


def distances(
    swings: pd.DataFrame,
    *,
    gap_yd: float = GAP_YD,
    overlap: float = OVERLAP,
    air: Air | None = None,
    on_trial: Collection[str] = (),
    median: Callable[[Floats, pd.Series], Figure] = median_figure,
    practice: Practised | None = None,
) -> Ladder:
    """The ladder of full swings from good lies, longest club first, with the steps between neighbours.

    `swings`: as `full_swings.full_swings` returns them. `air`: off when None. `on_trial`: clubs
    compared with each other; two of them that overlap are no fault of the bag. `median`: makes the figure of a club out
    of its lengths and their rounds. `practice`: what fills in where rounds do not show a club's length. Distances are
    yards along the line to where the ball came to rest. ValueError for a setting outside its range (0 to 100 yd; 0 to
    0.5).
    """
    if not 0 < gap_yd <= 100:
        raise ValueError(f"gap_yd: {gap_yd:g} is outside 0 to 100 yd")
    if not 0 < overlap <= 0.5:
        raise ValueError(f"overlap: {overlap:g} is outside 0 to 0.5")
    factor = 1.0 if air is None else air.factor
    swings = swings.assign(on_usual_day=on_usual_day(swings) * factor)
    groups = {str(club): part for club, part in swings.groupby("club", observed=True) if len(part)}
    samples = {club: _sample(club, part, factor, median) for club, part in groups.items()}
    if practice is not None:
        samples = _filled_in(samples, practice, factor)
    ordered = sorted(samples.values(), key=lambda sample: (-sample.middle, sample.club))
    steps = [_step(one, two, gap_yd, overlap) for one, two in pairwise(ordered)]
    for step in steps:
        if step["flag"] == OVERLAPS and {step["longer"], step["shorter"]} <= set(on_trial):
            step["flag"] = BOTH_ON_TRIAL
    return {
        "clubs": [_rung(sample) for sample in ordered],
        "steps": steps,
        "settings": {"gap_yd": gap_yd, "overlap": overlap},
        "air": None if air is None else air.as_dict(),
        "caution": WIND_CAUTION,
    }


@dataclass(frozen=True, eq=False)
class Sample:
    """The full swings of one club: how far they go, yards (n,), their median with its interval, and `middle`, its
    value. `usual`: the same lengths as on a usual day, yards (n,); `rounds`: of each, (n,). `practised`: they are
    practice balls, the median alone is of the course."""

    club: str
    part: pd.DataFrame
    along: Floats
    usual: Floats
    median: Figure
    practised: bool = False

    @property
    def rounds(self) -> pd.Series:
        """The round of every swing."""
        return self.part["round_id"]

    @property
    def middle(self) -> float:
        """The median: a club without a shot has no sample."""
        assert self.median.value is not None
        return self.median.value


@dataclass(frozen=True, eq=False)
class Practised:
    """Practice balls beside the course's: their full swings, as `swings` of `distances`, and the medians of the course
    that both sources make (`practice.of_course.pooled_medians`), by club."""

    swings: pd.DataFrame
    medians: Mapping[str, Figure]


def _filled_in(samples: Mapping[str, Sample], practice: Practised, factor: float) -> dict[str, Sample]:
    """The samples with the medians of both sources, and those of clubs that practice alone knows, moved to theirs."""
    made = {}
    for club, found in practice.medians.items():
        median = found.through(lambda yards: yards * factor)
        if club in samples:
            made[club] = replace(samples[club], median=median)
            continue
        part = practice.swings[practice.swings["club"].astype("object").eq(club).to_numpy()]
        if len(part) and median.value is not None:
            along = part["along_yd"].to_numpy(dtype=np.float64)
            moved = along * (median.value / float(np.median(along)))
            made[club] = Sample(club, part, moved, moved, median, practised=True)
    return made


def _sample(club: str, part: pd.DataFrame, factor: float, median: Callable[[Floats, pd.Series], Figure]) -> Sample:
    along = part["along_yd"].to_numpy(dtype=np.float64) * factor
    usual = part["on_usual_day"].to_numpy(dtype=np.float64)
    return Sample(club, part, along, usual, median(along, part["round_id"]))


def on_usual_day(swings: pd.DataFrame) -> pd.Series:
    """How far each full swing would have gone on a usual day: its length with the day's factor taken out, yards, by the
    frame's index.

    What is left of a swing around its club's median is widened by sqrt(n / (n - 1)), n the round's swings: the factor
    took a little of it, since the swing is one of those that it was worked out from.
    """
    along, round_ = swings["along_yd"].astype("float64"), swings["round_id"]
    club = swings["club"].astype("object")
    count = along.groupby(round_).transform("size")
    enough = count >= DAY_SWINGS
    day = pd.Series(1.0, index=swings.index)
    middle = along.groupby(club).transform("median")
    for _ in range(DAY_STEPS):
        day = (along / middle).groupby(round_).transform("median").where(enough, 1.0)
        middle = (along / day).groupby(club).transform("median")
    wider = np.sqrt(count / (count - 1)).where(enough, 1.0)
    return middle + (along / day - middle) * wider


def _rung(sample: Sample) -> Rung:
    part, along = sample.part, sample.along
    tenth, quarter, three_quarters, nine_tenths = (float(x) for x in np.quantile(along, (0.1, 0.25, 0.75, 0.9)))
    enough = along.size >= FEWEST_SHOTS and not sample.practised
    return {
        "club": sample.club,
        "shots": 0 if sample.practised else int(along.size),
        "rounds": 0 if sample.practised else int(part["round_id"].nunique()),
        "from_distances": int(part["source"].eq(FROM_DISTANCES).sum()),
        "practice_balls": int(along.size) if sample.practised else 0,
        "median": sample.median.as_dict(),
        "middle_half": [quarter, three_quarters] if enough else None,
        "tenth_to_ninetieth": [tenth, nine_tenths] if enough else None,
    }


def _step(longer: Sample, shorter: Sample, gap_yd: float, overlap: float) -> Step:
    gap = _gap(longer, shorter)
    chance = goes_further(shorter.usual, longer.usual, rounds=(shorter.rounds, longer.rounds))
    if shorter.practised or longer.practised:
        # how far practice is off would have to widen it
        chance = Figure(chance.value, None, None, chance.n)
    flag, sure = _flag(gap, chance, gap_yd, overlap)
    return {
        "longer": longer.club,
        "shorter": shorter.club,
        "gap_yd": gap.as_dict(),
        "overlap": chance.as_dict(),
        "flag": flag,
        "sure": sure,
    }


def _flag(gap: Figure, chance: Figure, gap_yd: float, overlap: float) -> tuple[str, bool]:
    """What is stated of a step, and whether its interval confirms it."""
    if gap.low is None or chance.low is None or gap.value is None or chance.value is None:
        return CANNOT_TELL, False
    if gap.value > gap_yd:
        return GAP, bool(gap.low > gap_yd)
    if chance.value > overlap:
        return OVERLAPS, bool(chance.low > overlap)
    within = gap.high is not None and gap.high <= gap_yd and chance.high is not None and chance.high <= overlap
    return FITS, bool(within)


def _gap(longer: Sample, shorter: Sample) -> Figure:
    """Difference of two medians; the half widths of their intervals add as squares (independent clubs)."""
    far, near = longer.median, shorter.median
    value, count = longer.middle - shorter.middle, far.n + near.n
    if far.low is None or far.high is None or near.low is None or near.high is None:
        return Figure(value, None, None, count)
    below = float(((longer.middle - far.low) ** 2 + (near.high - shorter.middle) ** 2) ** 0.5)
    above = float(((far.high - longer.middle) ** 2 + (shorter.middle - near.low) ** 2) ** 0.5)
    return Figure(value, value - below, value + above, count)


def goes_further(
    shorter: Floats, longer: Floats, level: float = LEVEL, *, rounds: tuple[pd.Series, pd.Series] | None = None
) -> Figure:
    """Chance that a shot with the shorter club goes further than one with the longer. `shorter`: (m,), `longer`:
    (n,) yards; `rounds`: of the one (m,) and of the other (n,), each shot by itself when None.

    No interval for fewer than 5 shots of either. Where the samples do not overlap at all the interval starts at 0 and
    ends where Wilson's for 0 of min(m, n) ends.
    """
    if not shorter.size or not longer.size:
        return Figure(None, None, None, 0)
    beats = (shorter[:, None] > longer[None, :]) + 0.5 * (shorter[:, None] == longer[None, :])
    chance = float(beats.mean())
    count = int(shorter.size + longer.size)
    least = min(shorter.size, longer.size)
    codes = _round_codes(rounds, shorter.size, longer.size)
    clusters = min(np.unique(code).size for code in codes)
    if least < FEWEST_SHOTS or clusters < FEWEST_ROUNDS:
        return Figure(chance, None, None, count)
    variance = _variance(beats, *codes)
    if chance in (0.0, 1.0):
        z = float(stats.norm.ppf((1 + level) / 2))
        edge = z**2 / (least + z**2)
        low, high = (0.0, edge) if chance == 0 else (1 - edge, 1.0)
    else:
        half = float(stats.t.ppf((1 + level) / 2, clusters - 1)) * variance**0.5 / (chance * (1 - chance))
        middle = float(special.logit(chance))
        low, high = float(special.expit(middle - half)), float(special.expit(middle + half))
    return Figure(chance, low, high, count)


def _round_codes(rounds: tuple[pd.Series, pd.Series] | None, m: int, n: int) -> tuple[np.ndarray, np.ndarray]:
    """The round of each shot of both clubs as codes from 0, (m,) and (n,)."""
    if rounds is None:
        return np.arange(m), np.arange(m, m + n)
    codes, _ = pd.factorize(np.concatenate([np.asarray(one, dtype=object) for one in rounds]))
    return codes[:m], codes[m:]


def _variance(beats: Floats, shorter: np.ndarray, longer: np.ndarray) -> float:
    """Variance of the share: the larger of the clustered one and that of independent shots. `beats`: (m, n); `shorter`,
    `longer`: the rounds of its rows and columns."""
    rows, columns = beats.mean(axis=1), beats.mean(axis=0)
    plain = rows.var(ddof=1) / rows.size + columns.var(ddof=1) / columns.size
    size, chance = int(max(shorter.max(), longer.max())) + 1, beats.mean()
    of_rows = np.bincount(shorter, weights=rows - chance, minlength=size) / rows.size
    of_columns = np.bincount(longer, weights=columns - chance, minlength=size) / columns.size
    both = np.unique(np.concatenate([shorter, longer])).size
    clustered = _few(np.unique(shorter).size) * (of_rows**2).sum()
    clustered += _few(np.unique(longer).size) * (of_columns**2).sum()
    clustered += 2 * _few(both) * (of_rows * of_columns).sum()
    return float(max(plain, clustered))


def _few(clusters: int) -> float:
    """What a sum of squares over so few clusters, at least 2, is multiplied by."""
    return clusters / (clusters - 1)
