"""What the player records of a shot, by club: how often each strike, planned height and planned shape comes, and
what it costs in yards and in strokes.

For each field only the shots that record it count. What a value is compared with:

- how often: its share of the club's shots that record the field, with Wilson's interval;
- yards: the length of full swings from tee, fairway and fringe (`full_swings`), from like lies. A strike is held
  against the club's clean ones (`CLEAN`), a height or a shape against the club's shots that record another one;
- strokes: strokes gained a shot, from like lies and distances, against the club's shots that record another value.

Both differences are the value less what it is held against, with the interval of `compare_matched`: rounds are
the clusters. Putts have a strike and no length. Strikes off the centre are rare, so that they are given together too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import ALIKE, DEFAULT_LEVEL, LEAST_SHOTS, TOO_FEW, Flags, checked_level
from server.analysis.evidence.matched import (
    ALL_ALIKE,
    NO_OVERLAP,
    ONE_ROUND_CARRIES_ALL,
    TOO_FEW_ROUNDS,
    TOO_FEW_SHOTS,
    compare_matched,
)
from server.analysis.patterns.full_swings import full_swings
from server.analysis.patterns.rows import Cost, RecordedClub, RecordedField, RecordedOfAll, RecordedValue
from server.analysis.patterns.spread import share_figure
from server.analysis.strokes_gained.summaries import distance_band
from server.game.lies import GREEN

STRIKE: Final = "strike"
CLEAN: Final = "centre"
"""The strike against which the others are held in yards."""
NOT_CLEAN: Final = "not centre"
"""Every strike but the clean one, together."""

WITHOUT_PUTTS: Final = ("planned_height", "planned_shape")
"""Fields that are not asked for on the green."""

NO_OTHER: Final = "no other recorded"
NO_LIKE_PLACES: Final = "no shots from the same lie and distance"
IN_WORDS: Final = {
    NO_OVERLAP: NO_LIKE_PLACES,
    TOO_FEW_SHOTS: TOO_FEW,
    TOO_FEW_ROUNDS: TOO_FEW,
    ALL_ALIKE: ALIKE,
    ONE_ROUND_CARRIES_ALL: f"{TOO_FEW}: one round carries it all",
}
"""Why a difference is not stated."""


def recorded_of_all(valued: pd.DataFrame, fields: Mapping[str, Sequence[str]]) -> list[RecordedOfAll]:
    """For each field how many of the shots record it, and how many do not. Arguments as in `recorded_by_club`."""
    return [
        {"field": name, "told": int(known.sum()), "not_told": int((~known).sum())}
        for name in fields
        for known in (_asked(valued, name)[name].notna(),)
    ]


def recorded_by_club(
    valued: pd.DataFrame, fields: Mapping[str, Sequence[str]], level: float = DEFAULT_LEVEL
) -> list[RecordedClub]:
    """The clubs with a recorded field, longest full swing first, each with its fields in the order given.

    `valued`: as `attribute` returns it, with the columns that `full_swings` asks for and one of text (missing where
    nothing was recorded) for each of `fields`: name -> its values in order. ValueError for the level.
    """
    checked_level(level)
    shots = valued.reset_index(drop=True)
    swings = full_swings(shots)
    shots = shots.assign(length_yd=swings["along_yd"].reindex(shots.index), place=_places(shots))
    reach = swings["along_yd"].groupby(swings["club"].astype("object")).median()
    clubs = shots["club"].astype("object")
    order = sorted(clubs.unique(), key=lambda club: (-reach.get(club, 0.0), club))
    found: list[RecordedClub] = []
    for club in order:
        own = shots[clubs.eq(club).to_numpy(dtype=bool)]
        recorded = [_field(_asked(own, name), name, values, level) for name, values in fields.items()]
        if any(one["told"] for one in recorded):
            found.append({"club": str(club), "fields": [one for one in recorded if one["told"]]})
    return found


def _asked(shots: pd.DataFrame, name: str) -> pd.DataFrame:
    """The shots for which a field is asked for."""
    if name not in WITHOUT_PUTTS:
        return shots
    on_green = shots["lie"].astype("object").eq(GREEN) | shots["sort"].astype("object").eq("putter")
    return shots[~on_green.to_numpy(dtype=bool)]


def _places(shots: pd.DataFrame) -> pd.Series:
    """The lie and the band of distance of each shot, as one word."""
    band = distance_band(shots["lie"], shots["distance_yd"])
    return shots["lie"].astype("object").astype(str) + " " + band.astype("object").astype(str)


def _field(asked: pd.DataFrame, name: str, values: Sequence[str], level: float) -> RecordedField:
    """What one club's shots record of a field."""
    recorded = asked[asked[name].notna().to_numpy(dtype=bool)]
    return {
        "field": name,
        "told": len(recorded),
        "not_told": len(asked) - len(recorded),
        "rounds": int(recorded["round_id"].nunique()),
        "yards_against": CLEAN if name == STRIKE else None,
        "values": list(_values(recorded, name, values, level)),
    }


def _values(recorded: pd.DataFrame, name: str, values: Sequence[str], level: float) -> Iterator[RecordedValue]:
    """Each recorded value, in order; the strikes that are not clean together at the end."""
    words = recorded[name].astype("object")
    clean = words.eq(CLEAN).to_numpy(dtype=bool)
    groups = {value: words.eq(value).to_numpy(dtype=bool) for value in values}
    if name == STRIKE:
        groups[NOT_CLEAN] = ~clean
    for value, own in groups.items():
        if not own.any():
            continue
        others = clean if name == STRIKE else ~own
        yardstick = name == STRIKE and value == CLEAN
        yield {
            "value": value,
            "shots": int(own.sum()),
            "share": share_figure(own.astype(np.float64), recorded["round_id"], level).as_dict(),
            "yards": None if yardstick else _cost(recorded, own, others, "length_yd", "lie", level),
            "strokes": _cost(recorded, own, ~own, "strokes_gained", "place", level),
        }


def _cost(recorded: pd.DataFrame, own: Flags, others: Flags, of: str, like: str, level: float) -> Cost:
    """The mean of a column of the one shots less that of the others, both with the same word in `like`."""
    known = recorded[of].notna().to_numpy(dtype=bool) & (own | others)
    shots = recorded[known]
    if not others.any():
        return _nothing(NO_OTHER)
    if min((own & known).sum(), (others & known).sum()) < LEAST_SHOTS:
        return _nothing(TOO_FEW)
    found = compare_matched(
        own[known],
        pd.factorize(shots[like].astype("object"))[0],
        pd.factorize(shots["round_id"].astype("object"))[0],
        shots[of].to_numpy(dtype=np.float64),
        level,
    )
    return {
        "difference": found.difference,
        "low": found.low,
        "high": found.high,
        "shots": found.used_a,
        "others": found.used_b,
        "lacking": found.lacking and IN_WORDS.get(found.lacking, TOO_FEW),
    }


def _nothing(lacking: str) -> Cost:
    """No difference, and why."""
    return {"difference": None, "low": None, "high": None, "shots": 0, "others": 0, "lacking": lacking}
