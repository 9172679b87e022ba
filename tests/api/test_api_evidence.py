"""Players, rounds, scorecards and strokes gained over HTTP, against values worked out by hand from the tour tables.

Tee 400 yd 3.99; fairway 150 yd lies half way from 2.91 (140) to 2.98 (160): 2.945; green 18 ft three fifths from 1.78
(15) to 1.87 (20): 1.834; green 2 ft 1.01; tee 170 yd half way from 2.99 (160) to 3.05 (180): 3.02.
"""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from flask.testing import FlaskClient

from server.analysis.strokes_gained.summaries import GROUPINGS
from tests.api.asking import post, problem, stored
from tests.records.made import Season, change, default_clubs, par_four

EXACT = 1e-9
"""The accuracy that every value of this tool promises."""

DRIVE, APPROACH, FIRST_PUTT, TAP_IN = 3.99 - 2.945 - 1, 2.945 - 1.834 - 1, 1.834 - 1.01 - 1, 1.01 - 1


@pytest.fixture
def season() -> Season:
    """Two rounds in May and June: a par 4 in four; then a par 3 in one, a picked-up hole, a penalty, an extra ball."""
    made = Season(f"Evidence {uuid4()}")
    clubs = default_clubs(made)
    course = made.put(
        "course",
        "course",
        {"name": "Blottingham Heath", "tees": [{"name": "", "holes": [{"number": 1, "par": 4, "length_yd": 400}]}]},
    )
    par_four(made, made.round("may", course_id=course, tees="middle", closed=True), clubs)
    holes = {1: (3, 170.0), 2: (4, 400.0), 3: (4, 400.0), 4: (5, 520.0)}
    june = made.round("june", holes, played_on="2026-06-07", kind="practice")
    made.shot(june, 1, 1, "tee", 170, clubs["8 iron"], holed=True)
    made.shot(june, 2, 1, "tee", 400, clubs["driver"], picked_up=True)
    made.shot(june, 3, 1, "tee", 400, clubs["driver"], penalty_strokes=1, penalty_reason="out_of_bounds")
    made.shot(june, 3, 2, "tee", 400, clubs["driver"])
    made.shot(june, 3, 3, "fairway", 150, clubs["8 iron"])
    made.shot(june, 3, 4, "green", 2 / 3, clubs["putter"], holed=True)
    made.shot(june, 3, 1, "tee", 400, clubs["driver"], ball=2, end_lie="fairway", end_distance_yd=150)
    return made


def round_ids(client: FlaskClient, address: str) -> list[str]:
    return [found["round_id"] for found in client.get(f"{address}/rounds").get_json()["rounds"]]


def test_players_are_listed_and_shown_with_their_settings(client: FlaskClient) -> None:
    made = Season("Settings", plays="left", units="metres", category_scheme="three_part", short_game_yd=90)
    address = stored(client, made)
    shown = client.get(address).get_json()
    assert shown == {
        "player_id": made.player_id,
        "name": "Settings",
        "plays": "left",
        "units": "metres",
        "baseline": "tour",
        "category_scheme": "three_part",
        "short_game_yd": 90,
    }
    listed = client.get("/api/players").get_json()["players"]
    assert shown in listed
    assert [player["name"] for player in listed] == sorted(player["name"] for player in listed)


def test_rounds_are_listed_latest_first(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    june, may = client.get(f"{address}/rounds").get_json()["rounds"]
    assert (june["played_on"], june["shots"], june["course"], june["closed"]) == ("2026-06-07", 7, None, False)
    assert {name: may[name] for name in ("played_on", "kind", "course", "tees", "closed", "deleted", "shots")} == {
        "played_on": "2026-05-01",
        "kind": "practice",
        "course": "Blottingham Heath",
        "tees": "middle",
        "closed": True,
        "deleted": False,
        "shots": 4,
    }


def test_the_scorecard_of_a_full_round(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    _, may = round_ids(client, address)
    card = client.get(f"{address}/rounds/{may}/scorecard").get_json()
    (hole,) = card["holes"]
    assert hole.pop("strokes_gained") == pytest.approx(3.99 - 4, abs=EXACT)
    assert hole == {
        "number": 1,
        "par": 4,
        "length_yd": 400,
        "shots": 4,
        "score": 4,
        "to_par": 0,
        "putts": 2,
        "penalty_strokes": 0,
        "unvalued": 0,
        "complete": True,
    }
    assert card["total"].pop("strokes_gained") == pytest.approx(3.99 - 4, abs=EXACT)
    assert card["total"] == {
        "par": 4,
        "score": 4,
        "score_of_complete_holes": 4,
        "to_par": 0,
        "holes_complete": 1,
        "complete": True,
    }
    assert (card["course"], card["tees"], card["locked"], card["problems"]) == ("Blottingham Heath", "middle", None, [])
    assert card["baseline"] == {"id": "tour", "version": "2012.1+2011.1"}


def test_the_scorecard_of_a_round_with_gaps_says_incomplete(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    june, _ = round_ids(client, address)
    card = client.get(f"{address}/rounds/{june}/scorecard").get_json()
    scores = [(hole["score"], hole["complete"], hole["shots"], hole["penalty_strokes"]) for hole in card["holes"]]
    assert scores == [(1, True, 1, 0), (None, False, 1, 0), (5, True, 4, 1), (None, False, 0, None)]
    gained = [hole["strokes_gained"] for hole in card["holes"]]
    # the extra ball of hole 3 counts for nothing here: E(first) - score
    assert gained[0] == pytest.approx(3.02 - 1, abs=EXACT)
    assert gained[2] == pytest.approx(3.99 - 5, abs=EXACT)
    assert (gained[1], gained[3]) == (None, None)
    total = card["total"]
    assert (total["score"], total["complete"], total["holes_complete"]) == (None, False, 2)
    assert (total["score_of_complete_holes"], total["to_par"], total["par"]) == (6, -1, 16)
    assert total["strokes_gained"] == pytest.approx(3.02 - 1 + 3.99 - 5, abs=EXACT)


def test_strokes_gained_by_club_by_hand(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    found = client.get(f"{address}/strokes-gained").get_json()
    rows = {row["club"]: row for row in found["rows"]}
    # out of bounds is exactly -2; the drive after it and the extra ball gain as the first; the picked-up one nothing
    expected = {
        "driver": 3 * DRIVE - 2,
        "8 iron": APPROACH + (3.02 - 1) + (2.945 - 1.01 - 1),
        "putter": FIRST_PUTT + 2 * TAP_IN,
    }
    assert {club: row["strokes_gained"] for club, row in rows.items()} == pytest.approx(expected, abs=EXACT)
    assert [row["club"] for row in found["rows"]] == sorted(expected, key=lambda club: -expected[club])
    assert {club: (row["shots"], row["rounds"]) for club, row in rows.items()} == {
        "driver": (4, 2),
        "8 iron": (3, 2),
        "putter": (3, 2),
    }
    assert (found["from"], found["to"], found["by"]) == ("2026-05-01", "2026-06-07", "club")
    total = found["total"]
    assert (total["shots"], total["unvalued"], total["of_record"]["shots"], total["extra_balls"]["shots"]) == (
        10,
        1,
        9,
        1,
    )
    assert total["extra_balls"]["strokes_gained"] == pytest.approx(DRIVE, abs=EXACT)
    assert [(gap["hole"], gap["reason"]) for gap in found["incomplete"]] == [
        (2, "shot 1: picked up or not finished, and no end recorded")
    ]


@pytest.mark.parametrize("by", GROUPINGS)
@pytest.mark.parametrize("balls", ["all", "of_record"])
def test_rows_of_every_grouping_sum_to_the_total(client: FlaskClient, season: Season, by: str, balls: str) -> None:
    address = stored(client, season)
    found = client.get(f"{address}/strokes-gained?by={by}&balls={balls}").get_json()
    total = found["total"]
    for name in ("strokes_gained", "shots", "extended"):
        assert sum(row[name] for row in found["rows"]) == pytest.approx(total[name], abs=EXACT)
        parts = total["of_record"][name] + total["extra_balls"][name]
        assert parts == pytest.approx(total[name], abs=EXACT)
    assert total["of_record"]["strokes_gained"] == pytest.approx(3.99 - 4 + 3.02 - 1 + 3.99 - 5, abs=EXACT)
    assert total["shots"] == (10 if balls == "all" else 9)
    assert all(
        row["per_shot"] == pytest.approx(row["strokes_gained"] / row["shots"], abs=EXACT) for row in found["rows"]
    )


def test_a_selection_narrows_what_is_summed(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)

    def shots(query: str) -> int:
        return int(client.get(f"{address}/strokes-gained?{query}").get_json()["total"]["shots"])

    assert shots("to=2026-05-01") == 4
    assert shots("from=2026-05-02") == 6
    assert shots("from=2026-05-01&to=2026-06-07") == 10
    assert shots("kind=casual") == 0
    empty = client.get(f"{address}/strokes-gained?from=2030-01-01").get_json()
    assert (empty["rows"], empty["from"], empty["to"], empty["total"]["per_shot"]) == ([], "2030-01-01", None, None)


def test_a_baseline_without_a_lie_leaves_gaps_that_are_named(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    found = client.get(f"{address}/strokes-gained?baseline=tour_2011_green").get_json()
    assert found["baseline"]["id"] == "tour_2011_green"
    assert [row["club"] for row in found["rows"]] == ["putter"]
    assert found["total"]["unvalued"] == 8
    assert found["incomplete"][0]["reason"] == "shot 1: the baseline has no row for one of the lies"


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("by=wind", "by"),
        ("from=yesterday", "from"),
        ("to=2026-02-30", "to"),
        ("kind=match", "kind"),
        ("balls=some", "balls"),
        ("baseline=", "baseline"),
        ("clubs=driver", "clubs"),
    ],
)
def test_a_bad_question_is_named(client: FlaskClient, season: Season, query: str, field: str) -> None:
    address = stored(client, season)
    found = problem(client.get(f"{address}/strokes-gained?{query}"), 422)
    assert [fault["field"] for fault in found["errors"]] == [field]


def test_days_in_the_wrong_order_and_unknown_baselines_are_named(client: FlaskClient, season: Season) -> None:
    address = stored(client, season)
    assert "after to" in problem(client.get(f"{address}/strokes-gained?from=2026-06-01&to=2026-05-01"), 422)["detail"]
    for name in ("nobody", "../baselines/tour", "/etc/passwd"):
        found = problem(client.get(f"{address}/strokes-gained", query_string={"baseline": name}), 404)
        assert "there is tour, tour_2011_green, tour_2012_off_green" in found["detail"]


def test_a_player_whose_baseline_is_gone_gets_a_clear_answer(client: FlaskClient) -> None:
    made = Season(f"Lost {uuid4()}", baseline="/etc/passwd")
    par_four(made, made.round("one"), default_clubs(made))
    address = stored(client, made)
    (round_id,) = round_ids(client, address)
    for path in ("strokes-gained", f"rounds/{round_id}/scorecard"):
        assert "There is no baseline '/etc/passwd'" in problem(client.get(f"{address}/{path}"), 404)["detail"]
    assert client.get(f"{address}/strokes-gained?baseline=tour").status_code == 200


def strokes_gained_in(found: Any) -> list[float]:
    """Every strokes gained of a document, however deep."""
    if isinstance(found, dict):
        own = [found[name] for name in ("strokes_gained", "per_shot") if isinstance(found.get(name), float)]
        return own + [number for value in found.values() for number in strokes_gained_in(value)]
    return [number for value in found for number in strokes_gained_in(value)] if isinstance(found, list) else []


def test_an_open_competition_round_locks_what_rule_4_3a_forbids(client: FlaskClient, season: Season) -> None:
    holes = [{"number": 1, "par": 4, "length_yd": 400}]
    body = {"played_on": "2026-06-08", "kind": "competition", "holes": holes, "bag": []}
    comp = season.put("round", "competition", body)
    opened = season.changes[-1]["change_id"]
    clubs = {"driver": "club driver", "8 iron": "club 8 iron", "putter": "club putter"}
    by_name = {change["record_id"]: change["body"] for change in season.changes if change["kind"] == "club"}
    par_four(
        season, comp, {label: next(key for key, club in by_name.items() if club["label"] == label) for label in clubs}
    )
    address = stored(client, season)

    for query in ("", "?by=category", "?by=round&to=2026-05-31", "?kind=practice", "?baseline=tour"):
        assert "4.3a" in problem(client.get(f"{address}/strokes-gained{query}"), 423)["detail"]
    card = client.get(f"{address}/rounds/{comp}/scorecard").get_json()
    assert (card["total"]["score"], card["holes"][0]["putts"]) == (4, 2)
    assert "4.3a" in card["locked"]
    assert strokes_gained_in(card) == []
    assert strokes_gained_in(client.get(f"{address}/rounds").get_json()) == []

    other = Season(f"Other {uuid4()}")
    par_four(other, other.round("one"), default_clubs(other))
    assert client.get(f"{stored(client, other)}/strokes-gained").status_code == 200

    post(client, season.player_id, [change("round", body | {"closed": True}, comp, parents=[opened])])
    assert client.get(f"{address}/strokes-gained").status_code == 200
    card = client.get(f"{address}/rounds/{comp}/scorecard").get_json()
    assert (card["locked"], card["holes"][0]["strokes_gained"]) == (None, pytest.approx(3.99 - 4, abs=EXACT))


@pytest.mark.parametrize("kind", ["practice", "casual"])
def test_an_open_round_of_another_kind_locks_nothing(client: FlaskClient, kind: str) -> None:
    made = Season(f"Open {uuid4()}")
    par_four(made, made.round("one", kind=kind), default_clubs(made))
    assert client.get(f"{stored(client, made)}/strokes-gained").status_code == 200


def test_fifteen_clubs_in_a_counting_round_are_warned_of_and_not_refused(client: FlaskClient) -> None:
    made = Season(f"Bag {uuid4()}")
    bag = [made.club(f"club {number}") for number in range(15)]
    rounds = {kind: made.round(kind, kind=kind, bag=bag, closed=True) for kind in ("practice", "competition")}
    address = stored(client, made)
    said = {
        kind: client.get(f"{address}/rounds/{round_id}/scorecard").get_json()["problems"]
        for kind, round_id in rounds.items()
    }
    assert said["practice"] == []
    ((warning,)) = said["competition"]
    assert (warning["severity"], warning["field"]) == ("warning", "bag")
    assert "rule 4.1b" in warning["message"]


def test_baselines_are_listed_and_shown_as_curves(client: FlaskClient) -> None:
    listed = client.get("/api/baselines").get_json()["baselines"]
    assert [found["id"] for found in listed] == ["tour", "tour_2011_green", "tour_2012_off_green"]
    shown = client.get("/api/baselines/tour").get_json()
    assert {name: shown[name] for name in ("id", "version", "title", "source")} == listed[0]
    tee = shown["curves"]["tee"]
    assert tee["expected"][tee["distance_yd"].index(400)] == 3.99
    assert (tee["printed_from"], tee["printed_to"]) == (100, 600)
    green = shown["curves"]["green"]
    assert green["expected"][green["distance_yd"].index(5)] == 1.78
    for name in ("nobody", "..%2Ftour", "%2Fetc%2Fpasswd", "tour.toml"):
        problem(client.get(f"/api/baselines/{name}"), 404)
