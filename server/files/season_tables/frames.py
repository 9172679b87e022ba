"""The frames of every season table, in pieces: a few days of a player, or a player at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.strokes_gained.summaries import summarise
from server.files.season_tables.chunks import to_arrow
from server.files.season_tables.dictionary import tables
from server.files.season_tables.player_tables import course_effect_rows, course_rows, player_row
from server.files.season_tables.practice_tables import practice_balls, practice_sessions
from server.files.season_tables.round_frames import hole_rows, round_rows
from server.files.season_tables.seasons import Piece, Season
from server.files.season_tables.tallied_tables import OF_EVERYBODY, frames_of_everybody, members_of
from server.files.shots_export import shots_table
from server.questions.valued_shots import scheme_of
from server.store.frames import positions_frame
from server.store.players import shares_positions
from server.store.season_rows import setups_in_full


def _shots(piece: Piece) -> pd.DataFrame:
    connection = piece.season.connection
    shared = shares_positions(connection, piece.player.player_id)
    positions = positions_frame(connection, piece.selection) if shared else None
    return shots_table(piece.valued, piece.season.baseline, positions)


def _clubs(whole: Piece) -> pd.DataFrame:
    clubs = whole.clubs
    retired = pd.to_datetime(clubs["retired_on"]) < pd.Timestamp(whole.season.days[0])
    gone = retired | clubs["deleted"].eq(True)
    return clubs[~gone | clubs["shots"].gt(0)]


def _setups(whole: Piece) -> pd.DataFrame:
    setups = setups_in_full(whole.season.connection, whole.player.player_id)
    since = pd.to_datetime(setups["since"]).astype("datetime64[s]")
    following = since.groupby(setups["club_id"]).shift(-1)
    until = following - pd.Timedelta(days=1)
    first, last = map(pd.Timestamp, whole.season.days)
    clubs = whole.clubs.set_index("club_id")["club"]
    label = since.dt.strftime("%Y-%m-%d") + " " + setups["note"]
    reported = setups.assign(since=since, until=until, setup=label, club=setups["club_id"].map(clubs))
    # of two setups of one day the later stands; a club that is gone has no label
    in_force = (since <= last) & (until.isna() | (until >= first)) & (until.isna() | (until >= since))
    return reported[in_force & reported["club"].notna()].sort_values(["club", "since", "setup_id"])


def _summary(whole: Piece, by: str) -> pd.DataFrame:
    found = summarise(whole.valued, by)
    too_few = found.rows["too_few"].where(found.rows["too_few"].ne(""))
    return found.rows.assign(level=DEFAULT_LEVEL, too_few=too_few, short_rounds=found.total["short_rounds"])


def _club_summary(whole: Piece) -> pd.DataFrame:
    rows = _summary(whole, "club")
    return rows.assign(club_id=rows["club"].astype("object").map(whole.clubs.set_index("club")["club_id"]))


def _category_summary(whole: Piece) -> pd.DataFrame:
    rows = _summary(whole, "category")
    scheme = scheme_of(whole.player)
    return rows.assign(category_scheme=scheme.name, short_game_yd=scheme.short_game_yd)


OF_PIECES: Final[dict[str, Callable[[Piece], pd.DataFrame]]] = {
    "shots": _shots,
    "holes": hole_rows,
    "rounds": round_rows,
}
"""Tables whose rows are made from some days of a player at a time."""
OF_SEASONS: Final[dict[str, Callable[[Piece], pd.DataFrame]]] = {
    "clubs": _clubs,
    "setups": _setups,
    "club_summary": _club_summary,
    "category_summary": _category_summary,
    "practice_sessions": practice_sessions,
    "practice_balls": practice_balls,
    "players": player_row,
    "courses": course_rows,
    "course_effects": course_effect_rows,
}
"""Tables whose rows need a player's whole season."""


def frames(season: Season, table: str) -> Iterator[pd.DataFrame]:
    """The rows of a table in order, in pieces. KeyError for another table."""
    if table in OF_EVERYBODY:
        shots = (to_arrow(frame, tables()["shots"]) for frame in frames(season, "shots"))
        yield from frames_of_everybody(table, members_of(shots, season.players), season.baseline)
        return
    for _, frame in frames_together(season, [table]):
        yield frame


def frames_together(season: Season, names: Sequence[str]) -> Iterator[tuple[str, pd.DataFrame]]:
    """The rows of several tables in one pass over the shots, each piece with its table's name; of one table they come
    in order. KeyError for another table, and for those of everybody, which are made of rows of the table shots."""
    made = OF_PIECES | OF_SEASONS
    makers = [(name, made[name]) for name in names]
    of_pieces = [one for one in makers if one[0] in OF_PIECES]
    of_seasons = [one for one in makers if one[0] in OF_SEASONS]
    for player in season.players:
        whole = Piece(season, player, season.whole(player))
        for piece in _pieces(whole) if of_pieces else ():
            yield from ((name, _stated(piece, make)) for name, make in of_pieces)
        yield from ((name, _stated(whole, make)) for name, make in of_seasons)


def _pieces(whole: Piece) -> Iterator[Piece]:
    """The pieces in which a player's season is read: most seasons are one."""
    chosen = list(whole.season.pieces(whole.player))
    if len(chosen) == 1:
        yield whole
    else:
        yield from (Piece(whole.season, whole.player, selection) for selection in chosen)


def _stated(piece: Piece, make: Callable[[Piece], pd.DataFrame]) -> pd.DataFrame:
    player, baseline = piece.player, piece.season.baseline
    stated = {"player": player.name, "player_id": player.player_id, "baseline": f"{baseline.id} {baseline.version}"}
    return make(piece).assign(**stated)
