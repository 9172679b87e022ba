"""Push, pull and quarantine over HTTP."""

from __future__ import annotations

import re
from typing import Any
from uuid import uuid4

import pytest
from flask.testing import FlaskClient

from tests.api.asking import log_of, post, problem, stored
from tests.records.made import BODIES, Season, body_of, change


def test_what_was_pushed_is_pulled(client: FlaskClient) -> None:
    season = Season("Pull")
    season.club("driver", "driver")
    answer = post(client, season.player_id, season.changes)
    done = answer.get_json()
    assert (answer.status_code, done["quarantined"]) == (200, [])
    assert done["acknowledged"] == [sent["change_id"] for sent in season.changes]
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", done["received_at"])
    page = client.get(f"/api/players/{season.player_id}/changes").get_json()
    assert (page["more"], page["reset"]) == (False, False)
    for sent, found in zip(season.changes, page["changes"], strict=True):
        assert {name: found[name] for name in sent} == sent


def test_pages_are_linked_until_the_last(client: FlaskClient) -> None:
    season = Season("Pages")
    for number in range(6):
        season.club(f"club {number}")
    stored(client, season)
    address: str | None = f"/api/players/{season.player_id}/changes?limit=3"
    sizes, collected = [], []
    while address:
        answer = client.get(address)
        page = answer.get_json()
        sizes.append(len(page["changes"]))
        collected += [found["change_id"] for found in page["changes"]]
        link = re.fullmatch(r'<(/api/players/[^>]+)>; rel="next"', answer.headers.get("Link", ""))
        assert (link is not None) is page["more"]
        address = link[1] if link else None
    assert sizes == [3, 3, 1]
    assert collected == [sent["change_id"] for sent in season.changes]
    end = client.get(f"/api/players/{season.player_id}/changes", query_string={"after": page["cursor"]}).get_json()
    assert (end["changes"], end["cursor"], end["more"]) == ([], page["cursor"], False)


def test_a_cursor_of_another_player_or_of_nothing_resets(client: FlaskClient) -> None:
    one, two = Season("Cursor one"), Season("Cursor two")
    for season in (one, two):
        stored(client, season)
    foreign = client.get(f"/api/players/{two.player_id}/changes").get_json()["cursor"]
    for after in (foreign, "1:nothing", "rubbish", "9" * 90, "1:" + str(uuid4()), "\N{SUPERSCRIPT ONE}:x"):
        page = client.get(f"/api/players/{one.player_id}/changes", query_string={"after": after}).get_json()
        assert (page["reset"], page["changes"], page["cursor"]) == (True, [], None), after


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("limit=0", "limit"),
        ("limit=5001", "limit"),
        ("limit=-1", "limit"),
        ("limit=two", "limit"),
        ("limit=1.5", "limit"),
        ("after=" + "x" * 101, "after"),
        ("after=%00", "after"),
        ("page=2", "page"),
    ],
)
def test_a_bad_query_is_named(client: FlaskClient, query: str, field: str) -> None:
    season = Season("Query")
    stored(client, season)
    found = problem(client.get(f"/api/players/{season.player_id}/changes?{query}"), 422)
    assert [fault["field"] for fault in found["errors"]] == [field]


def test_bad_changes_are_named_kept_raw_and_block_nothing(client: FlaskClient) -> None:
    season = Season("Quarantine")
    bad: list[Any] = [
        change("weather", {}),
        change("shot", body_of("shot", distance_yd=812)),
        change("shot", BODIES["shot"], schema_version=7),
        None,
        5,
        {"change_id": "\ud800"},
    ]
    good = season.changes[0]
    done = post(client, season.player_id, [*bad, good]).get_json()
    assert log_of(client, season.player_id) == [good["change_id"]]
    details = [entry["problem"]["detail"] for entry in done["quarantined"]]
    assert details[0].startswith("kind: weather is not a kind of record (player, club,")
    assert details[1] == "distance_yd: 812 is outside its range (above 0 to 700 yd)"
    assert details[2] == "schema_version: 7 is newer than this server (1 to 1)"
    assert [entry["problem"]["status"] for entry in done["quarantined"]] == [422] * len(bad)
    assert done["quarantined"][1]["problem"]["errors"] == [
        {
            "field": "distance_yd",
            "value": "812",
            "range": "above 0 to 700 yd",
            "message": "is outside its range",
        }
    ]
    sent_ids = [raw["change_id"] for raw in [*bad, good] if isinstance(raw, dict)]
    assert done["acknowledged"] == sent_ids
    waiting = client.get(f"/api/players/{season.player_id}/quarantine").get_json()["quarantine"]
    assert [entry["raw"] for entry in waiting] == bad
    mended = bad[1] | {"body": body_of("shot", distance_yd=412)}
    post(client, season.player_id, [mended])
    waiting = client.get(f"/api/players/{season.player_id}/quarantine").get_json()["quarantine"]
    assert bad[1] not in [entry["raw"] for entry in waiting]
    assert len(waiting) == len(bad) - 1


def test_a_record_shows_every_version_that_nothing_replaced(client: FlaskClient) -> None:
    season = Season("Leaves")
    club = season.club("iron")
    base = season.changes[-1]
    for label in ("left", "right"):
        time = "2026-05-01T10:00:00Z" if label == "left" else "2026-05-01T11:00:00Z"
        season.changes.append(
            change("club", body_of("club", label=label), club, parents=[base["change_id"]], client_time=time)
        )
    address = stored(client, season)
    found = client.get(f"{address}/records/{club}").get_json()
    assert (found["record_id"], found["kind"], found["deleted"]) == (club, "club", False)
    assert [leaf["body"]["label"] for leaf in found["leaves"]] == ["right", "left"]
    assert set(found["leaves"][0]) == {"change_id", "op", "device_id", "effective_time", "body"}
    problem(client.get(f"{address}/records/{uuid4()}"), 404)
    stranger = Season("Stranger")
    stored(client, stranger)
    problem(client.get(f"/api/players/{stranger.player_id}/records/{club}"), 404)


def test_up_to_a_thousand_changes_go_in_one_push(client: FlaskClient) -> None:
    season = Season("Many")
    for count in (1001, 10_000):
        found = problem(post(client, season.player_id, [None] * count), 422)
        (fault,) = found["errors"]
        assert (fault["field"], fault["range"]) == ("changes", "up to 1000 changes")
        assert fault["message"] == "has too many changes for one push"
    assert log_of(client, season.player_id) == []
    clubs = [change("club", body_of("club", label=f"club {number}")) for number in range(1000)]
    assert post(client, season.player_id, clubs).status_code == 200
    assert len(log_of(client, season.player_id)) == 1000


def test_a_body_of_2_mb_is_kept_raw(client: FlaskClient) -> None:
    season = Season("Large")
    large = change("club", body_of("club", diary="x" * 2_000_000))
    done = post(client, season.player_id, [large, *season.changes]).get_json()
    assert done["quarantined"][0]["problem"]["errors"][0]["message"] == "is too large"
    assert log_of(client, season.player_id) == [season.changes[0]["change_id"]]
    (waiting,) = client.get(f"/api/players/{season.player_id}/quarantine").get_json()["quarantine"]
    assert waiting["raw"] == large


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"device_id": ""}, "device_id"),
        ({"device_id": 5}, "device_id"),
        ({"device_id": None}, "device_id"),
        ({"changes": None}, "changes"),
        ({"changes": {}}, "changes"),
        ({"now": "noon"}, "now"),
        ({"now": 5}, "now"),
        ({"moon": 1}, "moon"),
    ],
)
def test_a_push_that_is_no_push_is_refused(client: FlaskClient, body: dict[str, Any], field: str) -> None:
    season = Season("No push")
    found = problem(post(client, season.player_id, season.changes, body=body), 422)
    assert [fault["field"] for fault in found["errors"]] == [field]
    assert log_of(client, season.player_id) == []


def test_the_devices_clock_orders_nothing_by_its_error(client: FlaskClient) -> None:
    season = Season("Clock")
    season.changes[0]["client_time"] = "2031-01-01T00:00:00.000Z"
    post(client, season.player_id, season.changes, body={"now": "2031-01-01T00:01:00.000Z"})
    page = client.get(f"/api/players/{season.player_id}/changes").get_json()
    (found,) = page["changes"]
    assert found["effective_time"] < found["received_at"] < "2031"
