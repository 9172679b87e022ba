"""A trial: side A against side B, each a club or a club's setup, out of a player's valued shots.

Compared from like starts (lie by distance band, overlap weights, see `matched`), in strokes gained a
shot and over a typical round, with two sharper measures beside it. Every ball counts, extra balls too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from server.analysis.evidence.auxiliary import ShareDifference, SpreadTest, brown_forsythe, newcombe
from server.analysis.evidence.intervals import DEFAULT_LEVEL, LEAST_SHOTS, Flags, Floats
from server.analysis.evidence.matched import Matched, compare_matched
from server.analysis.evidence.round_lengths import RoundLengths, round_lengths
from server.analysis.evidence.sample_size import design_effect, two_means_shots, two_shares_shots
from server.analysis.patterns.finishes import finishes, playable
from server.analysis.strokes_gained.summaries import distance_band
from server.game.lies import FAIRWAY, FRINGE, GREEN, LIES, TEE

MINIMUM_EFFECT: Final = 0.1
"""Strokes a shot that are worth a change of club. A stated choice of this tool, a setting."""

MINIMUM_EFFECTS: Final = (0.01, 1.0)
"""Least and largest difference worth having that is taken, strokes a shot."""

WORTH_SHARE: Final = 0.10
"""Difference of the share playable for which shots needed are reported. A stated choice of this tool."""

CLEAN_LIES: Final = (TEE, FAIRWAY, FRINGE)
"""Only from these is spread of length compared: rough and sand widen it with any club (common practice, no source)."""


@dataclass(frozen=True)
class LengthSpread:
    """Spread of full swings' length, long or short of the target, from like starts and clean lies. Yards."""

    shots_a: int
    shots_b: int
    test: SpreadTest | None


@dataclass(frozen=True)
class SharePlayable:
    """Share of shots, from like starts, that end with no penalty and not in a recovery lie. `shots_needed`: with each
    side to settle a difference of `WORTH_SHARE`."""

    shots_a: int
    shots_b: int
    shares: ShareDifference | None
    shots_needed: float | None


@dataclass(frozen=True)
class Trial:
    """What a trial found, at `level` and for a difference of `minimum_effect` strokes a shot.

    `shots_a`, `shots_b`: all shots of a side that have a value; `rounds`: rounds that count, `short_rounds`:
    those too short to (`round_lengths`); `matched`: what like starts say; `shots_a_typical_round`:
    ball-of-record shots of both sides together for 18 holes of those rounds; `design`: design effect; `shots_needed`:
    with each side from like starts to settle `minimum_effect`, and `shots_missing` of them not yet hit (None: unknown);
    `strata`: one row a stratum with lie, distance, shots_a, shots_b, mean_a, mean_b (strokes a shot), weight (0 to 1).
    `length` and `playable` are None between putters.
    """

    level: float
    minimum_effect: float
    shots_a: int
    shots_b: int
    rounds: int
    short_rounds: int
    matched: Matched
    shots_a_typical_round: float
    design: float
    shots_needed: float | None
    shots_missing: int | None
    strata: pd.DataFrame
    length: LengthSpread | None
    playable: SharePlayable | None


def run_trial(
    valued: pd.DataFrame,
    side_a: Flags,
    side_b: Flags,
    *,
    level: float = DEFAULT_LEVEL,
    minimum_effect: float = MINIMUM_EFFECT,
    within: str | None = None,
) -> Trial:
    """Compare two sides of the frame that `valued_shots` returns.

    `side_a`, `side_b`: shape (rows,), which shots are whose. `within`: a column in which shots that are compared agree
    too, such as "category" where the sides are of all clubs. ValueError where they share shots, or for a level or worth
    outside its range.
    """
    if not MINIMUM_EFFECTS[0] <= minimum_effect <= MINIMUM_EFFECTS[1]:
        least, most = MINIMUM_EFFECTS
        raise ValueError(f"minimum_effect: {minimum_effect:g} is outside {least:g} to {most:g} strokes a shot")
    if np.any(side_a & side_b):
        raise ValueError("a, b: both sides hold the same shots")
    valued = valued.reset_index(drop=True)
    has_value = valued["strokes_gained"].notna().to_numpy()
    lengths = round_lengths(valued)
    chosen = (side_a | side_b) & has_value
    shots, a = valued[chosen], side_a[chosen]
    lie = pd.Categorical(shots["lie"].astype("object"), categories=list(LIES))
    band = distance_band(shots["lie"], shots["distance_yd"])
    stratum = lie.codes.astype(np.intp) * (len(band.cat.categories) + 1) + band.cat.codes.to_numpy() + 1
    if within is not None:
        alike = pd.factorize(shots[within].astype("object"), use_na_sentinel=False)[0]
        stratum = stratum * (alike.max(initial=0) + 1) + alike
    gained = shots["strokes_gained"].to_numpy(dtype=np.float64)
    matched = compare_matched(a, stratum, pd.factorize(shots["round_id"])[0], gained, level)
    design = design_effect(matched.shots_a_round, matched.round_share)
    needed = None
    if matched.shot_sd:
        needed = design * two_means_shots(minimum_effect / matched.shot_sd, 1 - level)
    kept, of_a = shots[matched.kept], a[matched.kept]
    off_green = bool(shots["lie"].ne(GREEN).any())
    return Trial(
        level=level,
        minimum_effect=minimum_effect,
        shots_a=int(a.sum()),
        shots_b=int((~a).sum()),
        rounds=lengths.rounds,
        short_rounds=lengths.short,
        matched=matched,
        shots_a_typical_round=_shots_a_round(shots, lengths),
        design=design,
        shots_needed=needed,
        shots_missing=None if needed is None else max(0, math.ceil(needed - matched.effective)),
        strata=_strata(kept, of_a, band[matched.kept]),
        length=_length(valued, kept, of_a) if off_green else None,
        playable=_playable(kept, of_a, level) if off_green else None,
    )


def _shots_a_round(shots: pd.DataFrame, lengths: RoundLengths) -> float:
    """Shots of the ball of record for 18 holes, over the rounds that count; 0 without one."""
    of_record = shots["ball"].eq(1).to_numpy(dtype=bool) & (lengths.places(shots["round_id"]) >= 0)
    return int(of_record.sum()) / float(lengths.parts.sum()) if lengths.rounds else 0.0


def _strata(shots: pd.DataFrame, a: Flags, band: pd.Series) -> pd.DataFrame:
    """One row a stratum that both sides have, heaviest first."""
    gained = shots["strokes_gained"]
    table = pd.DataFrame({
        "lie": shots["lie"].astype("object"), "distance": band.astype("object"),
        "shots_a": a.astype(np.int64), "shots_b": (~a).astype(np.int64),
        "mean_a": gained.where(a, 0.0), "mean_b": gained.where(~a, 0.0),
    })  # fmt: skip
    summed = table.groupby(["lie", "distance"], sort=True).sum().reset_index()
    weight = summed["shots_a"] * summed["shots_b"] / (summed["shots_a"] + summed["shots_b"])
    for side in ("a", "b"):
        summed[f"mean_{side}"] /= summed[f"shots_{side}"]
    summed["weight"] = weight / weight.sum()
    return summed.sort_values("weight", ascending=False, kind="stable", ignore_index=True)


def _length(valued: pd.DataFrame, kept: pd.DataFrame, a: Flags) -> LengthSpread:
    """Full swings from clean lies whose finish against the target is known."""
    known = finishes(valued[valued["club"].isin(kept["club"].unique())]).reindex(kept.index)
    full = known["swing"].astype("object").eq("full") & known["long_yd"].notna() & kept["lie"].isin(CLEAN_LIES)
    long_yd = known["long_yd"].to_numpy(dtype=np.float64)
    of_a: Floats = long_yd[full.to_numpy(dtype=bool) & a]
    of_b: Floats = long_yd[full.to_numpy(dtype=bool) & ~a]
    return LengthSpread(of_a.size, of_b.size, brown_forsythe(of_a, of_b))


def _playable(kept: pd.DataFrame, a: Flags, level: float) -> SharePlayable:
    good: Any = playable(kept)
    of_a, of_b = (good[side & ~np.isnan(good)] for side in (a, ~a))
    if min(of_a.size, of_b.size) < LEAST_SHOTS:
        return SharePlayable(of_a.size, of_b.size, None, None)
    shares = newcombe(int(of_a.sum()), of_a.size, int(of_b.sum()), of_b.size, level)
    both = float(np.concatenate([of_a, of_b]).mean())
    high = min(max(both + WORTH_SHARE / 2, WORTH_SHARE), 1.0)
    return SharePlayable(of_a.size, of_b.size, shares, two_shares_shots(high, high - WORTH_SHARE, 1 - level))
