"""Sharing and notes: a player says who reads, sees it, and ends it at once; readers note and change nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient

from server.store.accounts import add_account, disable, set_squads
from tests.api.asking import problem
from tests.api.people import House, house


@pytest.fixture
def full(tmp_path: Any) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    yield made
    made.engine.dispose()


def address(full: House) -> str:
    return f"/api/players/{full.robin.player_id}"


def listed(full: House) -> list[dict[str, Any]]:
    return full.client("Robin").get(f"{address(full)}/shares").get_json()["shares"]


def sees(client: FlaskClient, full: House) -> bool:
    """Whether a reader sees Robin, in the list and by address alike."""
    there = client.get(f"{address(full)}/rounds").status_code == 200
    names = [player["player_id"] for player in client.get("/api/players").get_json()["players"]]
    assert (full.robin.player_id in names) == there
    return there


def test_a_player_sees_who_reads(full: House) -> None:
    coach, squad = listed(full)
    assert (coach["reader"], coach["squad"], coach["readers"]) == ("Ash", None, ["Ash"])
    assert (squad["reader"], squad["squad"], squad["readers"]) == (None, "first", ["Sage"])
    add_account(full.engine, "Newcomer", "coach", None, squads=["first"])
    assert listed(full)[1]["readers"] == ["Newcomer", "Sage"]
    disable(full.engine, "Sage")
    assert listed(full)[1]["readers"] == ["Newcomer"]


def test_a_share_is_made_once_and_ended_at_once(full: House) -> None:
    robin, hazel = full.client("Robin"), full.client("Hazel")
    script = full.bearer("Hazel", "read_squad")
    assert not sees(hazel, full)
    made = robin.post(f"{address(full)}/shares", json={"reader": " Hazel "})
    assert made.status_code == 201
    again = robin.post(f"{address(full)}/shares", json={"reader": "Hazel"})
    assert again.get_json() == made.get_json()
    assert sees(hazel, full)
    assert full.app.test_client().get(address(full), headers=script).status_code == 200
    ended = robin.delete(f"{address(full)}/shares/{made.get_json()['share_id']}")
    assert ended.status_code == 204
    assert not sees(hazel, full)
    assert full.app.test_client().get(address(full), headers=script).status_code == 404
    problem(robin.delete(f"{address(full)}/shares/{made.get_json()['share_id']}"), 404)


def test_a_share_of_a_squad_follows_the_squad(full: House) -> None:
    hazel = full.client("Hazel")
    set_squads(full.engine, "Hazel", ["second", "first"])
    assert sees(hazel, full)
    set_squads(full.engine, "Hazel", ["second"])
    assert not sees(hazel, full)
    (share,) = [one for one in listed(full) if one["squad"] == "first"]
    assert full.client("Robin").delete(f"{address(full)}/shares/{share['share_id']}").status_code == 204
    assert not sees(full.client("Sage"), full)
    assert sees(full.client("Ash"), full)


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({}, "reader"),
        ({"reader": "Ash", "squad": "first"}, "reader"),
        ({"reader": "Nobody"}, "reader"),
        ({"reader": "Sam"}, "reader"),
        ({"reader": "Olive"}, "reader"),
        ({"squad": "frist"}, "squad"),
        ({"reader": ""}, "reader"),
        ({"reader": None}, "reader"),
        ({"reader": "Ash", "player_id": "x"}, "player_id"),
    ],
)
def test_a_share_with_nobody_there_is_refused(full: House, sent: dict[str, Any], field: str) -> None:
    before = listed(full)
    found = problem(full.client("Robin").post(f"{address(full)}/shares", json=sent), 422)
    assert [fault["field"] for fault in found["errors"]] == [field]
    assert listed(full) == before


def test_one_players_share_is_not_anothers_to_end(full: House) -> None:
    coach = listed(full)[0]["share_id"]
    problem(full.client("Sam").delete(f"/api/players/{full.sam.player_id}/shares/{coach}"), 404)
    assert sees(full.client("Ash"), full)


def test_a_player_who_has_sent_nothing_yet_can_share(full: House) -> None:
    new = "11111111-2222-4333-8444-555555555555"
    full.accounts["New"] = add_account(full.engine, "New", "player", None, player_id=new)
    client = full.client("New")
    assert client.post(f"/api/players/{new}/shares", json={"reader": "Ash"}).status_code == 201
    assert client.get(f"/api/players/{new}/shares").get_json()["shares"][0]["reader"] == "Ash"
    problem(client.get(f"/api/players/{new}"), 404)


def test_notes_are_left_read_and_taken_back(full: House) -> None:
    ash, sage, robin = full.client("Ash"), full.client("Sage"), full.client("Robin")
    path = f"{address(full)}/notes"
    note = {"about": "club", "about_id": "driver", "words": "Two tees higher. <b>Then again</b>"}
    first = ash.post(path, json=note).get_json()["note_id"]
    second = sage.post(path, json=note | {"about": "trial", "about_id": "a=driver&b=putter"}).get_json()["note_id"]
    found = robin.get(path).get_json()["notes"]
    assert [(one["note_id"], one["author"], one["about"]) for one in found] == [
        (first, "Ash", "club"),
        (second, "Sage", "trial"),
    ]
    assert found[0]["words"] == note["words"]
    (listed,) = [one for one in ash.get("/api/squad").get_json()["players"] if one["name"] == "Robin"]
    last = found[-1]
    assert listed["last_note"] == {name: last[name] for name in ("author", "words", "written_at")}
    problem(ash.delete(f"{path}/{second}"), 404)
    assert ash.delete(f"{path}/{first}").status_code == 204
    # What is said about a player is the player's to remove.
    assert robin.delete(f"{path}/{second}").status_code == 204
    assert robin.get(path).get_json() == {"notes": []}
    problem(full.client("Sam").post(path, json=note), 404)


@pytest.mark.parametrize("spoilt", [{"about": "player"}, {"words": ""}, {"words": "x" * 2001}, {"about_id": "a\0"}])
def test_a_note_that_cannot_be(full: House, spoilt: dict[str, str]) -> None:
    note = {"about": "round", "about_id": "x", "words": "well played"} | spoilt
    path = f"{address(full)}/notes"
    assert [fault["field"] for fault in problem(full.client("Ash").post(path, json=note), 422)["errors"]] == [*spoilt]
    assert full.client("Ash").get(path).get_json() == {"notes": []}
