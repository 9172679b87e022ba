"""Health, readiness and metrics, as a load balancer and a monitor ask for them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from flask.testing import FlaskClient
from prometheus_client.parser import text_string_to_metric_families

from server import VERSION
from server.store.engine import writing
from server.store.health import database_bytes, table_steps
from tests.api.asking import problem
from tests.api.people import House, house
from tests.conftest import ABOVE_THE_STORE
from tests.records.made import change

ELSEWHERE = {"REMOTE_ADDR": "192.0.2.7"}


@pytest.fixture(params=ABOVE_THE_STORE)
def full(request: pytest.FixtureRequest, new_database: Callable[[str, Path], str], tmp_path: Path) -> Iterator[House]:
    made = house(new_database(request.param, tmp_path))
    yield made
    made.engine.dispose()


def counted(client: FlaskClient, name: str, **labels: str) -> float:
    """The value of a sample."""
    text = client.get("/api/metrics").text
    found = [
        sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
        if sample.name == name and labels.items() <= sample.labels.items()
    ]
    return sum(found)


def test_alive_and_ready(full: House) -> None:
    client = full.client(None)
    assert client.get("/api/health").get_json() == {"status": "alive", "version": VERSION}
    ready = client.get("/api/ready")
    assert ready.status_code == 200
    assert ready.get_json() == {"status": "ready", "tables": table_steps(full.engine).newest}


def test_tables_of_another_step_are_not_ready(full: House) -> None:
    with writing(full.engine) as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '0001'"))
    said = problem(full.client(None).get("/api/ready"), 503)
    assert "0001" in said["detail"]
    assert full.client(None).get("/api/health").status_code == 200


def test_pushes_changes_and_answers_are_counted(full: House) -> None:
    client, player_id = full.client("Robin"), full.robin.player_id
    good = change("player", {"name": "Robin", "plays": "right"}, player_id)
    bad = change("club", {"label": 7}, player_id)
    before = [counted(client, "pencilbag_changes_total", outcome=outcome) for outcome in ("stored", "quarantined")]
    answer = client.post(f"/api/players/{player_id}/changes", json={"device_id": "phone", "changes": [good, bad]})
    assert answer.status_code == 200
    answer.close()
    after = [counted(client, "pencilbag_changes_total", outcome=outcome) for outcome in ("stored", "quarantined")]
    assert [now - then for now, then in zip(after, before, strict=True)] == [1, 1]
    assert counted(client, "pencilbag_pushes_total") == 1
    route = "/api/players/<uuid:player_id>/changes"
    assert counted(client, "pencilbag_answers_total", method="POST", route=route, status="200") == 1
    assert counted(client, "pencilbag_request_seconds_count", method="POST", route=route) == 1


def test_look_ups_in_the_cache_are_counted(full: House) -> None:
    client = full.client("Ash")
    for _ in range(2):
        client.get(f"/api/players/{full.robin.player_id}/strokes-gained", buffered=True)
    assert counted(client, "pencilbag_cache_lookups_total", cache="answers", result="hit") == 1
    assert counted(client, "pencilbag_cache_lookups_total", cache="answers", result="miss") == 1


def test_the_size_of_the_database_is_reported(full: House) -> None:
    assert counted(full.client(None), "pencilbag_database_bytes") == database_bytes(full.engine) > 50_000


def test_from_elsewhere_metrics_need_an_owners_token(full: House) -> None:
    client = full.client(None)
    client.get("/api/health", buffered=True)
    for headers in ({}, full.bearer("Ash", "read_squad"), full.bearer("Ash", "read_metrics")):
        problem(client.get("/api/metrics", headers=headers, environ_overrides=ELSEWHERE), 403)
    problem(client.get("/api/metrics", headers={"X-Forwarded-For": "192.0.2.7"}), 403)
    allowed = client.get("/api/metrics", headers=full.bearer("Olive", "read_metrics"), environ_overrides=ELSEWHERE)
    assert allowed.status_code == 200
    assert "pencilbag_request_seconds_bucket" in allowed.text


def test_metrics_name_no_player_and_no_account(full: House) -> None:
    client = full.client("Robin")
    client.get(f"/api/players/{full.robin.player_id}/rounds", buffered=True)
    text = client.get("/api/metrics").text
    for words in (full.robin.player_id, "Robin", full.accounts["Robin"].account_id):
        assert words not in text
