"""Positions, conditions, practice: bad input is named with field, value and range, and nothing is stored by half."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from flask.testing import FlaskClient

from tests.api.asking import STRICT, log_of, post, problem, stored
from tests.records.made import Season, body_of, change, default_clubs

TEE = {"hole": 1, "order": 1, "lie": "tee", "distance_yd": 400}


def of_hole(**conditions: Any) -> dict[str, Any]:
    """The field of a round with the conditions of one hole."""
    return {"hole_conditions": [{"hole": 1} | conditions]}


BAD: list[tuple[str, dict[str, Any], str, str, str]] = [
    # kind, fields, field named, value told, words of the range or the fault
    ("shot", {"position": [8.5, 91, 4]}, "position", "[8.5, 91, 4]", "latitude 91 is outside -90 to 90 degrees"),
    ("shot", {"position": [181, 47.1, 4]}, "position", "[181, 47.1, 4]", "longitude 181 is outside -180 to 180"),
    ("shot", {"position": [8.5, 47.1, -1]}, "position", "[8.5, 47.1, -1]", "accuracy -1 is outside 0 to 100000 m"),
    ("shot", {"position": [0, 0, 4]}, "position", "[0, 0, 4]", "is what a device writes that has no position"),
    ("round", of_hole(wind=9), "hole_conditions.0.wind", "9", "light, fresh, strong"),
    ("round", of_hole(wind_from_deg=361), "hole_conditions.0.wind_from_deg", "361", "0 to 360"),
    ("round", of_hole(pin_depth="edge"), "hole_conditions.0.pin_depth", "edge", "front, middle"),
    ("round", of_hole(hole=0, wind="light"), "hole_conditions.0.hole", "0", "1 to 36"),
    ("round", {"green_speed_ft": 99}, "green_speed_ft", "99", "3 to 20 ft"),
    ("round", {"lengths_taken": "drone"}, "lengths_taken", "drone", "paced, laser, guessed"),
    ("session", {"place": "garage"}, "place", "garage", "range, putting_green, short_game"),
    ("session", {"closed": "yes"}, "closed", "yes", "true or false"),
    ("practice_ball", {"carry_yd": 9000}, "carry_yd", "9000", "above 0 to 400 yd"),
    ("practice_ball", {"total_yd": 501}, "total_yd", "501", "above 0 to 500 yd"),
    ("practice_ball", {"length_ft": 151}, "length_ft", "151", "above 0 to 150 ft"),
    ("practice_ball", {"left_ft": -1}, "left_ft", "-1", "above 0 to 900 ft"),
    ("practice_ball", {"order": 2001}, "order", "2001", "1 to 2000"),
]  # fmt: skip


def with_a_bad_one(kind: str, fields: dict[str, Any]) -> tuple[Season, list[dict[str, Any]], dict[str, Any]]:
    """A player, what is sound of it (a round, a session and a ball), and one record that is not."""
    season = Season(f"Hand {uuid4()}")
    clubs = default_clubs(season)
    round_id = season.round("one", bag=list(clubs.values()))
    session = season.put("session", "session", body_of("session"))
    own = {
        "shot": TEE | {"round_id": round_id, "club_id": clubs["driver"], "ball": 1, "holed": False},
        "round": season.changes[-2]["body"],
        "session": body_of("session"),
        "practice_ball": body_of("practice_ball", session_id=session, club_id=clubs["driver"]),
    }
    season.put("practice_ball", "sound", own["practice_ball"] | {"order": 2})
    return season, season.changes, change(kind, own[kind] | fields)


@pytest.mark.parametrize(("kind", "fields", "field", "value", "words"), BAD, ids=[f"{one[0]} {one[1]}" for one in BAD])
def test_strict_handling_stores_nothing_and_says_what_is_wrong(
    client: FlaskClient, kind: str, fields: dict[str, Any], field: str, value: str, words: str
) -> None:
    season, sound, bad = with_a_bad_one(kind, fields)
    (fault,) = problem(post(client, season.player_id, [*sound, bad], headers=STRICT), 422)["errors"]
    assert fault["field"].endswith(field)
    assert fault["value"] == value
    assert words in f"{fault['range']} {fault['message']}"
    assert log_of(client, season.player_id) == []


@pytest.mark.parametrize(("kind", "fields", "field", "value", "words"), BAD, ids=[f"{one[0]} {one[1]}" for one in BAD])
def test_a_phone_keeps_its_other_changes_and_loses_nothing_of_the_bad_one(
    client: FlaskClient, kind: str, fields: dict[str, Any], field: str, value: str, words: str
) -> None:
    """It is set aside whole, named, and taken in once it comes mended."""
    season, sound, bad = with_a_bad_one(kind, fields)
    answer = post(client, season.player_id, [*sound, bad])
    assert answer.status_code == 200
    assert sorted(log_of(client, season.player_id)) == sorted(one["change_id"] for one in sound)
    assert bad["change_id"] in answer.text
    assert field in answer.text
    held = client.get(f"/api/players/{season.player_id}/quarantine").get_json()
    assert [one["raw"] for one in held["quarantine"]] == [bad]


@pytest.mark.parametrize(
    ("path", "value", "allowed"),
    [
        ("practice-targets?seed=-1", "-1", "0 to"),
        ("practice-targets?seed=1&count=0", "0", "1 to"),
        ("patterns?source=moon", "moon", "course, practice, both"),
        ("distances?source=moon", "moon", "course, practice, both"),
        ("putting?source=moon", "moon", "course, practice, both"),
        ("part-swings?source=moon", "moon", "course, practice, both"),
    ],
)
def test_a_bad_question_names_field_value_and_range(client: FlaskClient, path: str, value: str, allowed: str) -> None:
    season = Season(f"Hand {uuid4()}")
    default_clubs(season)
    address = stored(client, season)
    (fault,) = problem(client.get(f"{address}/{path}"), 422)["errors"]
    name = path.split("?")[1].split("=", maxsplit=1)[0] if "count" not in path else "count"
    assert (fault["field"], fault["value"]) == (name, value)
    assert allowed in fault["range"]


@pytest.mark.parametrize(
    "table", ["", "\x00\x01\x02", "no table", "club\n", 'club,carry\n"8 iron,140\n', "club,carry\n8 iron,9000\n"]
)
def test_a_table_of_practice_that_cannot_be_read_stores_nothing(client: FlaskClient, table: str) -> None:
    season = Season(f"Hand {uuid4()}")
    default_clubs(season)
    address = stored(client, season)
    before = log_of(client, season.player_id)
    said = problem(client.post(f"{address}/import-practice", json={"table": table, "dry_run": False}), 422)
    assert len(said["detail"]) > 10
    assert log_of(client, season.player_id) == before
