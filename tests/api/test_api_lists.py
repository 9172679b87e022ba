"""Lists in pages to the end without holes while rows arrive, ETags of every read, problem documents of every error."""

from __future__ import annotations

import re
import threading
import time
import weakref
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from uuid import uuid4

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given, settings
from hypothesis import strategies as st

from server.api.cache import Cache
from server.api.paging import page_of
from tests.api.asked_routes import ROUTES
from tests.api.asking import post, problem, stored
from tests.records.made import Season, body_of, change, default_clubs, named, par_four
from tests.tiers import count

MOST_PAGES = 200


def next_page(answer: Any) -> str | None:
    """The address of the next page, or None on the last."""
    link = answer.headers.get("Link")
    if link is None:
        return None
    found = re.fullmatch(r'<(/[^<>]+)>; rel="next"', link)
    assert found, link
    return found[1]


def walked(client: FlaskClient, path: str, name: str, between: Any) -> list[Any]:
    """All rows page by page; `between` is called between two pages."""
    rows: list[Any] = []
    at: str | None = path
    for _ in range(MOST_PAGES):
        answer = client.get(at)
        assert answer.status_code == 200, answer.text
        page = answer.get_json()[name]
        assert len(page) <= 3
        rows += page
        at = next_page(answer)
        if at is None:
            return rows
        between()
    raise AssertionError("the pages do not end")


def test_rounds_come_in_pages_while_rounds_arrive(client: FlaskClient) -> None:
    made = Season(f"Pages {uuid4()}")
    # days by threes, so that pages end within a day as well
    there = [made.round(f"round {number}", played_on=f"2026-05-{1 + number // 3:02}") for number in range(20)]
    address = stored(client, made)
    count = iter(range(1000))

    def arrives() -> None:
        number = next(count)
        days = ("2025-01-01", "2026-05-03", "2026-12-31")
        late = [change("round", body_of("round", played_on=day)) for day in days]
        assert len(post(client, made.player_id, late).get_json()["acknowledged"]) == 3, number

    rows = walked(client, f"{address}/rounds?limit=3", "rounds", arrives)
    ids = [row["round_id"] for row in rows]
    assert len(ids) == len(set(ids)), "none twice"
    assert set(there) <= set(ids), "none left out"
    assert [row["played_on"] for row in rows] == sorted((row["played_on"] for row in rows), reverse=True)
    whole = client.get(f"{address}/rounds")
    assert next_page(whole) is None
    assert len(whole.get_json()["rounds"]) == 20 + 3 * next(count)


def test_a_round_that_was_deleted_where_a_page_ended_leaves_no_hole(client: FlaskClient) -> None:
    made = Season(f"Pages {uuid4()}")
    there = [made.round(f"round {number}", played_on=f"2026-05-{1 + number:02}") for number in range(9)]
    address = stored(client, made)
    first = client.get(f"{address}/rounds?limit=3")
    last = first.get_json()["rounds"][-1]["round_id"]
    parent = next(raw["change_id"] for raw in made.changes if raw["record_id"] == last)
    post(client, made.player_id, [change("round", None, last, parents=[parent])])
    rest = walked(client, str(next_page(first)), "rounds", lambda: None)
    assert [row["round_id"] for row in rest] == there[:6][::-1]


@pytest.mark.parametrize(("path", "name"), [("/api/players", "players"), ("/api/squad", "players")])
def test_players_come_in_pages_while_players_arrive(client: FlaskClient, path: str, name: str) -> None:
    mark = uuid4()
    # two of one name, and the longest names, of letters that take one byte to four
    longest = [letter * 80 for letter in ("m", "Ö", "山", "\U0001d49c")]
    names = ["Ö twins", "Ö twins", "a", "Z", *longest, *(f"{letter} {mark}" for letter in "bcdefg")]
    there = []
    for number, words in enumerate(names):
        player_id = named(f"{mark} {number}")
        pushed = post(client, player_id, [change("player", body_of("player", name=words), player_id)]).get_json()
        assert pushed["quarantined"] == [], words
        there.append(player_id)
    count = iter(range(1000))

    def arrives() -> None:
        player_id = named(f"late {mark} {next(count)}")
        words = ("A late one", "m late", "z late")[next(count) % 3]
        post(client, player_id, [change("player", body_of("player", name=words), player_id)])

    rows = walked(client, f"{path}?limit=3", name, arrives)
    ids = [row["player_id"] for row in rows]
    assert len(ids) == len(set(ids))
    assert set(there) <= set(ids)


def test_changes_come_in_pages_while_changes_arrive(client: FlaskClient) -> None:
    made = Season(f"Pages {uuid4()}")
    clubs = default_clubs(made)
    par_four(made, made.round("one"), clubs)
    address = stored(client, made)
    late: list[str] = []

    def arrives() -> None:
        if len(late) < 12:
            sent = change("club", body_of("club", label=f"late {len(late)}"))
            late.append(sent["change_id"])
            post(client, made.player_id, [sent])

    rows = walked(client, f"{address}/changes?limit=3", "changes", arrives)
    ids = [row["change_id"] for row in rows]
    assert ids == [*(raw["change_id"] for raw in made.changes), *late]


@pytest.mark.parametrize("after", ["x", "////", "WyJhIiwxXQ", "bnVsbA", "W10", "%00", "é"])
@pytest.mark.parametrize("path", ["/api/players", "/api/squad", "rounds"])
def test_a_cursor_that_is_none_is_named(client: FlaskClient, path: str, after: str) -> None:
    made = Season("Cursor")
    address = stored(client, made)
    asked = path if path.startswith("/") else f"{address}/{path}"
    found = problem(client.get(asked, query_string={"limit": 1, "after": after}), 422)
    assert [fault["field"] for fault in found["errors"]] == ["after"]


@pytest.mark.parametrize("limit", ["0", "501", "-1", "many", "1.5"])
def test_a_limit_out_of_range_is_named(client: FlaskClient, limit: str) -> None:
    found = problem(client.get(f"/api/players?limit={limit}"), 422)
    assert [fault["field"] for fault in found["errors"]] == ["limit"]


@settings(max_examples=count(8, 60), deadline=None)
@given(
    rows=st.sets(st.tuples(st.text(max_size=3), st.text(max_size=2)), max_size=25),
    limit=st.integers(1, 7),
    falling=st.booleans(),
)
def test_pages_are_the_complete_list_in_its_order(
    app: Flask, rows: set[tuple[str, str]], limit: int, falling: bool
) -> None:
    whole = sorted(rows, key=lambda row: row[1:])
    whole.sort(key=lambda row: row[0], reverse=falling)
    got: list[tuple[str, str]] = []
    query: dict[str, Any] = {"limit": limit}
    for _ in range(30):
        with app.test_request_context("/list?limit=1"):
            page, headers = page_of(list(rows), query, lambda row: row, falling=falling)
        got += page
        if "Link" not in headers:
            break
        query["after"] = re.search(r"after=([^>]*)>", headers["Link"])[1]  # type: ignore[index]
    assert got == whole


READS = sorted(path for (_, method), asked in ROUTES.items() if method == "GET" and "{player}" in (path := asked.path))
TIMED = ("changes", "everything")
"""Answers that tell the time at which they were made."""
NOT_HERE = ("course_id=", "invitations", "pair?")
"""What this player has no course for, what a house without accounts refuses, and what takes another player."""
STILL = [path for path in READS if not any(word in path for word in TIMED + NOT_HERE)]


@pytest.mark.parametrize("path", STILL)
def test_every_read_of_a_player_answers_304_while_nothing_changes(client: FlaskClient, path: str) -> None:
    made = Season(f"Tags {uuid4()}")
    clubs = default_clubs(made)
    for day in ("2026-05-01", "2026-05-02"):
        par_four(made, made.round(day, played_on=day), clubs)
    session_id = made.put("session", "range", {"date": "2026-05-03", "place": "range"})
    stored(client, made)
    round_id = next(raw["record_id"] for raw in made.changes if raw["kind"] == "round")
    asked = path.format(player=made.player_id, id=session_id if "/practice/" in path else round_id)
    first = client.get(asked)
    assert first.status_code == 200, first.text
    tag = first.headers["ETag"]
    again = client.get(asked, headers={"If-None-Match": tag})
    assert (again.status_code, again.data) == (304, b""), asked
    other = client.get(asked, headers={"If-None-Match": '"another"'})
    assert (other.status_code, other.data) == (200, first.data)


@pytest.mark.parametrize("path", READS)
def test_every_read_names_what_it_does_not_know(client: FlaskClient, path: str) -> None:
    nobody = path.format(player=named("nobody at all"), id=named("nothing"))
    problem(client.get(nobody), 404)
    bad = path.format(player="no-id", id="no-id")
    answer = client.get(bad)
    assert answer.status_code in (404, 422)
    problem(answer, answer.status_code)
    problem(client.delete(nobody), 405)


def test_what_is_kept_is_bounded_and_ages() -> None:
    now = [0.0]
    kept = Cache(2, 300, lambda: now[0])
    kept.put("a", 1)
    kept.put("b", 2)
    assert kept.get("a") == 1
    kept.put("c", 3)
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == (1, None, 3), "the one that was not used goes"
    now[0] = 300.5
    assert kept.get("a") is None
    kept.put("a", 4)
    assert kept.get("a") == 4
    kept.clear()
    assert kept.get("a") is None


def test_what_is_kept_is_bounded_by_weight() -> None:
    kept = Cache(9, weigh=len, heaviest=10)
    kept.put("a", "four")
    kept.put("b", "four")
    kept.put("c", "three")
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == (None, "four", "three")
    kept.put("d", "eleven there")
    assert (kept.get("c"), kept.get("d")) == ("three", None), "what is too heavy by itself drives nothing out"
    assert kept.get_or_make("d", lambda: "eleven there") == "eleven there", "made all the same"


def test_what_is_too_old_is_let_go_though_nobody_asks_for_it() -> None:
    class Season:
        """Something that can be watched."""

    now, season = [0.0], Season()
    kept, watched = Cache(4, 300, lambda: now[0]), weakref.ref(season)
    kept.put("old", season)
    del season
    assert watched() is not None
    now[0] = 300.5
    kept.put("new", 1)
    assert watched() is None


def test_what_several_want_at_once_is_made_once() -> None:
    kept, made, waiting = Cache(4), [], threading.Barrier(6)

    def make() -> str:
        time.sleep(0.05)
        made.append(1)
        return "made"

    def want(_: int) -> Any:
        waiting.wait(timeout=20)
        return kept.get_or_make("key", make)

    with ThreadPoolExecutor(6) as pool:
        assert list(pool.map(want, range(6))) == ["made"] * 6
    assert len(made) == 1


def test_what_could_not_be_made_is_tried_again() -> None:
    kept, tries = Cache(4), []

    def make() -> str:
        tries.append(1)
        if len(tries) == 1:
            raise LookupError
        return "made"

    with pytest.raises(LookupError):
        kept.get_or_make("key", make)
    assert kept.get_or_make("key", make) == kept.get("key") == "made"
