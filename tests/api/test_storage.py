"""Quotas over HTTP: who asks sees use and limit, a full log answers 507 and stores nothing, pages have a Link."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from flask import Flask
from flask.testing import FlaskClient

from server import create_app
from server.store import players, quarantine
from server.store.quotas import Quotas
from tests.api.asking import problem
from tests.records.made import Season, body_of, change


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Flask]:
    """A house in which a log holds 6,000 bytes."""
    made = create_app({"DATABASE": f"sqlite:///{tmp_path / 'small.sqlite'}", "LOG_BYTES": "6000"})
    yield made
    made.extensions["pencilbag_engine"].dispose()


def sent(client: FlaskClient, season: Season, *changes: dict[str, object]) -> object:
    return client.post(
        f"/api/players/{season.player_id}/changes", json={"device_id": "phone", "changes": list(changes)}
    )


def test_use_and_limit_are_reported_and_a_full_log_refuses_in_words(small: Flask) -> None:
    client = small.test_client()
    season = Season()
    sent(client, season, *season.changes)
    (before,) = client.get("/api/me").get_json()["storage"]
    assert before["player_id"] == season.player_id
    assert before["most_log_bytes"] == 6000
    assert before["most_quarantine_bytes"] == Quotas().quarantine
    assert 400 < before["log_bytes"] < 3000
    assert before["quarantine_bytes"] == 0
    answer = sent(client, season, change("club", body_of("club", own="x" * 6000)))
    told = problem(answer, 507)  # type: ignore[arg-type]
    (fault,) = told["errors"]
    assert fault["field"] == "changes"
    assert fault["range"] == "up to 6000 bytes of log a player (PENCILBAG_LOG_BYTES)"
    assert client.get("/api/me").get_json()["storage"] == [before]


def test_a_setting_that_is_no_number_stops_the_start(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="PENCILBAG_QUARANTINE_BYTES: 'lots' is not a number of bytes"):
        create_app({"DATABASE": f"sqlite:///{tmp_path / 'a.sqlite'}", "QUARANTINE_BYTES": "lots"})


def test_versions_and_quarantine_are_read_by_their_links(client: FlaskClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(players, "PAGE_BYTES", 5_000)
    monkeypatch.setattr(quarantine, "PAGE_BYTES", 5_000)
    season, club = Season(str(uuid4())), str(uuid4())
    leaves = [change("club", body_of("club", own="x" * 3_000), record_id=club) for _ in range(3)]
    bad = [change("weather", {"own": "x" * 3_000}) for _ in range(3)]
    sent(client, season, *season.changes, *leaves, *bad)
    for path, name in ((f"records/{club}", "leaves"), ("quarantine", "quarantine")):
        address: str | None = f"/api/players/{season.player_id}/{path}"
        found, pages = [], 0
        while address:
            answer = client.get(address)
            found += [one["change_id"] for one in answer.get_json()[name]]
            link = answer.headers.get("Link")
            assert answer.get_json()["more"] == bool(link)
            address, pages = link[1:].partition(">")[0] if link else None, pages + 1
        assert pages == 3
        assert sorted(found) == sorted(one["change_id"] for one in (leaves if name == "leaves" else bad))
    stray = client.get(f"/api/players/{season.player_id}/records/{club}?after={uuid4()}")
    assert problem(stray, 422)["errors"][0]["field"] == "after"
    assert problem(client.get(f"/api/players/{season.player_id}/quarantine?after=-1"), 422)
