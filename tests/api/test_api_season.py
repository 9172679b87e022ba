"""Season tables over HTTP: streamed files, tags, what may be read, what is refused."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import openpyxl
import pandas as pd
import pyarrow.parquet as pq
import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from server.api import season as season_routes
from server.files.season_tables import xlsx_writer
from server.files.season_tables.dictionary import tables
from server.questions.competition_lock import LOCK
from tests.api.asking import post, problem, stored
from tests.api.people import house
from tests.records.made import Season, change, default_clubs, par_four

EXACT = 1e-9
TYPES = {
    "csv": "text/csv; charset=utf-8; header=present",
    "parquet": "application/vnd.apache.parquet",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def made(year: int, holes: int = 1, **fields: Any) -> Season:
    """A player of one's own with a round of so many holes in a year of the test's own."""
    season = Season(f"Player {uuid4()}")
    numbers = dict.fromkeys(range(1, holes + 1), (4, 400.0))
    one, clubs = season.round("one", numbers, played_on=f"{year}-05-01", closed=True, **fields), default_clubs(season)
    for hole in numbers:
        par_four(season, one, clubs, hole)
    return season


def read(client: FlaskClient, address: str) -> pd.DataFrame:
    """A table as an analyst loads it."""
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    if ".parquet" in address:
        return pq.read_table(io.BytesIO(answer.data)).to_pandas()
    if ".csv" in address:
        return pd.read_csv(io.BytesIO(answer.data))
    return pd.read_excel(io.BytesIO(answer.data), skiprows=[1])


@pytest.mark.parametrize("format_", list(TYPES))
@pytest.mark.parametrize("name", list(tables()))
def test_every_table_in_every_format(client: FlaskClient, name: str, format_: str) -> None:
    season = made(2001)
    stored(client, season)
    address = f"/api/season/2001/{name}.{format_}?player={season.player_id}"
    answer = client.get(address)
    assert (answer.status_code, answer.content_type) == (200, TYPES[format_])
    assert "Content-Length" not in answer.headers, "nobody knows it before the table is made"
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}_2001.{format_}"'
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    rows = {"shots": 4, "holes": 1, "rounds": 1, "clubs": 3, "setups": 0, "club_summary": 3, "category_summary": 3}
    rows |= {"practice_sessions": 0, "practice_balls": 0, "players": 1, "courses": 0, "course_effects": 0}
    rows |= {"squad_ranks": 5, "hole_effects": 0}
    found = read(client, address)
    assert list(found.columns) == list(tables()[name].names)
    assert len(found) == rows[name]
    assert client.get(address).data == answer.data


@pytest.mark.parametrize("by", ["club", "category"])
@pytest.mark.parametrize("format_", ["csv", "parquet", "xlsx"])
def test_the_tables_give_the_summaries_of_the_api(client: FlaskClient, by: str, format_: str) -> None:
    season = made(2002, holes=9)
    par_four(season, season.round("short", played_on="2002-05-02", closed=True), default_clubs(season))
    address = stored(client, season)
    total = client.get(f"{address}/strokes-gained?by={by}").get_json()["total"]
    expected = client.get(f"{address}/strokes-gained?by={by}").get_json()["rows"]
    found = read(client, f"/api/season/2002/{by}_summary.{format_}?player={season.player_id}").to_dict("records")
    assert [row[by] for row in found] == [row[by] for row in expected]
    for row, meant in zip(found, expected, strict=True):
        for key in ("shots", "rounds", "strokes_gained", "per_shot", "per_round", "of_rounds", "extended"):
            assert row[key] == pytest.approx(meant[key], abs=EXACT)
        assert (row["of_rounds"], row["short_rounds"]) == (total["rounds"], total["short_rounds"]) == (1, 1)
    rounds = read(client, f"/api/season/2002/rounds.{format_}?player={season.player_id}")
    assert rounds["holes_valued"].tolist() == [9, 1]
    shots = read(client, f"/api/season/2002/shots.{format_}?player={season.player_id}")
    sums = shots.groupby(by)["strokes_gained"].sum()
    assert {row[by]: row["strokes_gained"] for row in expected} == pytest.approx(sums.to_dict(), abs=EXACT)


def test_all_players_of_a_season_stand_in_one_table(client: FlaskClient) -> None:
    seasons = [made(2003), made(2003), made(2004)]
    for season in seasons:
        stored(client, season)
    assert set(read(client, "/api/season/2003/shots.parquet")["player_id"]) == {one.player_id for one in seasons[:2]}
    assert set(read(client, "/api/season/2004/rounds.csv")["player_id"]) == {seasons[2].player_id}


@pytest.mark.parametrize("format_", list(TYPES))
def test_a_table_has_a_tag_and_answers_304_until_something_it_tells_changes(client: FlaskClient, format_: str) -> None:
    season, other = made(2005), made(2006)
    stored(client, season)
    address = f"/api/season/2005/shots.{format_}"
    first = client.get(address)
    tag = first.headers["ETag"]
    assert tag.startswith('"')
    stored(client, other)
    again = client.get(address, headers={"If-None-Match": tag})
    assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", tag)
    assert client.get(f"/api/season/2005/holes.{format_}").headers["ETag"] != tag
    head = client.head(address)
    assert (head.status_code, head.data, head.headers["ETag"]) == (200, b"", tag)
    assert "Content-Length" not in head.headers
    note = {**season.changes[-1]["body"], "note": "into the wind"}
    parents = [season.changes[-1]["change_id"]]
    post(client, season.player_id, [change("shot", note, season.changes[-1]["record_id"], parents=parents)])
    changed = client.get(address, headers={"If-None-Match": tag})
    assert changed.status_code == 200
    assert (changed.headers["ETag"] != tag, changed.data != first.data) == (True, True)


def test_the_descriptor_names_every_table_by_its_address(client: FlaskClient) -> None:
    season = made(2007)
    stored(client, season)
    answer = client.get(f"/api/season/2007/datapackage.json?player={season.player_id}")
    assert (answer.status_code, answer.content_type) == (200, "application/json")
    found = answer.get_json()
    assert (found["season"], found["baseline"]["id"]) == (2007, "tour")
    assert [resource["name"] for resource in found["resources"]] == list(tables())
    for resource in found["resources"]:
        path = resource["path"].removeprefix("http://localhost")
        assert path == f"/api/season/2007/{resource['name']}.csv?player={season.player_id}"
        assert [field["name"] for field in resource["schema"]["fields"]] == list(read(client, path).columns)


NOBODY = "00000000-0000-4000-8000-000000000000"


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        ("1950/shots.csv", 404, "There are no rounds in 1950."),
        ("1950/datapackage.json", 404, "There are no rounds in 1950."),
        ("2008/moons.csv", 404, "There is no table moons.csv; there is shots, holes"),
        ("2008/shots.ods", 404, "There is no table shots.ods"),
        ("2008/datapackage.xml", 404, "There is no table datapackage.xml"),
        ("99999999999999999999/shots.csv", 422, "year: 99999999999999999999 is outside its range (1900 to 2200)"),
        ("1899/shots.csv", 422, "year: 1899 is outside its range (1900 to 2200)"),
        ("2201/datapackage.json", 422, "year: 2201 is outside its range"),
        (f"2008/shots.csv?player={NOBODY}", 404, f"There is no player {NOBODY} here."),
        ("2008/shots.csv?player=7", 422, "player"),
        ("2008/shots.csv?plyer=7", 422, "plyer"),
        ("2008/shots.csv?baseline=nobody", 404, "baseline: 'nobody' is not one of tour"),
        ("2008/shots.csv?baseline=../baselines/tour", 404, "baseline: "),
        ("2008/shots.csv?baseline=tour@2009", 404, "baseline: tour is here in version 2012.1+2011.1, not in 2009"),
        ("2008/shots.csv?baseline=", 422, "baseline"),
    ],
)
def test_what_cannot_be_answered_is_a_problem_document(
    client: FlaskClient, address: str, status: int, words: str
) -> None:
    stored(client, made(2008))
    assert words in problem(client.get(f"/api/season/{address}"), status)["detail"]


def test_a_baseline_by_its_version_is_taken(client: FlaskClient) -> None:
    stored(client, made(2009))
    plain = client.get("/api/season/2009/shots.csv").data
    assert client.get("/api/season/2009/shots.csv?baseline=tour@2012.1%2B2011.1").data == plain


@pytest.mark.parametrize("name", list(tables()))
def test_while_a_competition_round_is_open_strokes_gained_are_withheld(client: FlaskClient, name: str) -> None:
    """Of any round of a player who is told, whenever it is played (rule 4.3a); the others' tables stay readable."""
    year = 2010 + list(tables()).index(name)
    season, other = made(year), made(year)
    season.round("open", played_on="2026-05-01", kind="competition")
    for one in (season, other):
        stored(client, one)
    answers = [client.get(f"/api/season/{year}/{name}.{format_}", buffered=True) for format_ in ("csv", "xlsx")]
    for answer in answers:
        if tables()[name].holds_strokes_gained:
            assert problem(answer, 423)["detail"].endswith(f"has a competition round open. {LOCK}")
        else:
            assert answer.status_code == 200
    assert client.get(f"/api/season/{year}/{name}.csv?player={other.player_id}", buffered=True).status_code == 200
    assert client.get(f"/api/season/{year}/datapackage.json").status_code == 200


def test_a_sheet_that_is_too_small_is_named_before_anything_is_sent(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    stored(client, made(2060))
    monkeypatch.setattr(xlsx_writer, "MOST_ROWS", 3)
    assert (
        "a sheet holds 3 rows; take csv or parquet" in problem(client.get("/api/season/2060/shots.xlsx"), 422)["detail"]
    )
    assert openpyxl.load_workbook(io.BytesIO(client.get("/api/season/2060/rounds.xlsx").data))["rounds"].max_row == 3


@pytest.fixture
def readable(monkeypatch: pytest.MonkeyPatch) -> Callable[[set[str]], None]:
    """Let the caller read these players alone."""

    class Reader:
        def __init__(self, found: set[str]) -> None:
            self.readable = found

    def let(found: set[str]) -> None:
        monkeypatch.setattr(season_routes, "caller", lambda: Reader(found))

    return let


def test_only_players_who_may_be_read_are_listed(client: FlaskClient, readable: Callable[[set[str]], None]) -> None:
    mine, foreign = made(2030), made(2030)
    foreign.round("open", played_on="2026-05-01", kind="competition")
    for season in (mine, foreign):
        stored(client, season)
    readable({mine.player_id})
    for name in tables():
        found = read(client, f"/api/season/2030/{name}.parquet")
        # a table of everybody names no player
        whose = set(found["player_id"]) if "player_id" in found else set()
        assert foreign.player_id not in whose
    assert set(read(client, "/api/season/2030/shots.csv")["player_id"]) == {mine.player_id}
    same = problem(client.get(f"/api/season/2030/shots.csv?player={foreign.player_id}"), 404)["detail"]
    assert same == problem(client.get(f"/api/season/2030/shots.csv?player={NOBODY}"), 404)["detail"].replace(
        NOBODY, foreign.player_id
    )
    tag = client.get("/api/season/2030/shots.csv").headers["ETag"]
    readable({mine.player_id, foreign.player_id})
    problem(client.get("/api/season/2030/shots.csv", headers={"If-None-Match": tag}), 423)
    readable(set())
    problem(client.get("/api/season/2030/shots.csv"), 404)


def test_connections_come_back_whether_or_not_a_table_is_read_to_its_end(app: Flask, client: FlaskClient) -> None:
    """A reader that goes away, a HEAD, a 304 and an error give back what they held."""
    stored(client, made(2040))
    pool = app.extensions["pencilbag_engine"].pool
    before = pool.checkedout()

    def begun(answer: TestResponse) -> None:
        next(iter(answer.response))
        answer.close()

    address = "/api/season/2040/shots.csv"
    tag = client.get(address).headers["ETag"]
    for _ in range(20):
        begun(client.get(address, buffered=False))
        client.get(address, headers={"If-None-Match": tag}, buffered=False).close()
        client.head(address, buffered=False).close()
        client.get("/api/season/1950/shots.csv").close()
    assert pool.checkedout() == before


def test_a_table_comes_in_pieces_and_is_what_its_tag_says_though_rows_arrive(client: FlaskClient) -> None:
    """The file tells one state of the store: a push while it is being read changes nothing in it."""
    season = made(2050)
    stored(client, season)
    address = "/api/season/2050/shots.csv"
    whole = client.get(address).data
    answer = client.get(address, buffered=False)
    pieces = iter(answer.response)
    first = next(pieces)
    assert first == (",".join(tables()["shots"].names) + "\r\n").encode()
    extra = Season(season.changes[0]["body"]["name"])
    extra.shot(season.round("two", played_on="2050-06-01"), 1, 1, "tee", 400, default_clubs(season)["driver"])
    post(client, season.player_id, [season.changes[-4], *extra.changes[1:]])
    assert first + b"".join(pieces) == whole
    answer.close()
    assert client.get(address).data != whole


def test_with_accounts_everybody_gets_the_players_who_share_and_no_others(database_url: str) -> None:
    made_house = house(database_url)
    robin, sam = made_house.robin.player_id, made_house.sam.player_id
    address = "/api/season/2026/shots.parquet"
    for who, told in (("Ash", {robin}), ("Sage", {robin}), ("Robin", {robin}), ("Sam", {sam})):
        client = made_house.client(who)
        assert set(read(client, address)["player_id"]) == told, who
        foreign = ({robin, sam} - told).pop()
        problem(client.get(f"{address}?player={foreign}"), 404)
    for who in ("Hazel", "Olive"):
        problem(made_house.client(who).get(address), 404)
    problem(made_house.client(None).get(address), 401)
    problem(made_house.client(None).get("/api/season/2026/datapackage.json"), 401)
    script = made_house.app.test_client()
    assert script.get(address, headers=made_house.bearer("Sage", "read_squad")).status_code == 200
    problem(script.get(address, headers=made_house.bearer("Robin", "write_own")), 404)
    made_house.engine.dispose()
