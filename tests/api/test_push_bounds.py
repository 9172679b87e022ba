"""A push costs no more than its size: lists are measured before they are read, faults are counted, answers bounded."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient

from server.api.pushed import SPARE
from server.records import fields
from server.records.validation import MOST_FAULTS, Fault, InvalidError, listed
from server.store.log import MOST_CHANGES_A_PUSH
from tests.records.made import BODIES, body_of, change, named

PLAYER = named("Wren Quillfeather")
MANY = 50_000


def pushed(client: FlaskClient, *changes: Any, player: str = PLAYER, **headers: str) -> tuple[Any, int, int]:
    """The answer, its bytes and those of the push."""
    body = json.dumps({"device_id": "phone", "changes": changes})
    answer = client.post(f"/api/players/{player}/changes", data=body, content_type="application/json", headers=headers)
    return answer, len(answer.data), len(body)


LONG_LISTS = {
    "holes": change("round", body_of("round", holes=[{}] * MANY)),
    "bag": change("round", body_of("round", bag=["x"] * MANY)),
    "tees": change("course", body_of("course", tees=[{"holes": [{}] * 18}] * 5_000)),
    "tees.0.holes": change("course", body_of("course", tees=[{"name": "red", "holes": [{}] * MANY}])),
    "features": change("hole_map", body_of("hole_map", features=["x"] * MANY)),
    "position": change("shot", body_of("shot", position=["x"] * MANY)),
    "parents": change("club", BODIES["club"], parents=["x"] * MANY),
}


@pytest.mark.parametrize("field", LONG_LISTS)
def test_a_list_that_is_too_long_is_one_fault(client: FlaskClient, field: str) -> None:
    answer, size, sent = pushed(client, LONG_LISTS[field])
    (bad,) = answer.json["quarantined"]
    assert [fault["field"] for fault in bad["problem"]["errors"]] == [field]
    assert size < 2_000 < sent


def test_no_entry_of_a_list_that_is_too_long_is_looked_at(monkeypatch: pytest.MonkeyPatch, client: FlaskClient) -> None:
    looked: list[Any] = []

    def parse(self: Any, value: Any) -> Any:
        looked.append(value)
        return value

    monkeypatch.setattr(fields.Identity, "parse", parse)
    pushed(client, LONG_LISTS["bag"], LONG_LISTS["parents"])
    assert len(looked) < 20


def test_of_many_faults_fifty_are_listed_and_kept_and_the_rest_counted(client: FlaskClient) -> None:
    """20 sets of tees, each without a name and with 36 holes that lack three fields: 20 + 20 * 36 * 3 faults."""
    bad = change("course", body_of("course", tees=[{"holes": [{}] * 36}] * 20))
    player = named("of many faults")
    answer, size, sent = pushed(client, bad, player=player)
    (told,) = answer.json["quarantined"]
    (kept,) = client.get(f"/api/players/{player}/quarantine").json["quarantine"]
    for faults in (told["problem"]["errors"], kept["errors"]):
        assert len(faults) == MOST_FAULTS
        assert faults[0]["field"] == "tees.0.name"
        rest = {"field": "errors", "value": "2131", "range": "up to 50 are listed", "message": "more were found"}
        assert faults[-1] == rest
    assert size <= 2 * sent + SPARE


def test_faults_that_were_counted_before_are_counted_once() -> None:
    many = listed([Fault(str(n), "", "", "is wrong") for n in range(80)])
    assert [fault.counts_for for fault in many] == [1] * 49 + [31]
    assert sum(fault.counts_for for fault in InvalidError([*many, *many]).faults) == 160
    assert len(InvalidError(many * 9).faults) == MOST_FAULTS


SMALL: dict[str, Callable[[int], Any]] = {
    "nothing": lambda n: {},
    "a number": lambda n: n,
    "a short id": lambda n: {"change_id": str(n)},
    "a long id": lambda n: {"change_id": f"{n:080}"},
    "an id in quotes": lambda n: {"change_id": '"' * 70 + str(n)},
    "an id that no device has": lambda n: {"change_id": "é" * 76 + str(n)},
    "control characters": lambda n: {"change_id": "\x01" * 70 + str(n), "kind": "\x02" * 80, "device_id": "\x03" * 99},
    "an empty shot": lambda n: change("shot", {}),
}


@pytest.mark.parametrize("sort", SMALL)
@pytest.mark.parametrize("count", [1, 60, MOST_CHANGES_A_PUSH])
def test_an_answer_is_never_larger_than_twice_the_push_and_a_little(client: FlaskClient, sort: str, count: int) -> None:
    answer, size, sent = pushed(client, *(SMALL[sort](n) for n in range(count)))
    assert answer.status_code == 200
    assert size <= 2 * sent + SPARE
    assert len(answer.json["quarantined"]) + answer.json["not_listed"] == count
    strict, size, sent = pushed(client, *(SMALL[sort](n) for n in range(count)), Prefer="handling=strict")
    assert strict.status_code == 422
    assert len(strict.json["errors"]) <= MOST_FAULTS
    assert size <= 2 * sent + SPARE


def test_every_bad_change_of_a_full_push_is_named_and_the_first_with_its_faults(client: FlaskClient) -> None:
    bad = [change("shot", {}) for _ in range(MOST_CHANGES_A_PUSH)]
    answer, *_ = pushed(client, *bad)
    assert [entry["change_id"] for entry in answer.json["quarantined"]] == [one["change_id"] for one in bad]
    assert answer.json["acknowledged"] == [one["change_id"] for one in bad]
    assert answer.json["not_listed"] == 0
    told = [len(entry["problem"].get("errors", ())) for entry in answer.json["quarantined"]]
    assert told[0] == 7
    assert told == sorted(told, reverse=True)
    assert told[-1] == 0


@pytest.mark.parametrize("number", [10**400, -(10**400)])
def test_a_whole_number_that_is_too_large_is_out_of_range(client: FlaskClient, number: int) -> None:
    polygon = {"type": "Polygon", "coordinates": [[[0, number], [1, 1], [1, 0], [0, number]]]}
    features = [{"type": "Feature", "properties": {"golf": "green"}, "geometry": polygon}]
    bad = {
        "distance_yd": change("shot", body_of("shot", distance_yd=number)),
        "order": change("shot", body_of("shot", order=number)),
        "position": change("shot", body_of("shot", position=[number, 1])),
        "features": change("hole_map", body_of("hole_map", features=features)),
    }
    answer, *_ = pushed(client, *bad.values())
    found = [entry["problem"]["errors"][0]["field"].split(".")[0] for entry in answer.json["quarantined"]]
    assert found == list(bad)
    strict, *_ = pushed(client, bad["features"], Prefer="handling=strict")
    assert strict.status_code == 422
