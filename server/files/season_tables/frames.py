"""The frames of every season table, in pieces: some players, or some days of one, at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from operator import itemgetter
from typing import Final

import numpy as np
import pandas as pd

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.strokes_gained.summaries import summaries_of_many
from server.files.season_tables.player_tables import course_effect_rows, course_rows, player_rows
from server.files.season_tables.practice_tables import practice_balls, practice_sessions
from server.files.season_tables.round_frames import hole_rows, round_rows
from server.files.season_tables.seasons import Piece, Season, places_of
from server.files.season_tables.tallied_tables import OF_EVERYBODY, Tallied, frames_of_everybody
from server.files.shots_export import shots_table
from server.questions.squads import Member
from server.questions.valued_shots import scheme_of
from server.store.frames import positions_frame
from server.store.players import sharing_positions
from server.store.season_rows import owners_in, setups_in_full

Maker = Callable[[Piece], pd.DataFrame]


def _shots(piece: Piece) -> pd.DataFrame:
    connection, selection = piece.season.connection, piece.selection
    shared = sharing_positions(connection, selection.named)
    sharing = tuple(player_id for player_id in selection.named if player_id in shared)
    positions = positions_frame(connection, replace(selection, player_ids=sharing)) if sharing else None
    return shots_table(piece.valued, piece.season.baseline, positions)


def _clubs(full: Piece) -> pd.DataFrame:
    clubs = full.clubs
    retired = pd.to_datetime(clubs["retired_on"]) < pd.Timestamp(full.season.days[0])
    gone = retired | clubs["deleted"].eq(True)
    return clubs[~gone | clubs["shots"].gt(0)]


def _setups(full: Piece) -> pd.DataFrame:
    setups = setups_in_full(full.season.connection, full.player.player_id)
    since = pd.to_datetime(setups["since"]).astype("datetime64[s]")
    following = since.groupby(setups["club_id"]).shift(-1)
    until = following - pd.Timedelta(days=1)
    first, last = map(pd.Timestamp, full.season.days)
    clubs = full.clubs.set_index("club_id")["club"]
    label = since.dt.strftime("%Y-%m-%d") + " " + setups["note"]
    reported = setups.assign(since=since, until=until, setup=label, club=setups["club_id"].map(clubs))
    # of two setups of one day the later counts; a club that is gone has no label
    in_force = (since <= last) & (until.isna() | (until >= first)) & (until.isna() | (until >= since))
    return reported[in_force & reported["club"].notna()].sort_values(["club", "since", "setup_id"])


def _summary(full: Piece, by: str) -> pd.DataFrame:
    """The rows of all players, `owner` the place of each one's."""
    rows = summaries_of_many(full.valued, full.owner, full.lengths, len(full.players), by, starts=full.starts)
    owner = rows["owner"].to_numpy()
    return rows.assign(
        player_id=pd.Categorical.from_codes(owner, dtype=full.ids),
        level=DEFAULT_LEVEL,
        short_rounds=full.lengths.short[owner],
    )


def _club_summary(full: Piece) -> pd.DataFrame:
    rows, clubs = _summary(full, "club"), full.clubs
    ids = dict(zip(zip(clubs["player_id"], clubs["club"], strict=True), clubs["club_id"], strict=True))
    known = [ids.get(one) for one in zip(rows["player_id"], rows["club"], strict=True)]
    return rows.assign(club_id=np.array(known, dtype=object))


def _category_summary(full: Piece) -> pd.DataFrame:
    rows = _summary(full, "category")
    schemes = [scheme_of(player) for player in full.players]
    names, yards = (np.array([getattr(one, name) for one in schemes]) for name in ("name", "short_game_yd"))
    owner = rows["owner"].to_numpy()
    return rows.assign(category_scheme=names.astype(object)[owner], short_game_yd=yards[owner])


def _one_by_one(make: Maker, kind: str) -> Maker:
    """The rows of a maker that takes one player, of those players who have records of a kind."""

    def joined(full: Piece) -> pd.DataFrame:
        having = owners_in(full.season.connection, kind, full.selection.named)
        parts = [
            make(one).assign(player_id=one.player.player_id) for one in full.each() if one.player.player_id in having
        ]
        rows = [part for part in parts if len(part)]
        return pd.concat(rows, ignore_index=True) if rows else pd.DataFrame()

    return joined


OF_PIECES: Final[dict[str, Maker]] = {
    "shots": _shots,
    "holes": hole_rows,
    "rounds": round_rows,
}
"""Tables whose rows are made for several players, or for some days of one, at a time; each row has its player_id."""
KINDS_OF: Final[dict[str, str]] = {"setups": "setup", "practice_sessions": "session", "practice_balls": "practice_ball"}
"""Tables that are made of one kind of records, and which: without any there are no rows."""
OF_SEASONS: Final[dict[str, Maker]] = {
    "clubs": _clubs,
    "setups": _one_by_one(_setups, KINDS_OF["setups"]),
    "club_summary": _club_summary,
    "category_summary": _category_summary,
    "practice_sessions": _one_by_one(practice_sessions, KINDS_OF["practice_sessions"]),
    "practice_balls": _one_by_one(practice_balls, KINDS_OF["practice_balls"]),
    "players": player_rows,
    "courses": course_rows,
    "course_effects": course_effect_rows,
}
"""Tables whose rows need the full season of a player, of several players at a time; each row has its player_id."""


def frames(season: Season, table: str) -> Iterator[pd.DataFrame]:
    """The rows of a table in order, in pieces. KeyError for another table."""
    if table in OF_EVERYBODY:
        yield from frames_of_everybody(table, tallied_members(season), season.baseline)
        return
    # a loop would hold each frame while the next one is made
    yield from map(itemgetter(1), frames_together(season, [table]))


def tallied_members(season: Season) -> list[Member]:
    """The players of a season with their tallies."""
    tallied = Tallied(season.players)
    for _ in frames_together(season, [], tallied):
        raise AssertionError("rows of no table")
    return tallied.members()


def frames_together(
    season: Season, names: Sequence[str], tallied: Tallied | None = None
) -> Iterator[tuple[str, pd.DataFrame]]:
    """The rows of several tables in one pass over the shots, each piece with its table's name; of one table they come
    in order. `tallied`: takes the shots too. KeyError for another table, and for those of everybody, which are made of
    tallies."""
    made = OF_PIECES | OF_SEASONS
    makers = [(name, made[name]) for name in names]
    of_pieces = [one for one in makers if one[0] in OF_PIECES]
    of_seasons = [one for one in makers if one[0] in OF_SEASONS]
    for players in season.groups():
        yield from _of_group(Piece(season, players, season.full(*players)), of_pieces, of_seasons, tallied)


def _of_group(
    full: Piece,
    of_pieces: Sequence[tuple[str, Maker]],
    of_seasons: Sequence[tuple[str, Maker]],
    tallied: Tallied | None,
) -> Iterator[tuple[str, pd.DataFrame]]:
    """The rows of players who are read together; what was read goes with this."""
    for piece in full.season.pieces(full) if of_pieces or tallied else ():
        yield from ((name, _of_players(piece, make(piece))) for name, make in of_pieces)
        if tallied:
            tallied.add_valued(piece.rounds, piece.valued, piece.round_of)
    for name, make in of_seasons:
        rows = make(full)
        if len(rows):
            yield name, _of_players(full, rows)


def _of_players(piece: Piece, rows: pd.DataFrame) -> pd.DataFrame:
    """The rows with the name of each one's player, and the baseline."""
    owner = places_of(rows["player_id"], piece.players)
    names = piece.names
    return rows.assign(
        player=pd.Categorical.from_codes(names.codes[owner], dtype=names.dtype),
        player_id=pd.Categorical.from_codes(owner, dtype=piece.ids),
        baseline=pd.Categorical.from_codes(np.zeros(len(rows), dtype=np.int8), dtype=piece.season.baseline_words),
    )
