"""Putting, part swings, priorities and own baselines over HTTP: figures, plain sentences, the lock, errors."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from server import create_app
from tests.api.asking import post, problem, stored
from tests.made_once import copy_demo
from tests.records.made import Season, change, default_clubs, par_four

PAGES = ("putting", "part-swings", "priorities")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """The application with the invented season."""
    folder = tmp_path_factory.mktemp("demo")
    copy_demo(folder / "log.sqlite")
    made = create_app({"DATABASE": f"sqlite:///{folder / 'log.sqlite'}"})
    yield made
    made.extensions["pencilbag_engine"].dispose()


@pytest.fixture
def wren(demo: Flask) -> tuple[FlaskClient, str]:
    """A client, and the address of the demo's player."""
    client = demo.test_client()
    players = client.get("/api/players").get_json()["players"]
    player = next(player for player in players if player["name"] == "Wren Quillfeather")
    return client, f"/api/players/{player['player_id']}"


def refused(word: str) -> None:
    """NaN and Infinity are no JSON."""
    pytest.fail(f"{word} in the document")


def read(client: FlaskClient, address: str) -> dict[str, Any]:
    """The document, which must be JSON as the standard has it."""
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    found = json.loads(answer.text, parse_constant=refused)
    assert isinstance(found, dict)
    return found


def test_putting_of_the_demo(wren: tuple[FlaskClient, str]) -> None:
    client, address = wren
    found = read(client, f"{address}/putting")
    assert found["putts"] > 900
    assert found["words"][0].startswith(f"{found['putts']} putts in {found['rounds']} rounds. From 8 ft ")
    assert {"curve", "bands", "gained", "first_putts", "three_putts", "speed", "comparison"} <= set(found)
    sums = read(client, f"{address}/strokes-gained?by=category")
    putting = next(row for row in sums["rows"] if row["category"] == "putting")
    assert found["gained"]["total"]["strokes_gained"] == pytest.approx(putting["strokes_gained"], abs=1e-9)
    narrow = read(client, f"{address}/putting?level=0.5&club=putter")
    widths = [[row["high"] - row["low"] for row in one["curve"]] for one in (narrow, found)]
    assert all(ours < theirs for ours, theirs in zip(*widths, strict=True))


def test_part_swings_and_priorities_of_the_demo(wren: tuple[FlaskClient, str]) -> None:
    client, address = wren
    found = read(client, f"{address}/part-swings")
    assert sum(row["shots"] for row in found["bands"]) == found["measured"] == found["total"]["shots"]
    assert read(client, f"{address}/part-swings?club=58+wedge")["measured"] < found["measured"]
    listed = read(client, f"{address}/priorities")
    assert 1 <= len(listed["priorities"]) <= 3
    total = read(client, f"{address}/strokes-gained?by=category")["total"]
    assert sum(cell["per_round"] for cell in listed["cells"]) == pytest.approx(total["per_round"], abs=1e-9)


@pytest.mark.parametrize("page", PAGES)
def test_a_range_without_rounds_is_a_sentence(wren: tuple[FlaskClient, str], page: str) -> None:
    client, address = wren
    found = read(client, f"{address}/{page}?from=2031-01-01&to=2031-12-31")
    words = found["total"]["words"] if page == "part-swings" else found["words"]
    assert re.search("too few|not enough data", str(words).lower())
    assert (found["from"], found["to"]) == ("2031-01-01", "2031-12-31")


def test_a_putter_never_used_is_a_sentence(wren: tuple[FlaskClient, str]) -> None:
    client, address = wren
    assert read(client, f"{address}/putting?club=driver")["words"] == [
        "No putt with a known outcome in these rounds: too few for a curve, 20 at least are needed."
    ]
    found = read(client, f"{address}/putting?club=putter&against=driver")
    assert found["comparison"]["words"].startswith("Make-rate: no putt with driver")
    assert found["verdict"]["words"] == (
        "Not clear yet: the two were never used from the same lie and a similar distance."
    )


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("putting?club=moon", "club"),
        ("putting?club=putter&against=moon", "against"),
        ("putting?club=putter&against=putter", "against"),
        ("putting?against=putter", "against"),
        ("part-swings?club=moon", "club"),
        ("putting?level=2", "level"),
        ("priorities?kind=friendly", "kind"),
        ("priorities?club=putter", "club"),
        ("putting?from=yesterday", "from"),
    ],
)
def test_bad_questions_name_the_field(wren: tuple[FlaskClient, str], query: str, field: str) -> None:
    client, address = wren
    (fault,) = problem(client.get(f"{address}/{query}"), 422)["errors"]
    assert fault["field"] == field


@pytest.mark.parametrize("page", PAGES)
def test_other_errors(wren: tuple[FlaskClient, str], page: str) -> None:
    client, address = wren
    problem(client.get(f"/api/players/00000000-0000-4000-8000-000000000000/{page}"), 404)
    problem(client.get(f"{address}/{page}?baseline=nobody"), 404)
    assert "after" in problem(client.get(f"{address}/{page}?from=2026-06-02&to=2026-06-01"), 422)["detail"]


@pytest.mark.parametrize("page", PAGES)
def test_an_open_competition_round_locks_it(client: FlaskClient, page: str) -> None:
    made = Season(f"Locked {page}")
    clubs = default_clubs(made)
    par_four(made, made.round("comp", kind="competition"), clubs)
    body = made.changes[-5]["body"]
    opened = made.changes[-5]
    assert opened["kind"] == "round"
    address = stored(client, made)
    assert "4.3a" in problem(client.get(f"{address}/{page}"), 423)["detail"]
    closed = change("round", body | {"closed": True}, opened["record_id"], parents=[opened["change_id"]])
    post(client, made.player_id, [closed])
    assert client.get(f"{address}/{page}").status_code == 200


def test_own_baselines_are_found_by_id_beside_the_database_and_never_by_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("PENCILBAG_BASELINES", raising=False)
    folder = tmp_path / "baselines"
    folder.mkdir()
    table = "lie,distance,unit,expected_strokes\n"
    for lie in ("tee", "fairway", "rough", "sand", "recovery", "green"):
        table += f"{lie},10,yd,2.0\n{lie},400,yd,5.0\n" if lie != "green" else "green,3,ft,1.1\ngreen,60,ft,2.2\n"
    for place in (folder, tmp_path):
        for name in ("own", "outside", "tour"):
            if (place == folder) == (name != "outside"):
                (place / f"{name}.csv").write_text(table, encoding="utf-8")
                (place / f"{name}.toml").write_text(f'id = "{name}"\nversion = "7"\n', encoding="utf-8")
    app = create_app({"DATABASE": f"sqlite:///{tmp_path / 'log.sqlite'}"})
    client = app.test_client()
    try:
        listed = [found["id"] for found in client.get("/api/baselines").get_json()["baselines"]]
        assert listed == ["tour", "tour_2011_green", "tour_2012_off_green", "own"]
        assert client.get("/api/baselines/own").get_json()["version"] == "7"
        # a shipped id means the shipped table
        assert client.get("/api/baselines/tour").get_json()["version"] != "7"
        for name in ("outside", "..%2Foutside", "..", "%2Fetc%2Fpasswd", "own.csv", str(tmp_path / "outside.csv")):
            problem(client.get(f"/api/baselines/{name}"), 404)
        made = Season("Own table")
        par_four(made, made.round("one"), default_clubs(made))
        address = stored(client, made)
        found = client.get(f"{address}/strokes-gained?baseline=own").get_json()
        # telescopes: E(tee, 400 yd) = 5 in that table, the hole took 4
        assert found["total"]["strokes_gained"] == pytest.approx(1.0, abs=1e-9)
        problem(client.get(f"{address}/strokes-gained?baseline=../outside"), 404)
        problem(client.get(f"{address}/putting?baseline=../outside.csv"), 404)
        absolute = client.get(f"{address}/putting?baseline={tmp_path / 'outside.csv'}")
        problem(absolute, 404 if len(str(tmp_path / "outside.csv")) <= 80 else 422)
    finally:
        app.extensions["pencilbag_engine"].dispose()
