"""Checks of stored rounds: what their records must agree on between them."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence, Set
from operator import itemgetter
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from server.game.order_of_play import ERROR, Problem, Shot, check_bag, check_round
from server.records.validation import Fault
from server.store.engine import select_in
from server.store.players import round_by_id
from server.store.prepared import Prepared
from server.store.rows import RoundWithHoles
from server.store.tables import CLUB, ROUND, SHOT


class RoundChecked(NamedTuple):
    """A round as far as its shots are checked against it: the numbers of its holes, its kind, whether it is closed, the
    ids of the clubs in the bag."""

    holes: list[int]
    kind: str
    closed: bool
    bag: list[str]


def round_problems(connection: sa.Connection, player_id: str, round_id: str) -> list[tuple[Problem, Shot]]:
    """Every problem of a round with the shot where it was found (empty for the round itself)."""
    query = sa.select(SHOT).where(SHOT.c.player_id == player_id, SHOT.c.round_id == round_id)
    shots = [dict(row) for row in connection.execute(query).mappings()]
    found = round_by_id(connection, player_id, round_id)
    return _problems(round_id, None if found is None else _stored_round(found), shots, _owned(connection, player_id))


def _owned(connection: sa.Connection, player_id: str) -> set[str]:
    """The ids of the player's clubs."""
    return {row[0] for row in connection.execute(_OWNED, {"of": player_id})}


_OWNED: Final = sa.select(CLUB.c.record_id).where(CLUB.c.player_id == sa.bindparam("of"))


def _problems(
    round_id: str, found: RoundChecked | None, rows: Sequence[Shot], owned: set[str]
) -> list[tuple[Problem, Shot]]:
    shots = [row if "order" in row else {**row, "order": row["shot_order"]} for row in rows]
    shots.sort(key=itemgetter("hole", "ball", "order"))
    if found is None:
        words = f"round {round_id} is not known"
        return [(Problem("round_id", words, place), shot) for place, shot in enumerate(shots)]
    problems = check_round(shots, found.holes, found.kind, finished=found.closed)
    problems += check_bag(found.bag, found.kind)
    problems += [
        Problem("club_id", f"club {shot['club_id']} is not a club of this player", place)
        for place, shot in enumerate(shots)
        if shot["club_id"] not in owned
    ]
    problems += [
        Problem("bag", f"club {club_id} is not a club of this player") for club_id in found.bag if club_id not in owned
    ]
    return [(problem, {} if problem.place is None else shots[problem.place]) for problem in problems]


def check_prepared(connection: sa.Connection, prepared: Prepared) -> list[Fault]:
    """`check_touched` for changes that are not stored yet: what the rounds will be when they are."""
    player_id, gone = prepared.player_id, prepared.replaced
    new_rounds = {row["record_id"]: _round_to_be(row) for row in prepared.rows[ROUND]}
    of_rounds = prepared.new_shots.get("round_id", ())
    touched = sorted({row["round_id"] for row in prepared.rows[SHOT]} | set(of_rounds) | set(new_rounds))
    shots: dict[str, list[Shot]] = defaultdict(list)
    stored = select_in(connection, tuple(SHOT.c), SHOT.c.round_id, touched, of=player_id)
    for row in (*(dict(row._mapping) for row in stored if row.record_id not in gone), *prepared.rows[SHOT]):
        shots[row["round_id"]].append(row)
    owned = (_owned(connection, player_id) - gone) | {row["record_id"] for row in prepared.rows[CLUB]}
    sound = _known_good(prepared, new_rounds, set(shots), owned)
    for place, round_id in enumerate(of_rounds):
        if round_id not in sound:
            shots[round_id].append({name: column[place] for name, column in prepared.new_shots.items()})
    faults: list[Fault] = []
    for round_id in touched:
        if round_id in sound:
            continue
        found = new_rounds.get(round_id)
        if found is None and round_id not in gone:
            known = round_by_id(connection, player_id, round_id)
            found = None if known is None else _stored_round(known)
        problems = _problems(round_id, found, shots[round_id], owned)
        faults += [_fault(problem, shot) for problem, shot in problems if problem.severity == ERROR]
    return faults


def _known_good(
    prepared: Prepared, new_rounds: Mapping[str, RoundChecked], others: Set[str], owned: set[str]
) -> set[str]:
    """New rounds that are, shot by shot, the rows that were checked together. `others`: rounds with other shots."""
    if not owned.issuperset(prepared.new_shots.get("club_id", ())):
        return set()
    counts = Counter(prepared.new_shots.get("round_id", ()))
    return {
        round_id
        for round_id, count in prepared.whole.items()
        if counts[round_id] == count
        and round_id in new_rounds
        and round_id not in others
        and round_id not in prepared.replaced
        and owned.issuperset(new_rounds[round_id].bag)
    }


def _stored_round(found: RoundWithHoles) -> RoundChecked:
    return RoundChecked([hole["number"] for hole in found["holes"]], found["kind"], found["closed"], found["bag"])


def _round_to_be(row: Mapping[str, Any]) -> RoundChecked:
    """A round that is not stored yet: its row holds the fields that were typed too."""
    holes = [hole["number"] for hole in row["holes"]]
    return RoundChecked(holes, row["kind"], row["closed"], json.loads(row["bag"]))


def check_touched(connection: sa.Connection, player_id: str, touched: set[str]) -> list[Fault]:
    """The errors in all rounds that these records belong to, as faults naming hole, ball and shot."""
    shots = sa.select(SHOT.c.round_id).where(SHOT.c.player_id == player_id, SHOT.c.record_id.in_(touched))
    rounds = sa.select(ROUND.c.record_id).where(ROUND.c.player_id == player_id, ROUND.c.record_id.in_(touched))
    found = {row[0] for query in (shots, rounds) for row in connection.execute(query)}
    faults: dict[str, list[Fault]] = defaultdict(list)
    for round_id in sorted(found):
        for problem, shot in round_problems(connection, player_id, round_id):
            if problem.severity == ERROR:
                faults[round_id].append(_fault(problem, shot))
    return [fault for group in faults.values() for fault in group]


def _fault(problem: Problem, shot: Shot) -> Fault:
    if not shot:
        return Fault(problem.field, "", "", problem.message)
    place = f"hole {shot['hole']}, ball {shot['ball']}, shot {shot['order']}: {problem.field}"
    return Fault(place, "", "", problem.message)
