"""A season to be reported: whose, which year, against which baseline, and in which pieces it is read."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property, partial
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import sqlalchemy as sa

from server.analysis.evidence.course_ratings import Ratings, ratings_of
from server.analysis.evidence.round_lengths import RoundsOfMany, has_hole, rounds_of_many
from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.strokes_gained.scorecard import HoleScores, scores_of
from server.analysis.strokes_gained.summaries import Starts, starts_of
from server.questions.valued_shots import scheme_of, valued_shots, with_schemes
from server.store.frames import Selection
from server.store.players import Player, courses_of
from server.store.rows import TeesRow
from server.store.season_rows import (
    clubs_frame,
    counts_of_season,
    days_played,
    holes_frame,
    log_marks,
    players_of_season,
    rounds_frame,
    shots_of_clubs,
    shots_of_players,
)
from server.store.season_shots import season_shots_frame

SHOTS_AT_ONCE: Final = 81_920
"""Players are read together until they have so many shots, and of one who has more days until they hold so many:
memory stays flat however large the season is."""
PLAYERS_AT_ONCE: Final = 256
"""And no more players than this, however few their shots are."""


@dataclass(frozen=True, eq=False)
class Season:
    """One year of the players in `players`, read through one connection, so that every table sees one state."""

    connection: sa.Connection
    year: int
    baseline: Baseline
    players: tuple[Player, ...]
    with_squads: bool = True
    """Whether the squads that players share with are exported."""

    @property
    def days(self) -> tuple[date, date]:
        """The first and the last day."""
        return date(self.year, 1, 1), date(self.year, 12, 31)

    def full(self, *players: Player) -> Selection:
        """All of the season of these players."""
        return Selection(None, *self.days, player_ids=tuple(player.player_id for player in players))

    @cached_property
    def baseline_words(self) -> pd.CategoricalDtype:
        """The baseline and its version, as the one word of a column."""
        return pd.CategoricalDtype([f"{self.baseline.id} {self.baseline.version}"])

    def groups(self) -> Iterator[tuple[Player, ...]]:
        """The players in their order, those together who are read together."""
        group: list[Player] = []
        held = 0
        for start in range(0, len(self.players), PLAYERS_AT_ONCE):
            part = self.players[start : start + PLAYERS_AT_ONCE]
            shots = shots_of_players(self.connection, [player.player_id for player in part], *self.days)
            for player in part:
                count = shots.get(player.player_id, 0)
                if group and (held + count > SHOTS_AT_ONCE or len(group) == PLAYERS_AT_ONCE):
                    yield tuple(group)
                    group, held = [], 0
                group.append(player)
                held += count
        if group:
            yield tuple(group)

    def pieces(self, full: Piece) -> Iterator[Piece]:
        """A group's season as it is read: that of one player with too many shots in runs of full days."""
        runs = list(self._runs(full.player)) if len(full.players) == 1 else []
        if len(runs) <= 1:
            yield full
        else:
            of = full.selection.player_ids
            yield from (Piece(self, full.players, Selection(None, *run, player_ids=of)) for run in runs)

    def _runs(self, player: Player) -> Iterator[tuple[date, date]]:
        """Runs of full days of about `SHOTS_AT_ONCE` shots."""
        first: date | None = None
        last: date | None = None
        held = 0
        for day, shots in days_played(self.connection, player.player_id, *self.days):
            if first is not None and last is not None and held + shots > SHOTS_AT_ONCE:
                yield first, last
                first, held = None, 0
            first, last, held = first or day, day, held + shots
        if first is not None and last is not None:
            yield first, last

    def counts(self) -> tuple[int, int]:
        """How many shots there are, and in how many rounds."""
        found = [counts_of_season(self.connection, player.player_id, *self.days) for player in self.players]
        return sum(shots for shots, _ in found), sum(rounds for _, rounds in found)

    def marks(self) -> list[tuple[str, str]]:
        """What the tables depend on in the store: each player's log up to now."""
        return log_marks(self.connection, [player.player_id for player in self.players])


def places_of(player_id: pd.Series, players: tuple[Player, ...]) -> npt.NDArray[np.int64]:
    """The place of each row's player among `players`."""
    known = {player.player_id: place for place, player in enumerate(players)}
    is_coded = isinstance(player_id.dtype, pd.CategoricalDtype)
    ids = player_id.cat.categories if is_coded else player_id
    found = np.array([known.get(one, -1) for one in ids], dtype=np.int64)
    return found[player_id.cat.codes] if is_coded else found


def with_columns(frame: pd.DataFrame, **columns: Any) -> pd.DataFrame:
    """The frame with further or other columns, as `assign` makes it, all of them at once: that one makes the names of
    the columns anew for each."""
    return pd.DataFrame(dict(frame.items()) | columns, index=frame.index, copy=False)


@dataclass(frozen=True, eq=False)
class Piece:
    """The season of some players, or some days of one player's. What several tables need is read and valued once.
    Rows of all frames stand in the order of the players."""

    season: Season
    players: tuple[Player, ...]
    selection: Selection
    within: Piece | None = None

    @property
    def player(self) -> Player:
        """The player, of a piece of one. ValueError for another one."""
        (player,) = self.players
        return player

    @cached_property
    def ids(self) -> pd.CategoricalDtype:
        """The ids of the players, in their order, as words of a column."""
        return pd.CategoricalDtype([player.player_id for player in self.players])

    @cached_property
    def names(self) -> pd.Categorical:
        """The names of the players, by their places."""
        return pd.Categorical([player.name for player in self.players])

    @cached_property
    def valued(self) -> pd.DataFrame:
        """The valued shots, each by the categories that its player chose; of a piece within another they are not read
        again."""
        if self.within is not None:
            return self.within.valued_of(self.player)
        read = partial(season_shots_frame, rounds=self.rounds, holes=self.holes)
        schemes = [scheme_of(player) for player in self.players]
        valued = valued_shots(self.season.connection, self.selection, self.season.baseline, schemes[0], read)
        owner = places_of(valued["player_id"], self.players)
        valued = with_schemes(valued, owner, schemes)
        return valued.assign(player=pd.Categorical.from_codes(self.names.codes[owner], dtype=self.names.dtype))

    @cached_property
    def rounds(self) -> pd.DataFrame:
        """The rounds, as `rounds_frame` has them."""
        return rounds_frame(self.season.connection, self.selection)

    @cached_property
    def holes(self) -> pd.DataFrame:
        """The holes that the rounds define."""
        return holes_frame(self.season.connection, self.selection, self.rounds)

    @cached_property
    def clubs(self) -> pd.DataFrame:
        """The clubs of the players, with their shots in the full season, of a piece that has all of it."""
        connection, ids = self.season.connection, self.selection.named
        if self.within is not None:
            found = self.within.clubs
            return found[found["player_id"].eq(self.player.player_id)].reset_index(drop=True)
        if "valued" in self.__dict__:
            club = self.valued["club_id"].cat
            many = len(club.categories)
            counts = np.bincount(self.owner * many + club.codes.to_numpy(), minlength=len(ids) * many)
            pairs = [(divmod(int(cell), many), int(counts[cell])) for cell in np.flatnonzero(counts)]
            used = {(ids[owner], str(club.categories[code])): shots for (owner, code), shots in pairs}
        else:
            used = shots_of_clubs(connection, ids, *self.season.days)
        return clubs_frame(connection, ids, used)

    @cached_property
    def courses(self) -> dict[str, list[tuple[str, str, list[TeesRow]]]]:
        """The courses of the players who have any, as `courses_of` has them, the players in their order."""
        found = courses_of(self.season.connection, self.selection.named)
        return {player_id: found[player_id] for player_id in self.selection.named if player_id in found}

    @cached_property
    def ratings(self) -> dict[str, Ratings]:
        """What the ratings of their tees say of the courses of the players who have any."""
        return {
            player_id: ratings_of({name: tees for name, _, tees in known}, self.season.baseline)
            for player_id, known in self.courses.items()
        }

    @cached_property
    def round_of(self) -> npt.NDArray[np.int64]:
        """The row of the round of each valued shot among `rounds`."""
        ids = self.valued["round_id"].cat
        by_code = pd.Index(self.rounds["round_id"], dtype="object").get_indexer(ids.categories.astype("object"))
        return np.asarray(by_code.astype(np.int64)[ids.codes])

    @cached_property
    def scores(self) -> HoleScores:
        """The scores of the holes of the rounds."""
        return scores_of(self.valued, self.round_of)

    @cached_property
    def scored(self) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
        """The place of the score of each hole, and of the hole of each score; -1 for a hole without a shot of record
        and for a score of a hole that the round does not define."""
        holes, scores = self.holes, self.scores
        number, round_ = holes["hole"].to_numpy(), holes["round_id"].cat.codes.to_numpy().astype(np.int64)
        span = max(int(number.max(initial=0)), int(scores.hole.max(initial=0))) + 1
        rows = (round_ * span + number, scores.round_ * span + scores.hole)
        found = []
        for sought, among in (rows, rows[::-1]):
            row_at = np.full(len(self.rounds) * span, -1, dtype=np.int64)
            row_at[among] = np.arange(among.size)
            found.append(row_at[sought])
        return found[0], found[1]

    @cached_property
    def owner(self) -> npt.NDArray[np.int64]:
        """The place of the player of each valued shot."""
        return places_of(self.valued["player_id"], self.players)

    @cached_property
    def lengths(self) -> RoundsOfMany:
        """The rounds of the valued shots, and which of them count."""
        valued = self.valued
        codes = valued["round_id"].cat.codes.to_numpy()
        return rounds_of_many(self.owner, codes, valued["hole"].to_numpy(), has_hole(valued), len(self.players))

    @cached_property
    def starts(self) -> Starts:
        """Where the valued shots start, for shrunk means."""
        return starts_of(self.valued)

    def each(self) -> Iterator[Piece]:
        """A piece for each of the players."""
        if len(self.players) == 1:
            yield self
            return
        for player in self.players:
            yield Piece(self.season, (player,), self.season.full(player), self)

    @cached_property
    def _ends(self) -> npt.NDArray[np.intp]:
        """Where the shots of each player begin among the valued ones, and where the last one's end."""
        return np.searchsorted(self.owner, np.arange(len(self.players) + 1))

    def valued_of(self, player: Player) -> pd.DataFrame:
        """The valued shots of one of the players."""
        first, end = self._ends[self.players.index(player) :][:2]
        rows = self.valued.iloc[first:end].reset_index(drop=True)
        return rows.assign(**{name: rows[name].cat.remove_unused_categories() for name in ("round_id", "club")})


def open_season(
    connection: sa.Connection,
    year: int,
    baseline: Baseline,
    players: Collection[str] | None = None,
    *,
    with_squads: bool = True,
) -> Season:
    """The season of the players who have a round in that year; `players`: only these ids (None: everybody)."""
    found = players_of_season(connection, date(year, 1, 1), date(year, 12, 31), players)
    return Season(connection, year, baseline, tuple(found), with_squads)
