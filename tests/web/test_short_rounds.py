"""Rounds under nine holes on the screens: in no figure, trend or list by the round, and counted beside them."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from tests.api.test_one_number_of_rounds import ROUNDS, SHORT, season
from tests.web.evidence_pages import open_anew
from tests.web.phone import Phone, Server

COUNT = f"{ROUNDS} rounds and {SHORT} too short to count"
WHY = "Too short to count: fewer than 9 holes with a value."


@pytest.fixture(scope="module")
def player(live_server: Server) -> str:
    made = season(SHORT)
    push = {"device_id": "another", "now": "2026-07-01T09:30:00.000Z", "changes": made.changes}
    live_server.post(f"/api/players/{made.player_id}/changes", push)
    return made.player_id


@pytest.fixture
def coach(make_phone: Any) -> Phone:
    """A device that holds no player of its own."""
    phone: Phone = make_phone()
    return phone


@pytest.mark.parametrize("view", ["overview", "report", "compare?from=2026-05-01&beside_from=2026-05-01", "priorities"])
def test_every_view_counts_the_same_rounds_and_says_why(coach: Phone, player: str, view: str) -> None:
    coach.open("#/evidence")
    open_anew(coach, player, view)
    body = coach.page.locator(".evidence-body")
    expect(body).to_contain_text(COUNT)
    expect(body).to_contain_text(WHY)


def test_the_list_of_players_counts_the_same_rounds(coach: Phone, player: str) -> None:
    page = coach.open("#/evidence")
    row = page.locator(".player-row", has=page.locator(f"#evidence-{player}"))
    expect(row).to_contain_text(COUNT)
    expect(row).to_contain_text(f"a round over the last {ROUNDS}")


def test_the_trend_and_the_lists_have_the_rounds_that_count_alone(coach: Phone, player: str) -> None:
    coach.open("#/evidence")
    open_anew(coach, player, "overview")
    rows = coach.page.locator("table", has=coach.page.locator("caption", has_text="Strokes gained by round"))
    expect(rows.locator("tbody tr")).to_have_count(ROUNDS)
    open_anew(coach, player, "report")
    expect(coach.page.locator(".report-rounds tbody tr")).to_have_count(ROUNDS)


def test_days_of_short_rounds_alone_have_no_trend(coach: Phone, player: str) -> None:
    coach.open("#/evidence")
    open_anew(coach, player, "overview?from=2026-06-01")
    body = coach.page.locator(".evidence-body")
    expect(body).to_contain_text("Not enough rounds yet: strokes gained a round needs two of nine holes or more.")
    expect(body).to_contain_text(f"0 rounds and {SHORT} too short to count")
    expect(body).to_contain_text("No round to show.")


@pytest.mark.parametrize("view", ["overview", "report", "putting", "priorities", "patterns", "distances"])
def test_days_without_a_shot_say_so(coach: Phone, player: str, view: str) -> None:
    coach.open("#/evidence")
    open_anew(coach, player, f"{view}?from=2031-01-01&to=2031-02-01")
    words: Any = "There is no shot in the rounds asked for, from 2031-01-01 to 2031-02-01."
    expect(coach.page.locator("#empty-span")).to_have_text(words)
