"""Tables over all players of a season: made of what the rows of the table shots add up to, a player at a time.

The shots are not valued again: whoever has rows of the table shots, in a stream or in a dataset, has these tables.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import islice
from typing import Any, Final, NamedTuple

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
        found = _tallies(_of_valued(rounds, valued, round_of), self._known)
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
            raise ValueError(f"shots: the rows of player {player_id} are not next to each other")
        self._kept.keep(player_id, tally)

    def add(self, shots: pa.Table) -> None:
        """Take further rows of the table shots. The last player may have more to come. ValueError for a player whose
        rows are not next to each other."""
        rows = shots.select(TALLIED_COLUMNS)
        if not rows.num_rows:
            return
        # a row's player is coded by the first row that names him
        ids = rows["player_id"].combine_chunks().dictionary_encode()
        codes, names = ids.indices.to_numpy(), ids.dictionary.to_pylist()
        whose = [names[codes[0]], *(names[codes[at]] for at in np.flatnonzero(np.diff(codes)) + 1)]
        for player_id in whose[whose[0] == self._last :]:
            if player_id in self._seen:
                raise ValueError(f"shots: the rows of player {player_id} are not next to each other")
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
        for player_id, tally in _tallies(_of_rows(rows, self._known), self._known).items():
            self._kept.keep(player_id, tally)


class _Shots(NamedTuple):
    """Shots of the ball of record of some players, and the rounds they are of. `names`: ids of the players; `rounds`,
    `shots`: frames as `tallies` takes them, `player` the place in `names`, `category` the place in `words`, -1 for
    none."""

    names: list[str]
    rounds: pd.DataFrame
    shots: pd.DataFrame
    words: list[str]


def _of_rows(rows: pa.Table, known: Container[str]) -> _Shots:
    """The shots of those players who are `known`, out of rows of the table shots."""
    taken = rows["ball"].to_numpy() == 1
    owner, names = _coded(rows["player_id"])
    taken &= np.array([name in known for name in names], dtype=np.bool_)[owner]
    if not taken.all():
        rows = rows.filter(pa.array(taken))
        owner, names = _coded(rows["player_id"])
    round_, ids = _coded(rows["round_id"])
    first = np.zeros(len(ids), dtype=np.int64)
    first[round_[::-1]] = np.arange(round_.size)[::-1]
    of_round = rows.select(["played_on", "kind", "course"]).take(pa.array(first))
    columns = {
        "id": np.array(ids, dtype=object),
        "player": owner[first],
        "played_on": of_round["played_on"].to_numpy().astype("datetime64[s]"),
        "kind": np.array(of_round["kind"].to_pylist(), dtype=object),
        "course": np.array(of_round["course"].to_pylist(), dtype=object),
    }
    order = np.lexsort((columns["id"].astype(np.str_), columns["played_on"], columns["player"]))
    place = np.empty(order.size, dtype=np.int64)
    place[order] = np.arange(order.size)
    category, words = _coded(rows["category"])
    par = pc.fill_null(rows["par"], USUAL_PAR).to_numpy()
    shots = _frame(place[round_], rows["hole"].to_numpy(), par, rows["strokes_gained"].to_numpy(), category)
    return _Shots(names, pd.DataFrame({name: cells[order] for name, cells in columns.items()}), shots, words)


def _of_valued(rounds: pd.DataFrame, valued: pd.DataFrame, round_of: Places) -> _Shots:
    """The shots of valued frames, as `Tallied.add_valued` takes them."""
    owner, names = pd.factorize(rounds["player_id"])
    of_round = rounds[["played_on", "kind", "course"]].assign(id=rounds["round_id"], player=owner)
    taken = valued["ball"].to_numpy() == 1
    hole, gained = (valued[name].to_numpy()[taken] for name in ("hole", "strokes_gained"))
    par = valued["par"].to_numpy(dtype=np.float64, na_value=USUAL_PAR)[taken].astype(np.int64)
    category = valued["category"].cat
    shots = _frame(round_of[taken], hole, par, gained, category.codes.to_numpy()[taken])
    return _Shots([*map(str, names)], of_round, shots, [*category.categories])


def _frame(round_: Any, hole: Any, par: Any, gained: Any, category: Any) -> pd.DataFrame:
    """Shots as `tallies` takes them, but for their category."""
    columns = {"round_id": round_, "hole": hole, "par": par, "strokes_gained": gained, "category": category}
    return pd.DataFrame(columns, copy=False)


def _tallies(found: _Shots, known: Mapping[str, Player]) -> dict[str, Tally]:
    """The tally of each player, in their order; those of one scheme of categories at once."""
    schemes = [scheme_of(known[name]).categories for name in found.names]
    owner, round_ = (found.rounds["player"].to_numpy(), found.shots["round_id"].to_numpy())
    made: dict[str, Tally] = {}
    for categories in dict.fromkeys(schemes):
        mine = [place for place, scheme in enumerate(schemes) if scheme == categories]
        of_mine = np.isin(owner, mine)
        rounds = found.rounds[of_mine].assign(player=np.searchsorted(mine, owner[of_mine]))
        shots = found.shots[of_mine[round_]]
        # words as this scheme numbers them; a category of another scheme is none
        codes = np.array([*(categories.index(word) if word in categories else -1 for word in found.words), -1])
        category = pd.Categorical.from_codes(codes[shots["category"].to_numpy()], list(categories))
        shots = shots.assign(round_id=(np.cumsum(of_mine) - 1)[shots["round_id"].to_numpy()], category=category)
        of_each = tallies(rounds, shots, len(mine), categories)
        made |= {found.names[place]: tally for place, tally in zip(mine, of_each, strict=True)}
    return {name: made[name] for name in found.names}


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
