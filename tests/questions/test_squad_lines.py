"""The squad page's lines, which come from tallies: what the shots themselves say, one player at a time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from unittest import mock

import numpy as np
import pandas as pd
import pytest
import sqlalchemy as sa
from flask.testing import FlaskClient

from server import create_app
from server.analysis.evidence.course_allowance import NOTHING, allowance
from server.analysis.evidence.recent import LEAST_ROUNDS, recent_trend, weights_of_halves
from server.analysis.evidence.round_lengths import round_lengths
from server.questions import squads
from server.questions.question import Asked, Question
from server.store import log
from server.store.engine import reading
from server.store.players import Player, players
from tests.records.made import Season, body_of, default_clubs, par_four

LAST = 8


@pytest.fixture
def client(engine: sa.Engine) -> Iterator[FlaskClient]:
    app = create_app({"DATABASE": engine.url.render_as_string(hide_password=False), "WORKERS": 0})
    yield app.test_client()
    app.extensions["pencilbag_engine"].dispose()


def season(name: str, seed: int) -> Season:
    """Rounds of 4 to 18 holes on three courses or none, some without a value or with extra balls only."""
    draw = np.random.default_rng(seed)
    made = Season(name, category_scheme=("four_part", "three_part")[seed % 2])
    clubs = default_clubs(made)
    courses = [made.put("course", f"course {k}", body_of("course", name=f"Course {k}")) for k in range(3)]
    for number in range(14):
        holes = int(draw.choice([4, 9, 18]))
        played = dict.fromkeys(range(1, holes + 1), (4, 400.0))
        on = {} if number % 5 == 4 else {"course_id": courses[int(draw.integers(3))]}
        day = f"2026-05-{1 + number // 2:02}"
        round_id = made.round(f"round {number}", played, played_on=day, closed=True, **on)
        for hole in played:
            if number == 3:
                made.shot(round_id, hole, 1, "tee", 380, clubs["driver"], ball=2)
            elif draw.random() < 0.1:
                made.shot(round_id, hole, 1, "tee", 400, clubs["driver"])
            elif draw.random() < 0.5:
                par_four(made, round_id, clubs, hole)
            else:
                made.shot(round_id, hole, 1, "tee", float(draw.uniform(300, 450)), clubs["driver"])
                made.shot(round_id, hole, 2, "rough", float(draw.uniform(60, 200)), clubs["8 iron"])
                made.shot(round_id, hole, 3, "green", float(draw.uniform(1, 12)), clubs["putter"], holed=True)
    made.round("a round without a shot", played_on="2026-05-30", closed=True)
    return made


def by_shots(connection: sa.Connection, player: Player) -> dict[str, Any]:
    """The figures of a line from the valued shots of all balls."""
    valued = Asked(connection, player, Question()).snapshot().valued
    assert valued is not None
    lengths = round_lengths(valued)
    mine = valued[valued["ball"].eq(1) & valued["strokes_gained"].notna() & (lengths.places(valued["round_id"]) >= 0)]
    ids = mine["round_id"].astype("object")
    sums = mine.groupby(["played_on", ids], sort=True).agg(
        sum=("strokes_gained", "sum"), size=("strokes_gained", "size"), holes=("hole", "nunique")
    )
    latest = sums.tail(LAST)
    strokes, holes = (latest[name].to_numpy(dtype=np.float64) for name in ("sum", "holes"))
    courses = NOTHING
    if len(latest) >= 2 * LEAST_ROUNDS:
        order = lengths.holes.index
        weights = pd.Series(weights_of_halves(holes), index=latest.index.get_level_values(1)).reindex(
            order, fill_value=0
        )
        every = sums["sum"].droplevel(0).reindex(order)
        courses = allowance(valued, lengths, every.to_numpy(dtype=np.float64), weights.to_numpy(dtype=np.float64))
    return {
        "rounds": lengths.rounds,
        "short_rounds": lengths.short,
        "recent": list(zip(latest.index.get_level_values(1), strokes, latest["size"], holes, strict=True)),
        "trend": recent_trend(strokes, holes, courses=courses),
    }


def test_lines_say_what_the_shots_say(engine: sa.Engine, client: FlaskClient) -> None:
    for number in range(4):
        made = season(f"Player {number}", number)
        for start in range(0, len(made.changes), 900):
            assert not log.push(engine, made.player_id, "phone", made.changes[start : start + 900]).quarantined
    lines = client.get(f"/api/squad?last={LAST}").get_json()["players"]
    with reading(engine) as connection:
        for line, player in zip(lines, players(connection), strict=True):
            told = by_shots(connection, player)
            assert (line["name"], line["rounds"]) == (player.name, told["rounds"])
            assert line["short_rounds"] == told["short_rounds"]
            recent = [(one["round_id"], one["shots"], one["holes"]) for one in line["recent"]]
            assert recent == [(one[0], one[2], one[3]) for one in told["recent"]]
            gained = [one["strokes_gained"] for one in line["recent"]]
            assert gained == pytest.approx([one[1] for one in told["recent"]], abs=1e-12)
            words = line["trend"].pop("words"), told["trend"].pop("words")
            assert words[0] == words[1]
            assert line["trend"] == pytest.approx(told["trend"], abs=1e-11)
            assert line["last_round"]["shots"] == 0


def test_one_push_has_one_player_worked_out_again(engine: sa.Engine, client: FlaskClient) -> None:
    seasons = [season(f"Player {number}", number) for number in range(3)]
    for made in seasons:
        log.push(engine, made.player_id, "phone", made.changes[:900])
    before = client.get("/api/squad").get_json()
    late = season("Player 1", 1).changes[-1] | {"parents": [seasons[1].changes[-1]["change_id"]]}
    log.push(engine, seasons[1].player_id, "phone", [late])
    with mock.patch.object(squads, "record_shots", wraps=squads.record_shots) as read:
        assert client.get("/api/squad").get_json() == before
    assert [call.args[1] for call in read.call_args_list] == [[seasons[1].player_id]]
