"""Looking at whole rounds in the store: what their records must agree on between them."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import sqlalchemy as sa

from server.game.order_of_play import ERROR, Problem, check_bag, check_round
from server.records.validation import Fault
from server.store.players import round_by_id
from server.store.tables import CLUB, ROUND, SHOT


def round_problems(connection: sa.Connection, player_id: str, round_id: str) -> list[tuple[Problem, dict[str, Any]]]:
    """Every problem of a round with the shot it stands at (empty for the round itself)."""
    found = round_by_id(connection, player_id, round_id)
    query = sa.select(SHOT).where(SHOT.c.player_id == player_id, SHOT.c.round_id == round_id)
    shots = [
        dict(row) | {"order": row["shot_order"]}
        for row in connection.execute(query.order_by(SHOT.c.hole, SHOT.c.ball, SHOT.c.shot_order)).mappings()
    ]
    if found is None:
        words = f"round {round_id} is not known"
        return [(Problem("round_id", words, place), shot) for place, shot in enumerate(shots)]
    clubs = sa.select(CLUB.c.record_id).where(CLUB.c.player_id == player_id)
    owned = {row[0] for row in connection.execute(clubs)}
    holes = [hole["number"] for hole in found["holes"]]
    problems = check_round(shots, holes, found["kind"], finished=found["closed"])
    problems += check_bag(found["bag"], found["kind"])
    problems += [
        Problem("club_id", f"club {shot['club_id']} is not a club of this player", place)
        for place, shot in enumerate(shots)
        if shot["club_id"] not in owned
    ]
    problems += [
        Problem("bag", f"club {club_id} is not a club of this player")
        for club_id in found["bag"]
        if club_id not in owned
    ]
    return [(problem, {} if problem.place is None else shots[problem.place]) for problem in problems]


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


def _fault(problem: Problem, shot: dict[str, Any]) -> Fault:
    if not shot:
        return Fault(problem.field, "", "", problem.message)
    place = f"hole {shot['hole']}, ball {shot['ball']}, shot {shot['order']}: {problem.field}"
    return Fault(place, "", "", problem.message)
