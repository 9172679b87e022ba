"""What the coach's pages ask: the squad at a glance, filters, two spans, rounds with scores, choices; locks.

Values by hand from the tour tables, as in `test_api_evidence`: the par 4 in four of `par_four` gains 3.99 - 4.
"""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import numpy as np
import pytest
from flask.testing import FlaskClient

from server.reports.compared import _words
from tests.api.asking import post, problem, stored
from tests.records.made import Season, body_of, change, default_clubs, par_four

EXACT = 1e-9
HOLES = dict.fromkeys(range(1, 10), (4, 400.0))
"""Nine holes: a round that counts, as half of one."""
DRIVE, APPROACH, FIRST_PUTT, TAP_IN = 3.99 - 2.945 - 1, 2.945 - 1.834 - 1, 1.834 - 1.01 - 1, 1.01 - 1


def season(rounds: int = 8, **settings: Any) -> Season:
    """Rounds of nine times one par 4 on two courses by turns, kinds by turns, a setup of the driver from the fifth on;
    odd rounds have a second putt fewer."""
    made = Season(f"Coach {uuid4()}", **settings)
    clubs = default_clubs(made)
    courses = [made.put("course", name, body_of("course", name=name)) for name in ("North", "South")]
    made.put("setup", "setup", body_of("setup", club_id=clubs["driver"], since="2026-05-05", note="softer shaft"))
    for number in range(1, rounds + 1):
        place = {"course_id": courses[number % 2], "tees": "middle", "closed": True}
        kind = ("practice", "casual")[number % 2]
        round_id = made.round(f"round {number}", HOLES, played_on=f"2026-05-{number:02}", kind=kind, **place)
        for hole in HOLES:
            if number % 2:
                made.shot(round_id, hole, 1, "tee", 400, clubs["driver"])
                made.shot(round_id, hole, 2, "fairway", 150, clubs["8 iron"])
                made.shot(round_id, hole, 3, "green", 6, clubs["putter"], holed=True)
            else:
                par_four(made, round_id, clubs, hole)
    return made


@pytest.fixture
def address(client: FlaskClient) -> str:
    return stored(client, season())


def summary(client: FlaskClient, address: str, query: str) -> Any:
    answer = client.get(f"{address}/strokes-gained?{query}")
    assert answer.status_code == 200, answer.text
    return answer.get_json()


def test_the_squad_lists_the_last_round_and_the_latest_ones(client: FlaskClient, address: str) -> None:
    listed = client.get("/api/squad?last=4").get_json()["players"]
    mine = next(one for one in listed if address.endswith(one["player_id"]))
    assert (mine["rounds"], mine["short_rounds"]) == (8, 0)
    assert {name: mine["last_round"][name] for name in ("played_on", "kind", "course", "shots", "closed")} == {
        "played_on": "2026-05-08",
        "kind": "practice",
        "course": "North",
        "shots": 36,
        "closed": True,
    }
    assert [one["played_on"] for one in mine["recent"]] == [f"2026-05-0{day}" for day in (5, 6, 7, 8)]
    gained = np.array([0.99, -0.01, 0.99, -0.01])
    assert [one["strokes_gained"] for one in mine["recent"]] == pytest.approx(gained * 9, abs=EXACT)
    assert [one["per_round"] for one in mine["recent"]] == pytest.approx(gained * 18, abs=EXACT)
    assert mine["trend"]["mean"] == pytest.approx(0.49 * 18, abs=EXACT)
    assert "too few rounds" in mine["trend"]["words"]
    assert mine["locked"] is None
    parts = {one["part"]: one["per_round"] for one in mine["parts"]}
    one_putt, two_putts = 1.834 - 1, FIRST_PUTT + TAP_IN
    putting = (one_putt + two_putts) / 2
    assert sum(parts.values()) == pytest.approx(mine["trend"]["mean"], abs=EXACT)
    assert parts == pytest.approx(
        {"long_game": 18 * (DRIVE + APPROACH), "short_game": 0, "putting": 18 * putting}, abs=EXACT
    )
    assert mine["last_note"] is None
    eight = client.get("/api/squad").get_json()["players"]
    trend = next(one for one in eight if address.endswith(one["player_id"]))["trend"]
    assert (trend["rounds"], trend["words"]) == (8, "no clear change")
    assert trend["difference"] == pytest.approx(0, abs=EXACT)


def test_the_squad_knows_a_player_without_a_round_and_says_why_one_is_locked(client: FlaskClient) -> None:
    empty, locked = Season(f"Empty {uuid4()}"), season(3)
    locked.round("open", played_on="2026-06-01", kind="competition")
    for made in (empty, locked):
        stored(client, made)
    listed = {one["player_id"]: one for one in client.get("/api/squad").get_json()["players"]}
    nobody, hidden = listed[empty.player_id], listed[locked.player_id]
    assert (nobody["rounds"], nobody["last_round"], nobody["recent"], nobody["locked"]) == (0, None, [], None)
    assert (hidden["rounds"], hidden["recent"], hidden["trend"]["mean"]) == (None, [], None)
    assert "rule 4.3a" in hidden["locked"]


def test_a_player_with_a_baseline_that_is_not_here_keeps_nobody_from_being_listed(client: FlaskClient) -> None:
    other, lost = season(6), season(6, baseline="one that went")
    for made in (other, lost):
        stored(client, made)
    listed = {one["player_id"]: one for one in client.get("/api/squad").get_json()["players"]}
    assert len(listed[other.player_id]["recent"]) == 6
    mine = listed[lost.player_id]
    assert (mine["rounds"], mine["recent"], mine["locked"]) == (None, [], None)
    assert mine["trend"]["words"] == "the baseline 'one that went' is not here"


def test_rounds_of_unequal_length_are_compared_by_eighteen_holes(client: FlaskClient) -> None:
    made = Season(f"Lengths {uuid4()}")
    clubs = default_clubs(made)
    for day in range(1, 7):
        holes = dict.fromkeys(range(1, 13 if day < 4 else 10), (4, 400.0))
        one = made.round(f"round {day}", holes, played_on=f"2026-05-0{day}")
        for number in holes:
            par_four(made, one, clubs, number)
    stored(client, made)
    listed = {one["player_id"]: one for one in client.get("/api/squad").get_json()["players"]}
    mine = listed[made.player_id]
    assert [one["holes"] for one in mine["recent"]] == [12, 12, 12, 9, 9, 9]
    assert mine["trend"]["difference"] == pytest.approx(0, abs=EXACT)
    assert mine["trend"]["later"] == pytest.approx(18 * (DRIVE + APPROACH + FIRST_PUTT + TAP_IN), abs=EXACT)


def test_a_new_round_is_in_the_squad_at_once(client: FlaskClient) -> None:
    made = season(2)
    stored(client, made)
    before = {one["player_id"]: one for one in client.get("/api/squad").get_json()["players"]}[made.player_id]
    post(client, made.player_id, [change("round", body_of("round", played_on="2026-07-01"))])
    after = {one["player_id"]: one for one in client.get("/api/squad").get_json()["players"]}[made.player_id]
    assert [one["last_round"]["played_on"] for one in (before, after)] == ["2026-05-02", "2026-07-01"]
    assert [(one["rounds"], one["short_rounds"]) for one in (before, after)] == [(2, 0)] * 2, "no shot, no round"


def test_choices_name_what_the_filters_take(client: FlaskClient, address: str) -> None:
    found = client.get(f"{address}/choices").get_json()
    assert (found["first_day"], found["last_day"], len(found["days"])) == ("2026-05-01", "2026-05-08", 8)
    assert (found["courses"], found["kinds"]) == (["North", "South"], ["casual", "practice"])
    assert found["clubs"] == ["8 iron", "driver", "putter"]
    assert found["balls"] == []
    (setup,) = found["setups"]
    assert setup == {"setup": "driver@2026-05-05", "club": "driver", "since": "2026-05-05", "note": "softer shaft"}
    for query in ("course=North", "kind=casual", "setup=driver%402026-05-05", "setup=driver"):
        assert summary(client, address, query)["total"]["shots"] > 0, query


def test_filters_choose_course_lie_and_setup(client: FlaskClient, address: str) -> None:
    north, south = (summary(client, address, f"course={name}")["total"] for name in ("North", "South"))
    assert (north["shots"], south["shots"]) == (9 * 4 * 4, 9 * 4 * 3)
    lie = summary(client, address, "by=club&lie=green")
    assert [row["club"] for row in lie["rows"]] == ["putter"]
    # on each hole four first putts missed and holed out, four holed; over all eight rounds of nine holes
    gained = 9 * (4 * (FIRST_PUTT + TAP_IN) + 4 * (1.834 - 1))
    assert lie["total"]["strokes_gained"] == pytest.approx(gained, abs=EXACT)
    assert (lie["rows"][0]["per_round"], lie["rows"][0]["of_rounds"]) == (pytest.approx(gained / 4, abs=EXACT), 8)
    setup = summary(client, address, "by=lie&setup=driver%402026-05-05")
    assert [(row["lie"], row["shots"]) for row in setup["rows"]] == [("tee", 36)]
    assert summary(client, address, "setup=driver%40as+it+was")["total"]["shots"] == 36
    assert summary(client, address, "setup=driver&lie=sand")["rows"] == []


def test_a_round_without_the_lie_counts_as_a_round(client: FlaskClient) -> None:
    made = Season(f"Sand {uuid4()}")
    clubs = default_clubs(made)
    for number in (1, 2):
        plain = made.round(f"plain {number}", HOLES, played_on=f"2026-05-0{number}")
        for hole in HOLES:
            par_four(made, plain, clubs, hole)
    sandy = made.round("sandy", HOLES, played_on="2026-05-03")
    for hole in range(2, 10):
        par_four(made, sandy, clubs, hole)
    made.shot(sandy, 1, 1, "tee", 400, clubs["driver"])
    made.shot(sandy, 1, 2, "sand", 40, clubs["8 iron"], holed=True)
    address = stored(client, made)
    row = summary(client, address, "by=lie&lie=sand")["rows"][0]
    whole = next(row for row in summary(client, address, "by=lie")["rows"] if row["lie"] == "sand")
    assert row["of_rounds"] == whole["of_rounds"] == 3
    assert row["per_round"] == pytest.approx(row["strokes_gained"] / 1.5, abs=EXACT)
    assert row == whole


@pytest.mark.parametrize(
    ("view", "query", "field", "says"),
    [
        ("strokes-gained", "course=East", "course", "North, South"),
        ("putting", "course=East", "course", "North, South"),
        ("priorities", "course=East", "course", "North, South"),
        ("scores", "course=East", "course", "North, South"),
        ("trial", "course=East&a=driver&b=putter", "course", "North, South"),
        ("compared", "course=East&beside_to=2026-05-04", "course", "North, South"),
        ("compared", "", "beside_from", "name period 1 by beside_from, beside_to or both"),
        ("compared", "from=2026-05-05&to=2026-05-08&by=club", "beside_from", "is missing"),
        ("strokes-gained", "lie=water", "lie", "not one of"),
        ("compared", "lie=water&beside_to=2026-05-04", "lie", "not one of"),
        ("compared", "by=round&beside_to=2026-05-04", "by", "not one of"),
        ("strokes-gained", "setup=spoon", "setup", "8 iron, driver, putter"),
        ("strokes-gained", "setup=driver%402026-01-01", "setup", "2026-05-05"),
        ("compared", "setup=spoon&beside_to=2026-05-04", "setup", "8 iron, driver, putter"),
        ("compared", "beside_from=yesterday", "beside_from", "is not a day (a day, YYYY-MM-DD)"),
        ("scores", "lie=green", "lie", "is not known here"),
    ],
)
def test_a_filter_that_means_nothing_is_named(
    client: FlaskClient, address: str, view: str, query: str, field: str, says: str
) -> None:
    found = problem(client.get(f"{address}/{view}?{query}"), 422)
    assert [fault["field"] for fault in found["errors"]] == [field]
    assert says in found["detail"]


def test_two_spans_side_by_side(client: FlaskClient, address: str) -> None:
    found = client.get(f"{address}/compared?from=2026-05-05&beside_to=2026-05-04&by=club").get_json()
    assert (found["first"]["from"], found["first"]["to"], found["first"]["rounds"]) == ("2026-05-05", "2026-05-08", 4)
    assert (found["second"]["from"], found["second"]["to"], found["second"]["rounds"]) == (
        "2026-05-01", "2026-05-04", 4,
    )  # fmt: skip
    rows = {row["club"]: row for row in found["rows"]}
    alone = {row["club"]: row for row in summary(client, address, "from=2026-05-05")["rows"]}
    assert rows["putter"]["first"] == alone["putter"]
    putter = rows["putter"]["difference"]
    assert (putter["per_shot"], putter["lacking"]) == (pytest.approx(0, abs=EXACT), None)
    assert putter["per_shot_low"] == pytest.approx(-putter["per_shot_high"], abs=EXACT)
    # the drives of a span are all alike
    assert rows["driver"]["difference"]["lacking"] == "all equal: no spread to judge by"
    assert rows["driver"]["difference"]["per_shot_low"] is None
    assert (found["groups"], found["clear"]) == (1, 0)
    assert "does not differ" in found["words"]


def test_one_span_twice_shares_its_rounds(client: FlaskClient, address: str) -> None:
    found = client.get(f"{address}/compared?by=category&beside_from=2026-05-01").get_json()
    assert {row["difference"]["lacking"] for row in found["rows"]} == {"the two periods share rounds"}
    assert "no round in both" in found["words"]


def test_days_the_wrong_way_round_name_the_span(client: FlaskClient, address: str) -> None:
    found = problem(client.get(f"{address}/compared?beside_from=2026-05-08&beside_to=2026-05-01"), 422)
    assert found["detail"] == "beside_from: 2026-05-08 is after beside_to: 2026-05-01"


def test_scores_of_rounds(client: FlaskClient, address: str) -> None:
    found = client.get(f"{address}/scores?from=2026-05-07").get_json()
    eighth, seventh = found["rounds"]
    assert {name: eighth[name] for name in ("played_on", "course", "kind", "score", "par", "to_par", "putts")} == {
        "played_on": "2026-05-08",
        "course": "North",
        "kind": "practice",
        "score": 36,
        "par": 36,
        "to_par": 0,
        "putts": 18,
    }
    assert (seventh["score"], seventh["to_par"], seventh["complete"], seventh["holes"]) == (27, -9, 9, 9)
    assert eighth["categories"] == {
        "approach": pytest.approx(9 * APPROACH, abs=EXACT),
        "off_the_tee": pytest.approx(9 * DRIVE, abs=EXACT),
        "putting": pytest.approx(9 * (FIRST_PUTT + TAP_IN), abs=EXACT),
    }
    assert eighth["strokes_gained"] == pytest.approx(9 * (3.99 - 4), abs=EXACT)
    assert found["means"] is None, "nine holes are no score of 18"


def test_means_are_of_whole_rounds_alone(client: FlaskClient) -> None:
    made = Season(f"Whole {uuid4()}")
    clubs = default_clubs(made)
    holes = dict.fromkeys(range(1, 19), (4, 400.0))
    whole, broken = made.round("whole", holes, played_on="2026-05-01"), made.round("broken", holes)
    for hole in range(1, 19):
        par_four(made, whole, clubs, hole)
        if hole < 18:
            par_four(made, broken, clubs, hole)
    made.shot(broken, 18, 1, "tee", 400, clubs["driver"], picked_up=True)
    found = client.get(f"{stored(client, made)}/scores").get_json()
    assert sorted((one["complete"], one["score"]) for one in found["rounds"]) == [(17, 68), (18, 72)]
    assert found["means"] == {"rounds": 1, "score": 72, "to_par": 0, "putts": 36, "penalty_strokes": 0}


@pytest.mark.parametrize(
    "view", ["strokes-gained", "compared?beside_to=2026-05-02", "scores", "trial?a=driver&b=putter", "putting"]
)
def test_an_open_competition_round_locks_and_unlocks_what_is_kept(client: FlaskClient, view: str) -> None:
    made = season(4)
    address = stored(client, made)
    assert client.get(f"{address}/{view}").status_code == 200
    opened = body_of("round", played_on="2026-06-01", kind="competition")
    started = change("round", opened)
    post(client, made.player_id, [started])
    assert "rule 4.3a" in problem(client.get(f"{address}/{view}"), 423)["detail"]
    closed = change("round", opened | {"closed": True}, started["record_id"], parents=[started["change_id"]])
    post(client, made.player_id, [closed])
    assert client.get(f"{address}/{view}").status_code == 200


def test_a_kept_answer_is_the_same_and_ends_with_the_next_shot(client: FlaskClient) -> None:
    made = season(4)
    address = stored(client, made)
    first, again = (client.get(f"{address}/strokes-gained") for _ in range(2))
    assert first.data == again.data
    assert first.headers["ETag"] == again.headers["ETag"]
    shot = next(raw for raw in made.changes if raw["kind"] == "shot" and raw["body"]["lie"] == "fairway")
    moved = change("shot", shot["body"] | {"distance_yd": 160}, shot["record_id"], parents=[shot["change_id"]])
    post(client, made.player_id, [moved])
    changed = client.get(f"{address}/strokes-gained", headers={"If-None-Match": first.headers["ETag"]})
    assert changed.status_code == 200
    iron = [{row["club"]: row for row in one.get_json()["rows"]}["8 iron"] for one in (first, changed)]
    # the approach now starts from 2.98 in place of 2.945
    assert iron[1]["strokes_gained"] - iron[0]["strokes_gained"] == pytest.approx(2.98 - 2.945, abs=EXACT)


@pytest.mark.parametrize(
    ("groups", "clear", "words"),
    [(15, 1, "1 of 15 groups differs beyond"), (15, 2, "2 of 15 groups differ beyond"), (1, 1, "It differs beyond")],
)
def test_how_many_groups_differ_is_a_sentence(groups: int, clear: int, words: str) -> None:
    assert _words(groups, clear, 0.9, adjusted=True, conditions=False).startswith(words)
