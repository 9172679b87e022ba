"""How practice differs from the course, club by club and putt by putt, with intervals.

Sessions and rounds are the clusters, as everywhere: practice rests on sessions, the course on rounds.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL, checked_level
from server.analysis.expected_strokes.curves import Floats
from server.analysis.patterns.finishes import FULL, GOOD_LIES, TAPPED
from server.analysis.patterns.spread import Figure, mean_figure, median_figure, session_median, spread_figure
from server.analysis.practice.pooling import LOG, difference
from server.analysis.practice.rows import PracticeClub, PracticePutting, PracticeRate
from server.analysis.putting.make_rates import Posterior
from server.analysis.putting.player_curve import LEAST_PUTTS, curve_of
from server.game.numbers import plain, signed

RATES_FT: Final = (3, 5, 8, 10, 15, 20, 30)
DRAWS: Final = 8_000
"""Of each curve; the ends of an interval then move by less than 0.005 (measured: 0.003)."""
SEED: Final = 20_261


def club_differences(
    course_finishes: pd.DataFrame,
    course_swings: pd.DataFrame,
    practice_finishes: pd.DataFrame,
    practice_swings: pd.DataFrame,
    level: float = DEFAULT_LEVEL,
) -> list[PracticeClub]:
    """Full swings from good lies of every club that practice knows, longest first.

    `course_finishes`, `practice_finishes`: as `finishes` and `practice_finishes` return them; `course_swings`,
    `practice_swings`: as `full_swings` and `practice_full_swings`. ValueError for a level outside its range.
    """
    checked_level(level)
    rows = []
    clubs = {str(club) for one in (practice_finishes, practice_swings) for club in one["club"]}
    for club in sorted(clubs):
        finishes = [_of(frame, club) for frame in (course_finishes, practice_finishes)]
        swings = [_of(frame, club, full=False) for frame in (course_swings, practice_swings)]
        rows.append(_row(club, finishes, swings, level))
    return sorted(rows, key=lambda row: (-(row["practice_yd"]["value"] or 0.0), row["club"]))


def _of(frame: pd.DataFrame, club: str, *, full: bool = True) -> pd.DataFrame:
    mine = frame["club"].astype("object").eq(club)
    if full:
        mine &= frame["swing"].eq(FULL) & frame["lie"].astype("object").isin(GOOD_LIES)
    return frame[mine.to_numpy(dtype=bool)]


def _row(club: str, finishes: list[pd.DataFrame], swings: list[pd.DataFrame], level: float) -> PracticeClub:
    course, practice = swings
    lengths = (
        median_figure(course["along_yd"], course["round_id"], level),
        session_median(practice["along_yd"], practice["round_id"], level),
    )
    tapped = [frame[frame["source"].eq(TAPPED)] for frame in finishes]
    means = [mean_figure(frame["offline_deg"], frame["round_id"], level) for frame in tapped]
    spreads = [spread_figure(frame["offline_deg"], frame["round_id"], level) for frame in tapped]
    length = difference(lengths[1], lengths[0], level=level)
    direction = difference(means[1], means[0], level=level)
    logs = difference(spreads[1], spreads[0], LOG, level)
    ratio = logs.through(LOG.back)
    count, groups = zip(*(_counted(*pair) for pair in zip(finishes, swings, strict=True)), strict=True)
    return {
        "club": club,
        "shots": count[0],
        "rounds": groups[0],
        "balls": count[1],
        "sessions": groups[1],
        "course_yd": lengths[0].as_dict(),
        "practice_yd": lengths[1].as_dict(),
        "length_yd": length.as_dict(),
        "direction_deg": direction.as_dict(),
        "spread_ratio": ratio.as_dict(),
        "words": _words(club, length, direction, ratio),
    }


def _counted(finishes: pd.DataFrame, swings: pd.DataFrame) -> tuple[int, int]:
    """Balls with a known side or length, and their rounds or sessions."""
    both = pd.concat([finishes["round_id"].astype("object"), swings["round_id"].astype("object")])
    return len(finishes.index.union(swings.index)), int(both.nunique())


def _words(club: str, length: Figure, direction: Figure, ratio: Figure) -> str:
    """What is sure of a club in a sentence."""
    found = []
    if _sure(length, 0.0) and length.value is not None:
        way = "farther" if length.value > 0 else "shorter"
        found.append(f"{plain(abs(length.value), 0)} yd {way} ({_between(length, 0)})")
    if _sure(direction, 0.0) and direction.value is not None:
        way = "right" if direction.value > 0 else "left"
        found.append(f"{abs(direction.value):.1f} degrees more to the {way} ({_between(direction, 1)})")
    if _sure(ratio, 1.0) and ratio.value is not None:
        way = "wider" if ratio.value > 1 else "narrower"
        found.append(f"its directions {way}, {ratio.value:.2f} times ({ratio.low:.2f} to {ratio.high:.2f})")
    if found:
        return f"{club}: in practice {', '.join(found)}."
    known = any(figure.low is not None for figure in (length, direction, ratio))
    return f"{club}: no clear difference." if known else f"{club}: not clear yet."


def _sure(figure: Figure, nothing: float) -> bool:
    return figure.low is not None and figure.high is not None and not figure.low <= nothing <= figure.high


def _between(figure: Figure, digits: int) -> str:
    assert figure.low is not None
    assert figure.high is not None
    return f"{signed(figure.low, digits)} to {signed(figure.high, digits)}"


def putting_difference(course: pd.DataFrame, practice: pd.DataFrame, level: float = DEFAULT_LEVEL) -> PracticePutting:
    """Make-rates in practice less those on the course, by length. `course`: as `putts_of` returns it, `practice`: as
    `practice_putts`. Both curves are posteriors of their own; the difference is that of independent draws."""
    checked_level(level)
    found: PracticePutting = {
        "putts": len(course),
        "rounds": int(course["round_id"].nunique()),
        "practice_putts": len(practice),
        "sessions": int(practice["round_id"].nunique()),
        "rates": [],
        "lacking": None,
        "words": [],
    }
    if min(len(course), len(practice)) < LEAST_PUTTS:
        lacking = (
            f"{len(course)} putts in rounds and {len(practice)} in practice: at least {LEAST_PUTTS} of each are needed."
        )
        return {**found, "lacking": lacking, "words": [lacking]}
    rng = np.random.default_rng(SEED)
    of_course, of_practice = (_drawn(curve_of(one), rng) for one in (course, practice))
    ends = [0.5 - level / 2, 0.5 + level / 2]
    apart = of_practice - of_course
    low, high = np.quantile(apart, ends, axis=0)
    rates: list[PracticeRate] = [
        {
            "feet": feet,
            "course": float(of_course[:, place].mean()),
            "practice": float(of_practice[:, place].mean()),
            "difference": float(apart[:, place].mean()),
            "low": float(low[place]),
            "high": float(high[place]),
        }
        for place, feet in enumerate(RATES_FT)
    ]
    return {**found, "rates": rates, "words": _rate_words(rates)}


def _drawn(curve: Posterior, rng: np.random.Generator) -> Floats:
    """Make-rates from `RATES_FT` of curves drawn from a posterior, shape (draws, lengths)."""
    places = rng.choice(curve.weight.size, DRAWS, p=curve.weight.ravel())
    rates = np.stack([curve.over_mix([feet], [1.0]).ravel() for feet in RATES_FT], axis=1)
    return np.asarray(rates[places])


def _rate_words(rates: list[PracticeRate]) -> list[str]:
    sure = [row for row in rates if not row["low"] <= 0 <= row["high"]]
    if not sure:
        return ["No clear difference of make-rates between practice and course."]
    return [_rate_sentence(row) for row in sure]


def _rate_sentence(row: PracticeRate) -> str:
    way = "more" if row["difference"] > 0 else "fewer"
    between = f"{signed(100 * row['low'], 0)} to {signed(100 * row['high'], 0)}"
    size = plain(abs(100 * row["difference"]), 0)
    return f"From {row['feet']} ft {size} of 100 {way} are holed in practice ({between})."
