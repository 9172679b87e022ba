"""Evidence without a network shows the last answer with its date; under an open competition round it is locked."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.web.begun import begin_round
from tests.web.evidence_pages import (
    answer,
    change_of,
    demo_player,
    hold_back,
    open_view,
    push,
    signed,
    table_rows,
    to_view,
    wait_drawn,
    wait_held,
)
from tests.web.phone import ALL, Phone, Server

pytestmark = pytest.mark.service_worker

MOMENT = "2026-05-12T18:40:00Z"
VIEWS = [
    "overview?by=category",
    "trial?a=4+iron+A&b=4+iron+B",
    "putting",
    "priorities",
    "patterns?club=7+iron",
    "distances",
]


@pytest.fixture
def make_coach(make_phone: Any) -> Any:
    """A device in a known time zone, whose page shows 12 May 2026, 18:40."""

    def make(server: Server) -> Phone:
        coach: Phone = make_phone(server, MOMENT, timezone_id="UTC")
        return coach

    return make


def put_round(server: Server, **body: Any) -> None:
    """Pushes a round of the invented player on the holes of another."""
    player = demo_player(server)
    held = next(change["body"] for change in server.log(player) if change["kind"] == "round")
    new = {"played_on": "2026-11-01", "holes": held["holes"], "bag": held["bag"]} | body
    push(server, [change_of(player, "round", new)])


def without_date(body: str) -> list[str]:
    """The lines of a page but that with the date of its answers."""
    lines = [line for line in body.split("\n") if line]
    kept = [line for line in lines if not line.startswith("as of ")]
    assert len(kept) == len(lines) - 1 > 1
    return kept


def test_offline_the_last_answer_stays_with_its_date(make_coach: Any, demo: Server) -> None:
    coach = make_coach(demo)
    page = open_view(coach, demo, VIEWS[-1])
    coach.wait_for_whole_app()
    before = {}
    for view in VIEWS:
        to_view(page, demo, view)
        expect(page.locator(".as-of"), view).to_have_text("as of 12 May, 18:40")
        before[view] = page.inner_text(".evidence-body")
    coach.go_offline()
    coach.set_time("2027-01-03T09:15:00Z")
    page.reload()
    wait_drawn(page)
    for view in VIEWS:
        to_view(page, demo, view)
        expect(page.locator(".notice.as-of"), view).to_contain_text("as of 12 May 2026, 18:40")
        expect(page.locator(".notice.as-of"), view).to_contain_text("The server cannot be reached")
        after = page.inner_text(".evidence-body")
        assert without_date(after) == without_date(before[view]), f"{view}: everything but the date is the same"
    assert coach.errors == []


def test_a_server_that_is_busy_is_asked_again_by_itself(make_coach: Any, demo: Server) -> None:
    coach = make_coach(demo)
    sent_away: list[str] = []

    def busy_twice(route: Any) -> None:
        if len(sent_away) == 2:
            route.fallback()
            return
        sent_away.append(route.request.url)
        body = '{"type": "about:blank", "title": "Service Unavailable", "status": 503, "detail": "Too many."}'
        kind = {"status": 503, "content_type": "application/problem+json"}
        route.fulfill(**kind, headers={"Retry-After": "1"}, body=body)

    coach.context.route("**/strokes-gained**", busy_twice)
    page = open_view(coach, demo, "overview?by=category")
    expect(page.locator(".as-of")).to_have_text("as of 12 May, 18:40")
    expect(page.locator(".headline .number")).to_be_visible()
    assert len(sent_away) == 2
    coach.context.unroute("**/strokes-gained**")


def test_offline_a_view_never_opened_says_so_and_comes_with_the_network(make_coach: Any, demo: Server) -> None:
    coach = make_coach(demo)
    page = open_view(coach, demo, "overview?by=club")
    coach.wait_for_whole_app()
    coach.go_offline()
    page.click("#by-lie")
    expect(page.locator("#nearest p")).to_contain_text("Not stored on this device: this grouping.")
    assert table_rows(page, "Strokes gained by club")
    to_view(page, demo, "putting")
    expect(page.locator(".failed [role=alert]")).to_contain_text("This view is not stored on this device")
    to_view(page, demo, "overview?by=lie")
    coach.context.set_offline(False)
    page.click("#try-again")
    expect(page.locator("#nearest")).to_have_count(0)
    wait_drawn(page)
    total = answer(demo, "strokes-gained", by="round")["total"]
    expect(page.locator(".headline .number")).to_have_text(signed(total["per_round"]))
    assert len(table_rows(page, "Strokes gained by lie")) >= 4


def test_offline_the_list_of_players_stays_too(make_coach: Any, demo: Server) -> None:
    coach = make_coach(demo)
    page = coach.open("#/evidence")
    page.wait_for_selector(".player-row")
    coach.wait_for_whole_app()
    coach.go_offline()
    page.reload()
    expect(page.locator(".notice")).to_contain_text("as of 12 May, 18:40")
    expect(page.locator(f"#evidence-{demo_player(demo)}")).to_be_visible()


def test_an_open_competition_round_locks_every_view_with_the_reason(make_coach: Any, own_demo: Server) -> None:
    coach = make_coach(own_demo)
    page = open_view(coach, own_demo, VIEWS[0])
    coach.wait_for_whole_app()
    for view in VIEWS[1:]:  # an answer to each is kept, which the lock must cover too
        to_view(page, own_demo, view)
    put_round(own_demo, kind="competition")
    for offline in (False, True):
        coach.context.set_offline(offline)
        page.reload()
        for view in VIEWS:
            to_view(page, own_demo, view, ".locked")
            expect(page.locator(".locked"), view).to_contain_text("rule 4.3a")
            expect(page.locator(".locked"), view).to_contain_text("until this competition round is finished")
            expect(page.locator(".evidence-body svg, .evidence-body table, .verdict"), view).to_have_count(0)


def test_a_closed_competition_round_locks_nothing(make_coach: Any, own_demo: Server) -> None:
    put_round(own_demo, kind="competition", closed=True)
    coach = make_coach(own_demo)
    page = open_view(coach, own_demo, "overview")
    expect(page.locator(".headline .number")).to_have_count(1)


def test_ones_own_open_competition_round_locks_everybodys_evidence(make_coach: Any, demo: Server) -> None:
    phone = make_coach(demo)
    begin_round(phone, "competition")
    phone.page.goto(f"{demo.address}/#/evidence/{demo_player(demo)}/overview")
    expect(phone.page.locator("h1")).to_have_text("Locked until the round is finished")
    expect(phone.page.locator("main svg, main table")).to_have_count(0)


def test_what_is_not_sent_yet_is_reported_as_not_counted(make_coach: Any, demo: Server) -> None:
    phone = make_coach(demo)
    begin_round(phone, shots=1)
    phone.wait_sent()
    view = f"{demo.address}/#/evidence/{phone.player_id()}/overview"
    phone.page.goto(view)
    wait_drawn(phone.page)
    expect(phone.page.locator("#unsent")).to_have_count(0)
    phone.wait_for_whole_app()
    phone.go_offline()
    phone.page.go_back()
    phone.page.wait_for_selector(".shot")
    phone.hit()
    phone.page.goto(view)
    expect(phone.page.locator("#unsent")).to_contain_text("not sent yet, and not counted here")


def cached_answers(page: Page) -> list[str]:
    """The paths whose answers this device keeps."""
    (rows,) = page.evaluate(ALL, ["answers"])
    return [row["path"] for row in rows if row["shelf"] in ("evidence", "plan")]


def test_when_sharing_ends_what_was_kept_is_forgotten(make_coach: Any, demo: Server) -> None:
    coach = make_coach(demo)
    page = open_view(coach, demo, "overview")
    coach.wait_for_whole_app()
    for status in (403, 404):
        shows_and_is_kept(page)
        refuse(page, status)
        page.reload()
        expect(page.locator(".failed [role=alert]"), str(status)).to_contain_text("No such player here.")
        assert cached_answers(page) == [], status
        page.unroute("**/api/players/**")
        coach.go_offline()
        page.reload()
        expect(page.locator(".failed [role=alert]")).to_contain_text("This view is not stored on this device")
        coach.context.set_offline(False)
        page.click("#try-again")


def refuse(page: Page, status: int) -> None:
    """Every question about a player is answered so."""
    problem = f'{{"type": "about:blank", "title": "No", "status": {status}, "detail": "No such player here."}}'
    refusal = {"status": status, "content_type": "application/problem+json", "body": problem}
    page.route("**/api/players/**", lambda route: route.fulfill(**refusal))


def shows_and_is_kept(page: Page) -> None:
    """The overview, with its answer on this device."""
    wait_drawn(page)
    expect(page.locator(".headline .number")).to_have_count(1)
    assert any("strokes-gained" in path for path in cached_answers(page))


def test_without_a_session_the_view_asks_to_sign_in_and_shows_nothing_kept(make_coach: Any, demo: Server) -> None:
    coach = make_coach(demo)
    page = open_view(coach, demo, "overview")
    problem = '{"type": "about:blank", "title": "Unauthorized", "status": 401, "detail": "Sign in first."}'
    refusal = {"status": 401, "content_type": "application/problem+json", "body": problem}
    page.route("**/api/players/**", lambda route: route.fulfill(**refusal))
    page.reload()
    expect(page.locator(".failed [role=alert]")).to_contain_text("Sign in first.")
    expect(page.locator(".evidence-body svg, .evidence-body table")).to_have_count(0)
    page.click(".failed a")
    expect(page.locator("h1")).to_have_text("Sign in")


def test_a_kept_name_goes_when_the_player_may_no_longer_be_read(make_coach: Any, demo: Server) -> None:
    coach = make_coach(demo)
    page = open_view(coach, demo, "overview")
    held = hold_back(page, f"**/api/players/{demo_player(demo)}")
    page.reload()
    expect(page.locator(".as-of")).to_contain_text("Asking the server…")
    expect(page.locator(".evidence-player")).to_contain_text("Wren Quillfeather")
    problem = json.dumps({"type": "about:blank", "title": "Not Found", "status": 404, "detail": "No such player."})
    wait_held(page, held)
    for route in held:
        route.fulfill(status=404, content_type="application/problem+json", body=problem)
    expect(page.locator(".failed [role=alert]")).to_contain_text("No such player.")
    expect(page.locator("main")).not_to_contain_text("Wren Quillfeather")
    expect(page).to_have_title("Overview · Pencilbag")


def test_while_the_server_takes_its_time_the_kept_answer_is_shown_and_then_replaced(
    make_coach: Any, demo: Server
) -> None:
    coach = make_coach(demo)
    page = open_view(coach, demo, "overview")
    held = hold_back(page, "**/strokes-gained**")
    page.reload()
    shown = page.locator(".as-of")
    expect(shown).to_contain_text("Asking the server…")
    expect(page.locator(".headline .number")).to_have_count(1)
    wait_held(page, held, 3)
    assert len(held) == 3
    for route in held:
        route.continue_()
    expect(shown).to_have_text("as of 12 May, 18:40")

    page.unroute("**/strokes-gained**")
    held = hold_back(page, "**/strokes-gained?by=category**")
    page.click("#by-category")  # never asked before: nothing is kept
    expect(page.locator(".evidence-body")).to_have_text("Asking the server…")
    wait_held(page, held)
    for route in held:
        route.continue_()
    expect(page.locator(".headline .number")).to_have_count(1)
    expect(page).to_have_title("Overview, Wren Quillfeather · Pencilbag")
    page.wait_for_function(
        "() => document.activeElement.id === 'by-category'"
    )  # it comes back with the view's next frame
