"""A trial: side A against side B, each a club or a club's setup, out of a player's valued shots.

Compared from like starts (lie by distance band, the distance in its band as covariate, see `matched`), in strokes
gained a shot and over a typical round, with two auxiliary measures beside it. Every ball counts, extra balls too: both
clubs hit from one spot in a practice round are a stratum of their own, the fairest comparison there is.

Sides that share hardly a round, as two setups of a club do, are corrected by what the player's other clubs did over the
same rounds (difference in differences). What is worth a change of club is asked in strokes a round: a tenth of a
stroke a shot is three strokes a round with a putter and a fifth of one with a 3 iron.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd

from server.analysis.evidence.auxiliary import ShareDifference, SpreadTest, brown_forsythe, newcombe
from server.analysis.evidence.intervals import DEFAULT_LEVEL, LEAST_SHOTS, Codes, Flags, Floats
from server.analysis.evidence.matched import NO_TURNS, Control, Matched, compare_matched
from server.analysis.evidence.round_lengths import RoundLengths, round_lengths
from server.analysis.evidence.sample_size import design_effect, settling_shots, spread_factors, two_shares_shots
from server.analysis.patterns.finishes import finishes, playable
from server.analysis.strokes_gained.summaries import band_position, distance_band
from server.game.alternation import club_of_hole
from server.game.lies import FAIRWAY, FRINGE, GREEN, LIES, TEE
from server.game.order_of_play import PRACTICE

MINIMUM_EFFECT: Final = 0.3
"""Strokes a round that are worth a change of club. A stated choice of this tool, a setting."""

MINIMUM_EFFECTS: Final = (0.05, 5.0)
"""Least and largest difference worth having that is taken, strokes a round."""

PAIRED: Final = "paired"
ALTERNATED: Final = "alternated"
CHOSEN: Final = "chosen"
BEFORE_AND_AFTER: Final = "before_and_after"
BY_ROUNDS: Final = "by_rounds"
DESIGNS: Final = (PAIRED, ALTERNATED, BY_ROUNDS, CHOSEN, BEFORE_AND_AFTER)

LEAST_TURNS: Final = 4
"""Stretches of rounds with the one ball and the other, in turn, below which two balls get no verdict: one in spring and
one in summer is a trial of the summer. A stated choice."""

MOST_PAIRS: Final = 2 / 3
"""Part of the weight that pairs of one spot must carry for a trial to be called paired. A stated choice."""

MOST_IN_ORDER: Final = 0.8
LEAST_IN_ORDER: Final = 20
"""Part and number of the shots outside pairs that must be with the club that the hole was for (`game.alternation`). A
player who pays no heed is there with half of them, and with 0.8 of 20 in 6 of 1,000 trials. Stated choices."""

WORTH_SHARE: Final = 0.10
"""Difference of the share playable for which shots needed are reported. A stated choice of this tool."""

SHORT_GAME_YD: Final = 50.0
"""Up to this distance other clubs are the control of shots around the green, beyond it of long shots."""

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
    """What a trial found, at `level` and for a difference of `minimum_effect` strokes a round.

    `pairs_on_trial`: pairs for all of which what is settled holds; `shots_a`, `shots_b`: all shots of a side that
    have a value; `rounds`: rounds that count, `short_rounds`:
    those too short to (`round_lengths`); `matched`: the result from like starts; `shots_a_typical_round`:
    ball-of-record shots of both sides together for 18 holes of the rounds from the first to the last shot of the trial,
    `uses_a` and `uses_b` those of either side; `design`: one of `DESIGNS`; `pairs`: shots of A from a spot from which B
    was hit too; `in_order`: shots with the club that the hole was for; `design_effect`: of rounds;
    `shots_needed`: with each side from like starts to settle `minimum_effect` at looks after every round, and
    `shots_missing` of them not yet hit (None: unknown), `missing_between` as well as their spread is known; `strata`:
    one row a stratum, pairs together, with lie, distance, shots_a, shots_b, mean_a, mean_b (strokes a shot), weight (0
    to 1).
    `length` and `playable` are None between putters.
    """

    level: float
    minimum_effect: float
    pairs_on_trial: int
    shots_a: int
    shots_b: int
    rounds: int
    short_rounds: int
    matched: Matched
    shots_a_typical_round: float
    uses_a: float
    uses_b: float
    design: str
    pairs: int
    in_order: int
    design_effect: float
    shots_needed: float | None
    shots_missing: int | None
    missing_between: tuple[int, int] | None
    strata: pd.DataFrame
    length: LengthSpread | None
    playable: SharePlayable | None

    @property
    def effect_a_shot(self) -> float | None:
        """The difference worth having, strokes a shot; None where neither side is used in rounds that count."""
        used = self.shots_a_typical_round
        return self.minimum_effect / used if used else None


def run_trial(
    valued: pd.DataFrame,
    side_a: Flags,
    side_b: Flags,
    *,
    level: float = DEFAULT_LEVEL,
    minimum_effect: float = MINIMUM_EFFECT,
    pairs_on_trial: int = 1,
    by_rounds: bool = False,
) -> Trial:
    """Compare two sides of the frame that `valued_shots` returns.

    `side_a`, `side_b`: shape (rows,), which shots are whose. `pairs_on_trial`: pairs of clubs that are on trial
    together, this one among them; what is settled holds for all of them. `by_rounds`: the sides are all shots of their
    rounds, as two balls are; then shots that are compared agree in category and course too, and adjusted for a linear
    trend over the days. ValueError where they share shots, or for a level or worth outside its range.
    """
    if not MINIMUM_EFFECTS[0] <= minimum_effect <= MINIMUM_EFFECTS[1]:
        least, most = MINIMUM_EFFECTS
        raise ValueError(f"minimum_effect: {minimum_effect:g} is outside {least:g} to {most:g} strokes a round")
    if np.any(side_a & side_b):
        raise ValueError("a, b: both sides have the same shots")
    valued = valued.reset_index(drop=True)
    has_value = valued["strokes_gained"].notna().to_numpy(dtype=bool)
    lengths = round_lengths(valued)
    chosen = (side_a | side_b) & has_value
    shots, a = valued[chosen], side_a[chosen]
    band = distance_band(shots["lie"], shots["distance_yd"])
    places = _places(shots, band, ("category", "course") if by_rounds else ())
    spot = _spots(shots, a)
    stratum = np.where(spot < 0, places, spot + places.max(initial=0) + 1)
    position = band_position(shots["lie"], shots["distance_yd"])
    round_ = pd.factorize(valued["round_id"])[0].astype(np.intp)
    covariates = [position, _day(shots)] if by_rounds else [position]
    matched = compare_matched(
        a,
        stratum,
        round_[chosen],
        shots["strokes_gained"].to_numpy(dtype=np.float64),
        level,
        covariates=np.column_stack(covariates),
        band_position=np.where(spot < 0, position, 0.0),
        control=None if by_rounds else _control(valued, round_, has_value & ~chosen, shots),
        pairs=pairs_on_trial,
    )
    if by_rounds and matched.difference is not None and _turns(shots, a) < LEAST_TURNS:
        matched = matched.without_result(NO_TURNS)
    uses_a, uses_b = _uses_a_round(valued, (side_a & chosen, side_b & chosen), lengths)
    kept, of_a, paired = shots[matched.kept], a[matched.kept], spot[matched.kept] >= 0
    strata = _strata(kept, of_a, band[matched.kept], paired)
    in_order = _in_order(kept[~paired])
    off_green = bool(shots["lie"].ne(GREEN).any())
    effect_of_rounds = design_effect(matched.shots_a_round, matched.round_share)
    needed, missing, between = None, None, None
    if matched.shot_sd and uses_a + uses_b:
        effect = minimum_effect / (uses_a + uses_b) / matched.shot_sd
        factors = 1.0, *spread_factors(max(1, matched.used_a + matched.used_b - 2), level)
        alpha = (1 - level) / 2 / pairs_on_trial
        needs = [settling_shots(effect / factor, alpha, effect_of_rounds, matched.shots_a_round) for factor in factors]
        needed = needs[0]
        missing, least, most = (max(0, math.ceil(one - matched.effective)) for one in needs)
        between = least, most
    return Trial(
        level=level,
        minimum_effect=minimum_effect,
        pairs_on_trial=pairs_on_trial,
        shots_a=int(a.sum()),
        shots_b=int((~a).sum()),
        rounds=lengths.rounds,
        short_rounds=lengths.short,
        matched=matched,
        shots_a_typical_round=uses_a + uses_b,
        uses_a=uses_a,
        uses_b=uses_b,
        design=BY_ROUNDS if by_rounds else _design(matched, strata, in_order, int((~paired).sum())),
        pairs=int((paired & of_a).sum()),
        in_order=in_order,
        design_effect=effect_of_rounds,
        shots_needed=needed,
        shots_missing=missing,
        missing_between=between,
        strata=strata,
        length=_length(valued, kept, of_a) if off_green else None,
        playable=_playable(kept, of_a, level) if off_green else None,
    )


def _places(shots: pd.DataFrame, band: pd.Series, within: tuple[str, ...] = ()) -> Codes:
    """A code for each lie and band of distance, and each value of the columns `within`."""
    lie = pd.Categorical(shots["lie"].astype("object"), categories=list(LIES))
    bands = band.cat.codes.to_numpy().astype(np.intp)
    codes = np.asarray(lie.codes.astype(np.intp) * (len(band.cat.categories) + 1) + bands + 1)
    for column in within:
        alike = pd.factorize(shots[column].astype("object"), use_na_sentinel=False)[0]
        codes = codes * (alike.max(initial=0) + 1) + alike
    return codes


def _day(shots: pd.DataFrame) -> Floats:
    """The day of each shot, in parts of the span from the first to the last."""
    days = shots["played_on"].to_numpy(dtype="datetime64[D]").astype(np.float64)
    return np.asarray((days - days.min()) / max(float(np.ptp(days)), 1.0)) if days.size else days


def _turns(shots: pd.DataFrame, a: Flags) -> int:
    """How many stretches of rounds with the one side then the other there are, in order of the days."""
    rounds = pd.DataFrame({"day": shots["played_on"], "round": shots["round_id"].astype("object"), "a": a})
    sides = rounds.groupby(["day", "round"], sort=True)["a"].first().to_numpy()
    return 1 + int((sides[1:] != sides[:-1]).sum()) if sides.size else 0


def _spots(shots: pd.DataFrame, a: Flags) -> Codes:
    """A code for each spot from which both sides were hit in one round, -1 elsewhere: the same hole, lie and distance,
    balls of different number."""
    spot = shots.groupby(
        [shots["round_id"].astype("object"), shots["hole"], shots["lie"].astype("object"), shots["distance_yd"]],
        sort=False,
    ).ngroup()
    codes = spot.to_numpy().astype(np.intp)
    with_a, with_b = (np.bincount(codes, weights=side.astype(np.float64)) > 0 for side in (a, ~a))
    balls = shots["ball"].groupby(codes).transform("nunique").to_numpy()
    return np.where((with_a & with_b)[codes] & (balls > 1), codes, -1) if codes.size else codes


def _control(valued: pd.DataFrame, round_: Codes, others: Flags, shots: pd.DataFrame) -> Control:
    """The shots of the player's other clubs in the same part of the game: long shots, around the green, or putts."""
    part = _part(valued)
    wanted = others & np.isin(part, np.unique(_part(shots)))
    rest = valued[wanted]
    places = _places(rest, distance_band(rest["lie"], rest["distance_yd"]))
    return Control(places, round_[wanted], rest["strokes_gained"].to_numpy(dtype=np.float64))


def _part(shots: pd.DataFrame) -> Codes:
    """0 long shots, 1 around the green, 2 putts."""
    lie = shots["lie"].astype("object")
    short = lie.ne(TEE) & shots["distance_yd"].le(SHORT_GAME_YD)
    return np.asarray(np.select([lie.eq(GREEN), short], [2, 1], 0))


def _uses_a_round(valued: pd.DataFrame, sides: tuple[Flags, Flags], lengths: RoundLengths) -> tuple[float, float]:
    """Shots of either side with the ball of record for 18 holes, over the rounds that count from the first to the last
    day of the trial; 0 without one."""
    tried = sides[0] | sides[1]
    if not lengths.rounds or not tried.any():
        return 0.0, 0.0
    place, days = lengths.places(valued["round_id"]), valued["played_on"]
    during = days.between(days[tried].min(), days[tried].max()).to_numpy(dtype=bool) & (place >= 0)
    holes = float(lengths.parts[np.unique(place[during])].sum())
    counted = during & valued["ball"].eq(1).to_numpy(dtype=bool)
    uses_a, uses_b = (int((counted & side).sum()) / holes if holes else 0.0 for side in sides)
    return uses_a, uses_b


def _in_order(shots: pd.DataFrame) -> int:
    """Shots in practice rounds with the club that the hole was for."""
    practice = shots[shots["kind"].astype("object").eq(PRACTICE)]
    clubs = practice["club_id"].astype("object")
    if clubs.nunique() != 2:
        return 0
    both = tuple(clubs.unique())
    places = pd.DataFrame({"round_id": practice["round_id"].astype(str), "hole": practice["hole"].astype(int)})
    wanted = {
        (round_id, hole): club_of_hole(both, round_id, hole)
        for round_id, hole in places.drop_duplicates().itertuples(index=False, name=None)
    }
    pairs = zip(places.itertuples(index=False, name=None), clubs, strict=True)
    return sum(wanted[place] == club for place, club in pairs)


def _design(matched: Matched, strata: pd.DataFrame, in_order: int, unpaired: int) -> str:
    """Which design a verdict is based on."""
    if matched.before_and_after:
        return BEFORE_AND_AFTER
    paired = float(strata.loc[strata["paired"], "weight"].sum())
    if paired >= MOST_PAIRS:
        return PAIRED
    return ALTERNATED if in_order >= max(LEAST_IN_ORDER, MOST_IN_ORDER * unpaired) else CHOSEN


def _strata(shots: pd.DataFrame, a: Flags, band: pd.Series, paired: Flags) -> pd.DataFrame:
    """One row a lie and band that both sides have, those of pairs apart, heaviest first."""
    gained = shots["strokes_gained"]
    table = pd.DataFrame({
        "lie": shots["lie"].astype("object"), "distance": band.astype("object"),
        "shots_a": a.astype(np.int64), "shots_b": (~a).astype(np.int64),
        "mean_a": gained.where(a, 0.0), "mean_b": gained.where(~a, 0.0), "paired": paired,
    })  # fmt: skip
    summed = table.groupby(["lie", "distance", "paired"], sort=True).sum().reset_index()
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
