"""Tables over all players of a season: made of what the rows of the table shots add up to, a player at a time.

The shots are not valued again: whoever has rows of the table shots, in a stream or in a dataset, has these tables.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import islice
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.evidence.ranking import no_spread
from server.analysis.evidence.tallies import Tally, joined, tallies
from server.analysis.expected_strokes.baseline import Baseline
from server.files.season_tables.chunks import ROWS_AT_ONCE, copied
from server.files.season_tables.kept_tallies import KeptTallies
from server.questions.holes_played import courses_played, holes_played
from server.questions.question import Span
from server.questions.ranked import PARTS, ranked_by_each
from server.questions.squads import Member
from server.questions.valued_shots import scheme_of
from server.store.players import Player
from server.store.record_shots import USUAL_PAR

MOST_RANKED: Final = 400
"""Players above whom no order is worked out: its cost grows with their number to the third power. A stated choice."""
SQUAD_RANKS: Final = "squad_ranks"
HOLE_EFFECTS: Final = "hole_effects"
OF_EVERYBODY: Final = (SQUAD_RANKS, HOLE_EFFECTS)
"""Tables whose rows need every player's season."""
TALLIED: Final = ("player_id", "round_id", "played_on", "kind", "course", "hole", "par", "ball", "category")
TALLIED_COLUMNS: Final = [*TALLIED, "strokes_gained"]
"""The columns of the table shots that are read."""

_EVER: Final = Span()

Places = npt.NDArray[np.int64]


def members_of(shots: Iterable[pa.Table], players: Sequence[Player]) -> list[Member]:
    """The players with their tallies, in the order given. `shots`: rows of the table shots, the rows of a player one
    behind the other; rows of other players are passed over. No more is held at a time than one of the tables and the
    rows of a player. ValueError for a player whose rows stand apart."""
    tallied = Tallied(players)
    for rows in shots:
        tallied.add(rows)
    return tallied.members()


class Tallied:
    """The tallies of players, whose shots come table by table, as `members_of` takes them, or as they were valued."""

    def __init__(self, players: Sequence[Player]) -> None:
        self._players = players
        self._known = {player.player_id: player for player in players}
        self._kept = KeptTallies()
        self._seen: set[str] = set()
        self._held: list[pa.Table] = []
        self._last = ""
        self._waiting: dict[str, Tally] = {}

    def add_valued(self, rounds: pd.DataFrame, valued: pd.DataFrame, round_of: Places) -> None:
        """Take valued shots of full days of players, players and each one's days in order. `rounds`: theirs, as
        `rounds_frame` has them; `round_of`: the row of each shot's round."""
        found = dict(_of_valued(rounds, valued, round_of, self._known))
        # the last days of the player before may have been read by themselves
        for player_id, tally in [*self._waiting.items()]:
            if player_id in found:
                found[player_id] = joined([tally, found[player_id]])
            else:
                self._keep(player_id, tally)
        self._waiting = {}
        for player_id, tally in found.items():
            if len(found) == 1:
                self._waiting[player_id] = tally
            else:
                self._keep(player_id, tally)

    def _keep(self, player_id: str, tally: Tally) -> None:
        if player_id in self._kept:
            raise ValueError(f"shots: rows of player {player_id} stand apart")
        self._kept.keep(player_id, tally)

    def add(self, shots: pa.Table) -> None:
        """Take further rows of the table shots. The last player may have more to come."""
        rows = shots.select(TALLIED_COLUMNS)
        if not rows.num_rows:
            return
        # a row's player is coded by the first row that names him
        ids = rows["player_id"].combine_chunks().dictionary_encode()
        codes, names = ids.indices.to_numpy(), ids.dictionary.to_pylist()
        whose = [names[codes[0]], *(names[codes[at]] for at in np.flatnonzero(np.diff(codes)) + 1)]
        for player_id in whose[whose[0] == self._last :]:
            if player_id in self._seen:
                raise ValueError(f"shots: rows of player {player_id} stand apart")
            self._seen.add(player_id)
        first = int(np.argmax(codes == codes[-1]))
        if first or whose[0] != self._last:
            self._tally([*self._held, rows.slice(0, first)])
            self._held = []
        self._held.append(copied(rows.slice(first)) if first else rows)
        self._last = whose[-1]

    def members(self) -> list[Member]:
        """All players, once there are no further rows."""
        self._tally(self._held)
        self._held = []
        for player_id, tally in self._waiting.items():
            self._keep(player_id, tally)
        self._waiting = {}
        return [Member(player, self._tally_of(player)) for player in self._players]

    def _tally_of(self, player: Player) -> Callable[[], Tally]:
        if player.player_id in self._kept:
            return partial(self._kept.tally, player.player_id)
        return partial(_nothing, player)

    def _tally(self, parts: Sequence[pa.Table]) -> None:
        """Take the tallies of players whose rows are complete."""
        rows = pa.concat_tables(parts).combine_chunks() if parts else None
        if not rows or not rows.num_rows:
            return
        shots = _Shots(rows, self._known)
        for categories in dict.fromkeys(shots.categories):
            for player_id, tally in shots.tallies(categories).items():
                self._kept.keep(player_id, tally)


class _Shots:
    """Shots of the ball of record of some players, as arrays. `categories`: those of each player's scheme."""

    def __init__(self, rows: pa.Table, known: Mapping[str, Player]) -> None:
        taken = rows["ball"].to_numpy() == 1
        codes, names = _coded(rows["player_id"])
        mine = np.array([name in known for name in names], dtype=np.bool_)
        taken &= mine[codes]
        if not taken.all():
            rows = rows.filter(pa.array(taken))
            codes, names = _coded(rows["player_id"])
        self.rows, self.owner, self.names = rows, codes, names
        self.categories = [scheme_of(known[name]).categories for name in self.names]

    def tallies(self, categories: tuple[str, ...]) -> dict[str, Tally]:
        """Those of the players who use these categories."""
        mine = [place for place, found in enumerate(self.categories) if found == categories]
        rows, owner = self.rows, self.owner
        if len(mine) < len(self.names):
            taken = np.isin(owner, mine)
            rows, owner = rows.filter(pa.array(taken)), np.searchsorted(mine, owner[taken])
        round_, ids = _coded(rows["round_id"])
        first = np.zeros(len(ids), dtype=np.int64)
        first[round_[::-1]] = np.arange(round_.size)[::-1]
        of_round = rows.select(["played_on", "kind", "course"]).take(pa.array(first))
        day = of_round["played_on"].to_numpy().astype("datetime64[s]")
        order = np.lexsort((np.array(ids, dtype=np.str_), day, owner[first]))
        place = np.empty(order.size, dtype=np.int64)
        place[order] = np.arange(order.size)
        kind, course = (np.array(of_round[name].to_pylist(), dtype=object)[order] for name in ("kind", "course"))
        rounds = pd.DataFrame(
            {
                "id": np.array(ids, dtype=object)[order],
                "player": owner[first][order],
                "played_on": day[order],
                "kind": kind,
                "course": course,
            },
            copy=False,
        )
        word, words = _coded(rows["category"])
        known = np.array([categories.index(name) if name in categories else -1 for name in [*words, None]])
        valued = pd.DataFrame(
            {
                "round_id": place[round_],
                "hole": rows["hole"].to_numpy(),
                "par": pc.fill_null(rows["par"], USUAL_PAR).to_numpy(),
                "strokes_gained": rows["strokes_gained"].to_numpy(),
                "category": pd.Categorical.from_codes(known[word], list(categories)),
            },
            copy=False,
        )
        found = tallies(rounds, valued, len(mine), categories)
        return {self.names[at]: tally for at, tally in zip(mine, found, strict=True)}


def _of_valued(
    rounds: pd.DataFrame, valued: pd.DataFrame, round_of: Places, known: Mapping[str, Player]
) -> Iterator[tuple[str, Tally]]:
    """The tallies of the players who have rounds, in order."""
    owner, ids = pd.factorize(rounds["player_id"])
    schemes = [scheme_of(known[player_id]).categories for player_id in ids]
    record = valued["ball"].to_numpy() == 1
    category = valued["category"].cat
    found: dict[str, Tally] = {}
    for categories in dict.fromkeys(schemes):
        mine = np.flatnonzero(np.array([scheme == categories for scheme in schemes], dtype=np.bool_))
        of_mine = np.isin(owner, mine)
        taken = record & of_mine[round_of]
        place = np.cumsum(of_mine) - 1
        theirs = rounds[of_mine]
        # words as this scheme numbers them; a category of another scheme stays none
        codes = np.array([*(categories.index(name) if name in categories else -1 for name in category.categories), -1])
        par = valued["par"].to_numpy(dtype=np.float64, na_value=np.nan)[taken]
        found |= zip(
            ids[mine],
            tallies(
                pd.DataFrame(
                    {
                        "id": theirs["round_id"].to_numpy(dtype=object),
                        "player": np.searchsorted(mine, owner[of_mine]),
                        "played_on": theirs["played_on"].to_numpy(),
                        "kind": theirs["kind"].to_numpy(dtype=object),
                        "course": theirs["course"].to_numpy(dtype=object),
                    },
                    copy=False,
                ),
                pd.DataFrame(
                    {
                        "round_id": place[round_of[taken]],
                        "hole": valued["hole"].to_numpy()[taken],
                        "par": np.where(np.isnan(par), USUAL_PAR, par).astype(np.int64),
                        "strokes_gained": valued["strokes_gained"].to_numpy()[taken],
                        "category": pd.Categorical.from_codes(
                            codes[category.codes.to_numpy()[taken]], list(categories)
                        ),
                    },
                    copy=False,
                ),
                mine.size,
                categories,
            ),
            strict=True,
        )
    for player_id in ids:
        yield str(player_id), found[player_id]


def _coded(column: pa.ChunkedArray) -> tuple[npt.NDArray[np.int64], list[str]]:
    """The places of the words of a column among those that occur, -1 where missing, and these."""
    coded = column.combine_chunks().dictionary_encode()
    return coded.indices.fill_null(-1).to_numpy().astype(np.int64), coded.dictionary.to_pylist()


def by_player(shots: Iterable[pa.Table]) -> Iterator[tuple[str, pa.Table]]:
    """The rows of each player, complete, where those of a player come one behind the other."""
    held: list[pa.Table] = []
    whose = ""
    for rows in shots:
        ids = rows["player_id"].to_numpy(zero_copy_only=False)
        ends = [*(np.flatnonzero(ids[1:] != ids[:-1]) + 1).tolist(), len(ids)]
        first = 0
        for end in ends:
            if end == first:
                continue
            if held and ids[first] != whose:
                yield whose, pa.concat_tables(held)
                held = []
            whose = str(ids[first])
            held.append(rows.slice(first, end - first))
            first = end
    if held:
        yield whose, pa.concat_tables(held)


def _nothing(player: Player) -> Tally:
    rounds = pd.DataFrame({"id": [], "player": [], "played_on": [], "kind": [], "course": []})
    categories = scheme_of(player).categories
    valued = pd.DataFrame({"round_id": [], "hole": [], "par": [], "strokes_gained": []})
    valued["category"] = pd.Categorical([], categories=list(categories))
    return tallies(rounds, valued, 1, categories)[0]


def frames_of_everybody(name: str, members: Sequence[Member], baseline: Baseline) -> Iterator[pd.DataFrame]:
    """The rows of a table of `OF_EVERYBODY`, in pieces. KeyError for another."""
    make = {SQUAD_RANKS: _rank_rows, HOLE_EFFECTS: _hole_rows}[name]
    made = make(members)
    while rows := list(islice(made, ROWS_AT_ONCE)):
        columns: dict[str, Any] = {of: pd.Series([row[of] for row in rows], dtype="object") for of in rows[0]}
        counts = {of: columns[of].astype("Int64") for of in _COUNTS if of in columns}
        words = {"level": DEFAULT_LEVEL, "baseline": f"{baseline.id} {baseline.version}"}
        yield pd.DataFrame(columns | counts).assign(**words)


_COUNTS: Final = ("rounds", "courses", "rank_low", "rank_high")
"""Columns of whole numbers that may be missing."""


def _rank_rows(members: Sequence[Member]) -> Iterator[Mapping[str, Any]]:
    """By part: who has a place, best first, then who has none."""
    names = ("rounds", "courses", "beside_squad", "low", "high", "rank_low", "rank_high", "chance_above_next")
    orders = ranked_by_each(members, PARTS, DEFAULT_LEVEL, _EVER) if len(members) <= MOST_RANKED else []
    for part, found in zip(PARTS, orders, strict=False):
        for row in found.players:
            who = {"part": part, "player": row["name"], "player_id": row["player_id"], "strokes_gained": row["mean"]}
            yield who | {name: dict(row)[name] for name in names} | {"chance_first": row["chances"][0], "lacking": None}
        with_place = {row["player_id"] for row in found.players}
        why = {one["player_id"]: one["why"] for one in found.left_out}
        for player in (one.player for one in members if one.player.player_id not in with_place):
            who = {"part": part, "player": player.name, "player_id": player.player_id, "strokes_gained": None}
            lacking = why.get(player.player_id, no_spread(found.names) or NO_ORDER)
            yield who | dict.fromkeys(names) | {"chance_first": None, "lacking": lacking}


NO_ORDER: Final = "there is nobody to be put in order with"


def _hole_rows(members: Sequence[Member]) -> Iterator[Mapping[str, Any]]:
    """By course, the one most played first."""
    # few: what is kept of them elsewhere is read once
    if len(members) <= MOST_RANKED:
        members = [Member(one.player, one.tally) for one in members]
    there: dict[str, list[Member]] = {}
    for member in members:
        tally = member.tally
        for course in tally.courses() if tally else ():
            there.setdefault(course, []).append(member)
    for one in courses_played(members, _EVER):
        found = holes_played(there[one["course"]], one["course"], DEFAULT_LEVEL, _EVER)
        for hole in found.holes:
            of_hole = {"course": one["course"], "hole": hole["hole"], "par": hole["par"], "times": hole["times"]}
            yield from (of_hole | part | {"strokes_gained": part["mean"]} for part in hole["parts"])
