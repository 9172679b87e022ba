"""The frames of every season table, in pieces: a few days of a player, or a player at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.strokes_gained.summaries import summarise
from server.files.season_tables.round_frames import hole_rows, round_rows
from server.files.season_tables.seasons import Season
from server.files.shots_export import shots_table
from server.questions.valued_shots import scheme_of
from server.store.players import Player
from server.store.season_rows import clubs_frame, setups_in_full


def _shots(season: Season, player: Player) -> Iterator[pd.DataFrame]:
    for selection in season.pieces(player):
        yield shots_table(season.valued(player, selection), season.baseline)


def _holes(season: Season, player: Player) -> Iterator[pd.DataFrame]:
    for selection in season.pieces(player):
        yield hole_rows(season, player, selection)


def _rounds(season: Season, player: Player) -> Iterator[pd.DataFrame]:
    for selection in season.pieces(player):
        yield round_rows(season, player, selection)


def _clubs(season: Season, player: Player) -> Iterator[pd.DataFrame]:
    clubs = clubs_frame(season.connection, player.player_id, *season.days)
    retired = pd.to_datetime(clubs["retired_on"]) < pd.Timestamp(season.days[0])
    gone = retired | clubs["deleted"].eq(True)
    yield clubs[~gone | clubs["shots"].gt(0)]


def _setups(season: Season, player: Player) -> Iterator[pd.DataFrame]:
    setups = setups_in_full(season.connection, player.player_id)
    since = pd.to_datetime(setups["since"]).astype("datetime64[s]")
    following = since.groupby(setups["club_id"]).shift(-1)
    until = following - pd.Timedelta(days=1)
    first, last = map(pd.Timestamp, season.days)
    clubs = clubs_frame(season.connection, player.player_id, *season.days).set_index("club_id")["club"]
    label = since.dt.strftime("%Y-%m-%d") + " " + setups["note"]
    reported = setups.assign(since=since, until=until, setup=label, club=setups["club_id"].map(clubs))
    # of two setups of one day the later stands; a club that is gone has no label
    in_force = (since <= last) & (until.isna() | (until >= first)) & (until.isna() | (until >= since))
    yield reported[in_force & reported["club"].notna()].sort_values(["club", "since", "setup_id"])


def _summary(season: Season, player: Player, by: str) -> pd.DataFrame:
    found = summarise(season.valued(player, season.whole(player)), by)
    too_few = found.rows["too_few"].where(found.rows["too_few"].ne(""))
    return found.rows.assign(level=DEFAULT_LEVEL, too_few=too_few, short_rounds=found.total["short_rounds"])


def _club_summary(season: Season, player: Player) -> Iterator[pd.DataFrame]:
    rows = _summary(season, player, "club")
    clubs = clubs_frame(season.connection, player.player_id, *season.days).set_index("club")["club_id"]
    yield rows.assign(club_id=rows["club"].astype("object").map(clubs))


def _category_summary(season: Season, player: Player) -> Iterator[pd.DataFrame]:
    rows = _summary(season, player, "category")
    scheme = scheme_of(player)
    yield rows.assign(category_scheme=scheme.name, short_game_yd=scheme.short_game_yd)


FRAMES: Final[dict[str, Callable[[Season, Player], Iterator[pd.DataFrame]]]] = {
    "shots": _shots,
    "holes": _holes,
    "rounds": _rounds,
    "clubs": _clubs,
    "setups": _setups,
    "club_summary": _club_summary,
    "category_summary": _category_summary,
}
"""Every table of the dictionary, and how its rows of one player are made."""


def frames(season: Season, table: str) -> Iterator[pd.DataFrame]:
    """The rows of a table in order, in pieces. KeyError for another table."""
    for player in season.players:
        for frame in FRAMES[table](season, player):
            stated = {"player": player.name, "player_id": player.player_id}
            yield frame.assign(**stated, baseline=f"{season.baseline.id} {season.baseline.version}")
