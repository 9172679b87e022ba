"""Tables over all players of a season: made of what the rows of the table shots add up to, a player at a time.

The shots are not valued again: whoever has rows of the table shots, in a stream or in a dataset, has these tables.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from server.analysis.evidence.intervals import DEFAULT_LEVEL
from server.analysis.evidence.tallies import Tally, tallies
from server.analysis.expected_strokes.baseline import Baseline
from server.questions.holes_played import courses_played, holes_played
from server.questions.question import Span
from server.questions.ranked import PARTS, ranked
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


def members_of(shots: Iterable[pa.Table], players: Sequence[Player]) -> list[Member]:
    """The players with their tallies, in the order given. `shots`: rows of the table shots, the rows of a player one
    behind the other; rows of other players are passed over. No more than a player's rows are held at a time. ValueError
    for a player whose rows stand apart."""
    known = {player.player_id: player for player in players}
    found: dict[str, Tally] = {}
    for player_id, rows in by_player(batch.select(TALLIED_COLUMNS) for batch in shots):
        if player_id in found:
            raise ValueError(f"shots: rows of player {player_id} stand apart")
        if player_id in known:
            found[player_id] = _tally(rows, known[player_id])
    return [Member(player, found.get(player.player_id) or _nothing(player)) for player in players]


def by_player(shots: Iterable[pa.Table]) -> Iterator[tuple[str, pa.Table]]:
    """The rows of each player, whole, where those of a player come one behind the other."""
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


def _tally(rows: pa.Table, player: Player) -> Tally:
    of_record = rows.filter(pc.equal(rows["ball"], 1))
    frame = of_record.to_pandas()
    days = frame["played_on"].to_numpy(dtype="datetime64[s]")
    rounds = frame.assign(played_on=days).drop_duplicates("round_id").rename(columns={"round_id": "id"})
    rounds = rounds.sort_values(["played_on", "id"], ignore_index=True)[["id", "played_on", "kind", "course"]]
    places = pd.Index(rounds["id"]).get_indexer(pd.Index(frame["round_id"]))
    scheme = scheme_of(player)
    valued = frame.assign(
        round_id=places,
        category=pd.Categorical(frame["category"], categories=list(scheme.categories)),
        par=frame["par"].fillna(USUAL_PAR).astype("int64"),
    )
    return tallies(rounds.assign(player=0), valued, 1, scheme.categories)[0]


def _nothing(player: Player) -> Tally:
    rounds = pd.DataFrame({"id": [], "player": [], "played_on": [], "kind": [], "course": []})
    categories = scheme_of(player).categories
    valued = pd.DataFrame({"round_id": [], "hole": [], "par": [], "strokes_gained": []})
    valued["category"] = pd.Categorical([], categories=list(categories))
    return tallies(rounds, valued, 1, categories)[0]


def frames_of_everybody(name: str, members: Sequence[Member], baseline: Baseline) -> Iterator[pd.DataFrame]:
    """The rows of a table of `OF_EVERYBODY`, in pieces. KeyError for another."""
    make = {SQUAD_RANKS: _rank_rows, HOLE_EFFECTS: _hole_rows}[name]
    for rows in make(members):
        yield pd.DataFrame(rows).assign(level=DEFAULT_LEVEL, baseline=f"{baseline.id} {baseline.version}")


def _rank_rows(members: Sequence[Member]) -> Iterator[Mapping[str, Any]]:
    """By part: who has a place, best first, then who has none."""
    names = ("rounds", "courses", "beside_squad", "low", "high", "rank_low", "rank_high", "chance_above_next")
    for part in PARTS if len(members) <= MOST_RANKED else ():
        found = ranked(members, part, DEFAULT_LEVEL, _EVER)
        placed = found.players
        rows: list[dict[str, Any]] = [
            {name: dict(row)[name] for name in names}
            | {"player": row["name"], "player_id": row["player_id"], "strokes_gained": row["mean"]}
            | {"chance_first": row["chances"][0], "lacking": None}
            for row in placed
        ]
        told = {row["player_id"] for row in placed}
        why = {one["player_id"]: one["why"] for one in found.left_out}
        rows += [
            dict.fromkeys(names)
            | {"player": one.player.name, "player_id": one.player.player_id, "strokes_gained": None}
            | {"chance_first": None, "lacking": why.get(one.player.player_id, NO_ORDER)}
            for one in members
            if one.player.player_id not in told
        ]
        yield _columns(rows, ("rounds", "courses", "rank_low", "rank_high")) | {"part": part}


NO_ORDER: Final = "there is nobody to be put in order with"


def _hole_rows(members: Sequence[Member]) -> Iterator[Mapping[str, Any]]:
    """By course, the one most played first."""
    for one in courses_played(members, _EVER):
        found = holes_played(members, one["course"], DEFAULT_LEVEL, _EVER)
        rows = [
            {"course": one["course"], "hole": hole["hole"], "par": hole["par"], "times": hole["times"]}
            | {**part, "strokes_gained": part["mean"]}
            for hole in found.holes
            for part in hole["parts"]
        ]
        if rows:
            yield _columns(rows, ())


def _columns(rows: Sequence[Mapping[str, Any]], counts: Sequence[str]) -> dict[str, Any]:
    found: dict[str, Any] = {name: pd.Series([row[name] for row in rows], dtype="object") for name in rows[0]}
    return found | {name: found[name].astype("Int64") for name in counts}
