"""All that a device can send amiss, over HTTP to a real server, on both databases: nothing lost, everything named."""

from __future__ import annotations

import json
import random
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from server.records.fold import PUT
from tests.records.made import BODIES, Season, body_of, change
from tests.sync.device import Device
from tests.sync.faults.servers import HttpWire, Launcher, Running

New = Callable[[str, Path], str]


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def server(
    request: pytest.FixtureRequest, launcher: Launcher, new_database: New, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Running]:
    """A real server; each test has players of its own."""
    with launcher.serving(new_database(request.param, tmp_path_factory.mktemp("bad"))) as running:
        yield running


@pytest.fixture
def wire(server: Running) -> Iterator[HttpWire]:
    """A connection to it."""
    opened = HttpWire(server.port)
    yield opened
    opened.close()


def log(wire: HttpWire, player_id: str) -> list[str]:
    """The ids of a player's changes; none for a player that is not known."""
    page = wire.pull(player_id, None, 5000)
    return [found["change_id"] for found in page["changes"]] if page else []


def waiting(wire: HttpWire, player_id: str) -> list[Any]:
    """What lies in the quarantine."""
    _, _, found = wire.ask("GET", f"/api/players/{player_id}/quarantine")
    entries: list[Any] = found["quarantine"]
    return entries


def test_a_push_of_everything_bad_beside_good_changes(wire: HttpWire) -> None:
    mine, other = Season(f"Mine {uuid4()}"), Season(f"Other {uuid4()}")
    theirs, used = change("club", BODIES["club"]), change("club", body_of("club", label="first"))
    wire.push(other.player_id, {"device_id": "theirs", "changes": [*other.changes, theirs]})
    wire.push(mine.player_id, {"device_id": "mine", "changes": [*mine.changes, used]})
    bad = {
        # change: the field that must be named
        "kind": change("weather", {"rain": True}),
        "body": change("club", body_of("club", diary="x" * 2_000_000)),
        "record_id": change("club", body_of("club", label="grabbed"), theirs["record_id"]),
        "change_id": used | {"body": body_of("club", label="second")},
        "schema_version": change("club", body_of("club", later={"x": 1}), schema_version=99),
        "distance_yd": change("shot", body_of("shot", distance_yd=0)),
        "op": change("club", BODIES["club"], op="merge"),
        "client_time": change("club", BODIES["club"], client_time="yesterday"),
        "parents": change("club", BODIES["club"], parents="none"),
    }
    orphan = change("club", body_of("club", label="child"), parents=[str(uuid4())])
    good = [orphan, *(change("club", body_of("club", label=f"good {number}")) for number in range(len(bad)))]
    mixed = [one for pair in zip(bad.values(), good[1:], strict=True) for one in pair] + [orphan]
    done = wire.push(mine.player_id, {"device_id": "mine", "changes": mixed})
    assert done["acknowledged"] == [one["change_id"] for one in mixed]
    named = {
        entry["change_id"]: [fault["field"] for fault in entry["problem"]["errors"]] for entry in done["quarantined"]
    }
    assert named == {one["change_id"]: [field] for field, one in bad.items()}
    assert sorted(log(wire, mine.player_id)) == sorted(one["change_id"] for one in [*mine.changes, used, *good])
    assert [entry["raw"] for entry in waiting(wire, mine.player_id)] == list(bad.values())
    assert log(wire, other.player_id) == [one["change_id"] for one in [*other.changes, theirs]]
    assert waiting(wire, other.player_id) == []
    for record, label in ((theirs, "driver"), (used, "first"), (orphan, "child")):
        owner = other if record is theirs else mine
        _, _, found = wire.ask("GET", f"/api/players/{owner.player_id}/records/{record['record_id']}")
        assert [leaf["body"]["label"] for leaf in found["leaves"]] == [label]


def test_a_parent_may_come_after_its_child(wire: HttpWire) -> None:
    season = Season(f"Late parent {uuid4()}")
    parent = change("club", body_of("club", label="parent"), client_time="2026-05-01T12:00:00.000Z")
    said = {"record_id": parent["record_id"], "parents": [parent["change_id"]]}
    child = change("club", body_of("club", label="child"), **said, client_time="2026-05-01T08:00:00.000Z")
    for one in (child, parent):
        done = wire.push(season.player_id, {"device_id": "phone", "changes": [one]})
        assert done["quarantined"] == []
    _, _, found = wire.ask("GET", f"/api/players/{season.player_id}/records/{parent['record_id']}")
    assert [leaf["change_id"] for leaf in found["leaves"]] == [child["change_id"]]


@pytest.mark.parametrize(
    ("body", "status", "words"),
    [
        (b'{"device_id": "phone", "changes": [', 400, "not valid JSON"),
        (b"\xff\xfe\x00", 400, "not valid JSON"),
        (b"<html><body>Please sign in</body></html>", 400, "not valid JSON"),
        (b"[]", 422, ""),
        (b"null", 422, ""),
        (json.dumps({"device_id": "phone", "changes": [None] * 10_000}).encode(), 422, "up to 1000 changes"),
        (b'{"device_id": "phone", "changes": ["' + b"x" * 4_000_000 + b'"]}', 413, "up to 4000000 bytes"),
    ],
    ids=["cut off", "not text", "a page", "a list", "null", "10,000 changes", "4 MB"],
)
def test_a_body_that_is_no_push_is_named_and_the_next_is_taken(
    wire: HttpWire, body: bytes, status: int, words: str
) -> None:
    season = Season(f"No push {uuid4()}")
    path = f"/api/players/{season.player_id}/changes"
    wire.connection.request("POST", path, body, {"Content-Type": "application/json"})
    answer = wire.connection.getresponse()
    found = json.loads(answer.read())
    assert (answer.status, found["status"]) == (status, status)
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert words in found["detail"]
    assert log(wire, season.player_id) == []
    wire.close()
    assert wire.push(season.player_id, {"device_id": "phone", "changes": season.changes})["quarantined"] == []
    assert log(wire, season.player_id) == [season.changes[0]["change_id"]]


@pytest.mark.parametrize("share", [0.0, 0.5, 0.99])
def test_a_request_that_breaks_off_stores_nothing(server: Running, wire: HttpWire, share: float) -> None:
    season = Season(f"Broken off {uuid4()}")
    body = json.dumps({"device_id": "phone", "changes": season.changes}).encode()
    head = f"POST /api/players/{season.player_id}/changes HTTP/1.1\r\nHost: localhost\r\n"
    head += f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    with socket.create_connection(("127.0.0.1", server.port), timeout=60) as broken:
        broken.sendall(head.encode() + body[: int(len(body) * share)])
    assert log(wire, season.player_id) == []
    assert wire.push(season.player_id, {"device_id": "phone", "changes": season.changes})["quarantined"] == []


def test_a_bad_change_never_keeps_a_device_from_sending_the_rest(wire: HttpWire) -> None:
    device = Device(str(uuid4()))
    poison = device.write(str(uuid4()), "club", PUT, {"label": 7})
    others = [device.write(str(uuid4()), "club", PUT, body_of("club", label=f"{number}")) for number in range(5)]
    for _ in range(3):
        device.push(wire, random.Random(3), 2)
    for _ in range(3):
        device.push(wire, random.Random(3), 100)
        while device.pull(wire, 2):
            pass
    assert device.outbox == {}
    assert list(device.quarantined) == [poison["change_id"]]
    assert sorted(log(wire, device.player_id)) == sorted(one["change_id"] for one in others)
    (entry,) = waiting(wire, device.player_id)
    assert entry["raw"]["body"] == {"label": 7}
    mended = poison | {"body": body_of("club", label="7")}
    wire.push(device.player_id, {"device_id": device.device_id, "changes": [mended]})
    assert waiting(wire, device.player_id) == []
    assert poison["change_id"] in log(wire, device.player_id)
