"""Strict handling: each bad input is one 422 that names it, and nothing at all is stored."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

import pytest
from flask.testing import FlaskClient

from tests.api.asking import STRICT, log_of, post, problem, stored
from tests.records.made import Season, default_clubs, par_four

PREFERENCES = ["handling=strict", "Handling=Strict", "respond-async, handling=strict", "handling = strict"]


def sound(kind: str = "practice") -> tuple[Season, str, dict[str, str]]:
    """A player of its own with a round of 18 holes and nothing else."""
    season = Season(f"Strict {uuid4()}")
    clubs = default_clubs(season)
    holes = dict.fromkeys(range(1, 19), (4, 400.0))
    return season, season.round("one", holes, kind=kind, bag=list(clubs.values())), clubs


def one_shot(**fields: Any) -> list[dict[str, Any]]:
    return [{"hole": 1, "order": 1, "lie": "tee", "distance_yd": 400} | fields]


HOLED = {"hole": 1, "order": 2, "lie": "green", "distance_yd": 3, "holed": True}
TEE = {"hole": 1, "order": 1, "lie": "tee", "distance_yd": 400}

BAD: dict[str, tuple[list[dict[str, Any]], str, str]] = {
    # name: shots, field named, words said
    "unknown lie": (one_shot(lie="bush"), "lie", "bush is not one of its values (tee, fairway,"),
    "unknown club": (
        one_shot(club_id="00000000-0000-4000-8000-000000000000"),
        "club_id",
        "is not a club of this player",
    ),
    "distance 0": (one_shot(distance_yd=0), "distance_yd", "0 is outside its range (above 0 to 700 yd)"),
    "negative distance": (one_shot(distance_yd=-5), "distance_yd", "-5 is outside its range"),
    "distance of 1e9": (one_shot(distance_yd=1e9), "distance_yd", "1000000000.0 is outside its range"),
    "text in a number": (one_shot(distance_yd="400"), "distance_yd", "400 is not a number"),
    "a shot after holed": ([TEE, HOLED, HOLED | {"order": 3}], "holed", "shot 3 comes after shot 2 was holed"),
    "a gap in the order": ([TEE, HOLED | {"order": 3}], "shot", "shot 3 comes without shot 2 before it"),
    "two shots with one number": ([TEE, HOLED, HOLED], "shot", "two shots of this ball have the number 2"),
    "hole 19 without a definition": (one_shot(hole=19), "hole", "hole 19 is not defined by the round (1 to 18)"),
    "a first shot not from the tee": (
        one_shot(lie="rough"),
        "lie",
        "the first shot of a hole is from the tee, not from rough",
    ),
    "a green shot of 90 yd": (
        [TEE, HOLED | {"distance_yd": 90}],
        "distance_yd",
        "90 is outside 0 to 50 yd on the green",
    ),
    "a penalty without a reason": (one_shot(penalty_strokes=1), "penalty_reason", "a penalty needs a reason"),
    "a shot after a pick-up": (
        [TEE | {"picked_up": True}, HOLED],
        "picked_up",
        "the ball was picked up, but another shot follows",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_one_422_names_what_is_bad_and_nothing_is_stored(client: FlaskClient, name: str) -> None:
    shots, field, words = BAD[name]
    season, round_id, clubs = sound()
    address = stored(client, season)
    before = log_of(client, season.player_id)
    count = len(season.changes)
    for number, shot in enumerate(shots):
        body = {"round_id": round_id, "ball": 1, "club_id": clubs["driver"]} | shot
        season.put("shot", f"shot {number}", body)
    season.club("extra")
    found = problem(post(client, season.player_id, season.changes[count:], headers=STRICT), 422)
    assert [fault for fault in found["errors"] if fault["field"].endswith(field)], found["errors"]
    assert words in found["detail"]
    assert log_of(client, season.player_id) == before
    assert client.get(f"{address}/rounds").get_json()["rounds"][0]["shots"] == 0
    assert client.get(f"{address}/quarantine").get_json()["quarantine"] == []


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "-1e400"])
def test_what_json_has_no_number_for_is_refused(client: FlaskClient, number: str) -> None:
    season, round_id, clubs = sound()
    stored(client, season)
    before = log_of(client, season.player_id)
    count = len(season.changes)
    season.shot(round_id, 1, 1, "tee", 123454321, clubs["driver"])
    text = json.dumps({"device_id": "phone", "changes": season.changes[count:]}).replace("123454321", number)
    address = f"/api/players/{season.player_id}/changes"
    found = problem(client.post(address, data=text, content_type="application/json", headers=STRICT), 400)
    assert number.lstrip("-") in found["detail"]
    assert log_of(client, season.player_id) == before


def test_a_fault_between_shots_names_hole_ball_and_shot(client: FlaskClient) -> None:
    season, round_id, clubs = sound("competition")
    stored(client, season)
    season.shot(round_id, 1, 1, "tee", 400, clubs["driver"])
    season.shot(round_id, 1, 1, "tee", 400, clubs["driver"], ball=2)
    found = problem(post(client, season.player_id, season.changes, headers=STRICT), 422)
    assert [fault["field"] for fault in found["errors"]] == ["hole 1, ball 2, shot 1: ball"]
    assert "rule 5.5" in found["detail"]


def test_a_new_player_is_not_half_made(client: FlaskClient) -> None:
    season, round_id, clubs = sound()
    season.shot(round_id, 1, 1, "rough", 400, clubs["driver"])
    problem(post(client, season.player_id, season.changes, headers=STRICT), 422)
    problem(client.get(f"/api/players/{season.player_id}"), 404)
    assert season.player_id not in client.get("/api/players").text


@pytest.mark.parametrize("preference", PREFERENCES)
def test_the_preference_is_read_as_the_standard_writes_it(client: FlaskClient, preference: str) -> None:
    season, round_id, clubs = sound()
    season.shot(round_id, 1, 1, "rough", 400, clubs["driver"])
    problem(post(client, season.player_id, season.changes, headers={"Prefer": preference}), 422)


def test_a_sound_push_is_taken(client: FlaskClient) -> None:
    season, round_id, clubs = sound()
    par_four(season, round_id, clubs)
    stored(client, season)
    assert log_of(client, season.player_id) == [sent["change_id"] for sent in season.changes]


def test_without_strict_handling_the_round_says_what_does_not_fit(client: FlaskClient) -> None:
    season, round_id, clubs = sound()
    season.shot(round_id, 1, 1, "rough", 400, clubs["driver"])
    season.shot(round_id, 1, 3, "green", 3, clubs["putter"], holed=True)
    assert post(client, season.player_id, season.changes, headers={"Prefer": "handling=lenient"}).status_code == 200
    card = client.get(f"/api/players/{season.player_id}/rounds/{round_id}/scorecard").get_json()
    assert [(found["hole"], found["order"], found["field"], found["severity"]) for found in card["problems"]] == [
        (1, 1, "lie", "error"),
        (1, 3, "shot", "error"),
    ]
    assert card["holes"][0]["complete"] is False
