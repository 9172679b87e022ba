"""Summaries of valued shots: strokes gained by club, category, lie, distance band, hole, course, round, month, setup.

Which balls count: extra balls inform about clubs and setups, never about the score. So `club` and
`setup` take every ball, the other groupings the ball of record alone; `balls` overrides it. Whatever is
taken, the rows sum to `total`, and `total` is the ball of record plus the extra balls. Figures a round are of the ball
of record alone, whatever is taken: extra balls are no part of a round.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, NamedTuple, cast

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL, Codes, Flags, Floats, checked_level
from server.analysis.evidence.round_lengths import RoundsOfMany, has_hole, rounds_of_many
from server.analysis.evidence.shrinkage import Sets
from server.analysis.strokes_gained.rows import Counts, IntervalColumns, SummaryTotal
from server.analysis.strokes_gained.summary_intervals import COLUMNS, HOLE, SHRUNK, Counted, figures, plain
from server.game.lies import CODE, GREEN, lie_codes

GROUPINGS: Final[tuple[str, ...]] = (
    "club", "category", "lie", "distance", "hole", "course", "round", "month", "setup",
)  # fmt: skip
OF_RECORD: Final = "of_record"
ALL_BALLS: Final = "all"
BALLS: Final[tuple[str, ...]] = (OF_RECORD, ALL_BALLS)

BANDS_YD: Final[tuple[float, ...]] = (0, 20, 50, 100, 125, 150, 175, 200, 225, 250, 300, 400, 500, 700)
BANDS_FT: Final[tuple[float, ...]] = (0, 3, 6, 10, 15, 20, 30, 40, 60, 150)
"""Distance bands: upper bounds belong to the band. A stated choice of this tool."""

COURSE: Final = "course"
NO_SETUP: Final = "as it was"
NO_COURSE: Final = "no course"

ALWAYS_ASKED_FOR: Final = ("round_id", "ball", "strokes_gained", "basis", "lie", "distance_yd")
ASKED_FOR: Final[dict[str, tuple[str, ...]]] = {
    by: (*ALWAYS_ASKED_FOR, *more)
    for by, more in {
        "club": ("club",),
        "category": ("category",),
        "lie": (),
        "distance": (),
        "hole": ("hole", "course"),
        "course": ("course",),
        "round": (),
        "month": ("played_on",),
        "setup": ("club", "setup"),
    }.items()
}
"""The columns that a grouping reads."""
OF_STARTS: Final = ("lie", "distance_yd")
"""Those of them that `starts_of` reads."""


@dataclass(frozen=True)
class Summary:
    """`rows`: one a group, best first, columns `by` (for holes `course` behind it), shots, rounds, strokes_gained,
    per_shot, extended (shots that have a value, rounds they came from, strokes, strokes a shot, shots whose value
    used an extension), then the columns of `summary_intervals`: intervals at `level`, per_round (the ball of record
    for 18 holes, a mean over `of_rounds` rounds), the reason `too_few` where there is no interval, and for clubs
    and categories the `shrunk` mean a shot. `total`: the same over all rows, with `unvalued` (shots without a
    value), `of_record` and `extra_balls`; its `rounds` are the rounds that count (`round_lengths`), `holes` their
    holes with a value, `short_rounds` how many are too short to count."""

    by: str
    rows: pd.DataFrame
    total: SummaryTotal
    level: float = DEFAULT_LEVEL


def distance_band(lie: pd.Series, distance_yd: pd.Series) -> pd.Series:
    """The band of each shot in words: feet on the green, yards elsewhere, such as "over 100 to 125 yd"."""
    from_green = lie_codes(lie) == CODE[GREEN]
    yards = distance_yd.to_numpy(dtype=np.float64)
    names = [*_band_names(BANDS_YD, "yd"), *_band_names(BANDS_FT, "ft")]
    codes = np.empty(yards.size, dtype=np.int8)
    codes[from_green] = _bands(yards[from_green] * 3.0, BANDS_FT, len(BANDS_YD) - 1)
    codes[~from_green] = _bands(yards[~from_green], BANDS_YD, 0)
    return pd.Series(pd.Categorical.from_codes(codes, categories=names), index=lie.index)


def _bands(far: Floats, edges: tuple[float, ...], first: int) -> Codes:
    """The number of the band of each distance, from `first` on; -1 outside every band."""
    upper = np.searchsorted(edges, far)
    return np.where((upper > 0) & (upper < len(edges)), upper - 1 + first, -1)


def band_position(lie: pd.Series, distance_yd: pd.Series) -> Floats:
    """Where in its band a shot starts, in widths of the band from the lower edge, 0 to 1; 0 outside every band. Shape
    (shots,)."""
    from_green = lie_codes(lie) == CODE[GREEN]
    yards = distance_yd.to_numpy(dtype=np.float64)
    found = np.zeros(yards.size)
    for edges, chosen, scale in ((BANDS_YD, ~from_green, 1.0), (BANDS_FT, from_green, 3.0)):
        far = yards[chosen] * scale
        upper = np.searchsorted(edges, far)
        inside = (upper > 0) & (upper < len(edges))
        low, high = np.asarray(edges)[np.maximum(upper, 1) - 1], np.asarray(edges)[np.minimum(upper, len(edges) - 1)]
        found[chosen] = np.where(inside, (far - low) / np.where(inside, high - low, 1.0), 0.0)
    return found


def _band_names(edges: tuple[float, ...], unit: str) -> list[str]:
    return [f"over {low:g} to {high:g} {unit}" for low, high in pairwise(edges)]


def group_keys(shots: pd.DataFrame, by: str) -> pd.Series:
    """The group of every shot; of holes the number, which means something beside its course alone."""
    if by == "distance":
        return distance_band(shots["lie"], shots["distance_yd"])
    if by == COURSE:
        course = shots["course"] if "course" in shots else pd.Series(None, index=shots.index, dtype="object")
        return course.astype("object").fillna(NO_COURSE)
    if by == "month":
        return shots["played_on"].astype(str).str.slice(0, 7)
    if by == "setup":
        return shots["club"].astype(str) + ", " + shots["setup"].astype("object").fillna(NO_SETUP).astype(str)
    return shots[{"round": "round_id"}.get(by, by)]


def default_balls(by: str) -> str:
    """Which balls a grouping takes unless asked otherwise."""
    return ALL_BALLS if by in ("club", "setup") else OF_RECORD


def summarise(
    valued: pd.DataFrame,
    by: str,
    balls: str | None = None,
    *,
    level: float = DEFAULT_LEVEL,
    only: pd.Series | None = None,
) -> Summary:
    """Summarise the frame that `attribute` returned.

    `valued`: with `round_id`, `ball`, `strokes_gained`, `basis`, `lie`, `distance_yd` and what the grouping needs
    (`club`, `category`, `hole`, `played_on`, `setup`). `level`: of the intervals. `only`: the shots to report on, bool
    by the same index; strokes a round are still taken over all rounds of `valued` that count. ValueError for another
    `by` or `balls`, or a level outside its range. Groups without a valued shot are left out.
    """
    if by not in GROUPINGS:
        raise ValueError(f"by: {by!r} is not one of {', '.join(GROUPINGS)}")
    balls = balls or default_balls(by)
    if balls not in BALLS:
        raise ValueError(f"balls: {balls!r} is not one of {', '.join(BALLS)}")
    of_record = valued["ball"].eq(1)
    rounds = _rounds(valued)
    asked = valued[[name for name in ASKED_FOR[by] if name in valued]]
    chosen = (of_record if balls == OF_RECORD else np.True_) & (only if only is not None else np.True_)
    taken = np.broadcast_to(np.asarray(chosen, dtype=np.bool_), len(valued))
    has_value = valued["strokes_gained"].notna().to_numpy(dtype=bool)
    at = np.flatnonzero(taken & has_value)
    counted = asked.iloc[at]
    frame = pd.DataFrame({by: group_keys(counted, by)} | ({COURSE: group_keys(counted, COURSE)} if by == HOLE else {}))
    keys = list(frame.columns)
    group = frame.groupby(keys, observed=True, sort=True, dropna=False).ngroup().to_numpy()
    many, first = np.unique(group, return_index=True)
    shots = counted_shots(counted, at, group, rounds, by)
    found = figures(shots, Sets.one(many.size), rounds.parts, by, checked_level(level))
    rows = frame[keys].iloc[first].reset_index(drop=True)
    rows = rows.assign(**{name: pd.Series(column) for name, column in found.items()})
    rows = rows.sort_values("strokes_gained", ascending=False, kind="stable", ignore_index=True)
    one_group = shots._replace(group=np.zeros(at.size, dtype=np.intp))
    of_all = figures(one_group, Sets.one(1), rounds.parts, None, level)
    total: SummaryTotal = {
        **_counts(counted, np.ones(at.size, dtype=np.bool_)),
        **cast(IntervalColumns, {name: plain(of_all[name][0]) for name in COLUMNS if name in of_all}),
        "rounds": int((rounds.holes > 0).sum()),
        "short_rounds": int(rounds.short[0]),
        "holes": int(rounds.holes.sum()),
        "unvalued": int((taken & ~has_value).sum()),
        "of_record": _counts(counted, shots.of_record),
        "extra_balls": _counts(counted, ~shots.of_record),
    }
    return Summary(by, rows, total, level)


def summaries_of_many(
    valued: pd.DataFrame,
    owner: Codes,
    rounds: RoundsOfMany,
    players: int,
    by: str,
    level: float = DEFAULT_LEVEL,
    starts: Starts | None = None,
) -> pd.DataFrame:
    """The rows of `summarise` of many players at once, by club, category or another grouping of one column whose words
    are the same for all: player by player in their order, with `owner`, the place of each one's player, before them.

    `valued`: as in `summarise`, a player's shots one behind the other; `owner`: the place of each shot's player,
    ascending, shape (shots,); `rounds`: of these shots; `starts`: where they start, if `starts_of` was asked already.
    """
    taken = valued["strokes_gained"].notna().to_numpy(dtype=bool)
    if default_balls(by) == OF_RECORD:
        taken = taken & (valued["ball"].to_numpy() == 1)
    at = np.flatnonzero(taken)
    known = OF_STARTS if starts is not None and by in SHRUNK else ()
    read = [name for name in ASKED_FOR[by] if name in valued and name not in known]
    counted = valued[read].iloc[at]
    words = group_keys(counted, by)
    keys = words if isinstance(words.dtype, pd.CategoricalDtype) else words.astype("category")
    many = len(keys.cat.categories) + 1
    # a shot without a word comes after the others
    code = keys.cat.codes.to_numpy(dtype=np.int64)
    cell = owner[at] * many + np.where(code < 0, many - 1, code)
    occurs = np.bincount(cell, minlength=players * many) > 0
    group = (np.cumsum(occurs) - 1)[cell]
    of, word = np.divmod(np.flatnonzero(occurs), many)
    shots = counted_shots(counted, at, group, rounds, by, starts)
    found = figures(shots, Sets.behind(of, players), rounds.parts, by, checked_level(level))
    order = np.lexsort((-found["strokes_gained"], of))
    named = pd.Categorical.from_codes(np.where(word == many - 1, -1, word)[order], dtype=keys.dtype)
    rows = {"owner": of[order], by: named} | {name: column[order] for name, column in found.items()}
    return pd.DataFrame(rows, copy=False)


def _rounds(valued: pd.DataFrame) -> RoundsOfMany:
    """The rounds of one player."""
    codes = pd.factorize(valued["round_id"])[0]
    nobody = np.zeros(len(valued), dtype=np.intp)
    return rounds_of_many(nobody, codes, valued["hole"].to_numpy(dtype=np.int64), has_hole(valued), 1)


class Starts(NamedTuple):
    """Where shots start, for shrunk means: codes of lie and of distance band, from 0, shape (shots,)."""

    lie: Codes
    band: Codes


def starts_of(shots: pd.DataFrame) -> Starts:
    """Where shots start, by lie and distance_yd."""
    band = distance_band(shots["lie"], shots["distance_yd"]).cat.codes.to_numpy(dtype=np.intp) + 1
    return Starts(lie_codes(shots["lie"]).astype(np.intp) + 1, band)


def counted_shots(
    counted: pd.DataFrame, at: Codes, group: Codes, rounds: RoundsOfMany, by: str, starts: Starts | None = None
) -> Counted:
    """What `figures` reads of shots. `counted`: those that have a value, `at`: their places among the shots of
    `rounds`, `group`: the row of each; `starts`: of all shots of `rounds`, where they are known."""
    lie: Codes = np.empty(0, dtype=np.intp)
    band: Codes = lie
    if by in SHRUNK:
        lie, band = starts_of(counted) if starts is None else (starts.lie[at], starts.band[at])
    return Counted(
        group,
        rounds.round_[at],
        rounds.counting[at],
        counted["strokes_gained"].to_numpy(dtype=np.float64),
        counted["ball"].to_numpy() == 1,
        counted["basis"].eq("extended").to_numpy(dtype=bool),
        lie,
        band,
    )


def _counts(counted: pd.DataFrame, taken: Flags) -> Counts:
    mine = counted[taken]
    shots = len(mine)
    gained = float(mine["strokes_gained"].sum())
    return {
        "shots": shots,
        "strokes_gained": gained,
        "per_shot": gained / shots if shots else None,
        "extended": int(mine["basis"].eq("extended").sum()),
    }
